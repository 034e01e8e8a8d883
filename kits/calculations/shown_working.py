"""A proposal's working as labelled figures, whatever it holds: what a newer run adds is shown by its own name."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

GROUPS = {
    "demand": "Demand",
    "installed": "Installed pumps, until an order is here",
    "lead_time": "From order to shelf",
    "job_sizes": "Past jobs by the pieces they took at once",
    "target": "Service",
    "position": "Position",
    "order_quantity": "Order quantity",
    "chance_short": "Chance that more is needed than there is, before an order is here",
    "consolidation": "Ordered together",
    "source": "Where from",
}
# In the order in which they are read; what is not named here comes after, by its own name.
LABELS = {
    "reorder_point": "reorder point",
    "lowest_reorder_point": "lowest that reaches the target today",
    "kept_reorder_point": "as it was kept so far",
    "method": "method of forecast",
    "pattern": "pattern",
    "mean_a_month": "a month, mean",
    "variance_a_month": "a month, variance",
    "variance_of_mean": "variance of that mean",
    "variance_to_mean_of_all": "variance to mean, of all kits or parts",
    "squared_errors": "squared error in past months",
    "days": "days, mean",
    "sd_days": "days, standard deviation",
    "agreed_days": "days, as the terms say",
    "receipts": "receipts heard",
    "from": "days are",
    "review_days": "days between two looks",
    "demand_mean": "needed meanwhile, mean",
    "demand_variance": "needed meanwhile, variance",
    "distribution": "distribution",
    "measure": "measure (fill: of needs; cycle: of times to restock)",
    "fill_rate": "share to reach",
    "reached": "share that the reorder point meets",
    "band": "a kept level holds within this share either way",
    "weight_of_history": "weight of history",
    "history_mean": "mean by history",
    "walk_in_mean_a_month": "a month without a job, mean",
    "walk_in_variance_a_month": "a month without a job, variance",
    "as_it_is": "as it is",
    "with_it": "with what is proposed",
    "verdict": "verdict",
    "needed": "needed",
    "joined": "joins because it is nearly due",
    "topped_up": "added to reach the minimum order",
    "order_value": "worth of the order",
    "minimum_order_value": "minimum order",
    "keeps_years": "keeps from cure, years",
    "kind": "kind",
    "lender": "lender",
    "free_there": "free there",
    "reorder_point_there": "reorder point there",
    "usable": "usable on the shelf",
    "dying": "of it out of date before it is used",
    "on_order": "on order",
    "held_for_jobs": "reserved for jobs",
    "claimed": "asked for by jobs",
    "total": "in all",
    "economic": "economic order quantity",
    "usual": "usual order",
    "minimum": "supplier's minimum",
    "multiple": "in steps of",
    "price": "price of one",
    "order_cost": "cost of ordering once",
    "holding_rate": "cost of keeping for a year, share of the price",
    "capped_by_shelf_life": "cut to what is used before it ages",
    "minimum_exceeds_cap": "minimum is more than is used before it ages",
}
# Shown as a picture, or told elsewhere on the page.
ELSEWHERE = {"months", "planned_months", "first_month", "as_of", "quantity", "warnings", "words", "sites"}
Group = tuple[str, list[tuple[str, str]]]


def shown_working(working: Mapping[str, Any]) -> list[Group]:
    """Groups of (label, figure): what stands in no group, then those named here, then others by name.

    The database keeps no order of keys, so it is made here.
    """
    loose = {key: value for key, value in working.items() if not isinstance(value, Mapping)}
    inside = {key: value for key, value in working.items() if isinstance(value, Mapping)}
    groups: list[Group] = [
        ("Result", _rows(loose)),
        *((_heading(key), _rows(inside[key])) for key in _sorted(inside, GROUPS)),
    ]
    return [one for one in groups if one[1]]


def _heading(key: str) -> str:
    return GROUPS.get(key, _plain(key).capitalize())


def _rows(figures: Mapping[str, Any]) -> list[tuple[str, str]]:
    return [one for key in _sorted(figures, LABELS) for one in _shown(key, figures[key])]


def _sorted(keys: Iterable[str], known: Iterable[str]) -> list[str]:
    places = {name: place for place, name in enumerate(known)}
    return sorted(keys, key=lambda one: (places.get(one, len(places)), one.rjust(4, "0") if one.isdecimal() else one))


def _shown(key: str, value: Any) -> list[tuple[str, str]]:
    if key in ELSEWHERE or value is None or value == "" or value == [] or value == {}:
        return []
    label = LABELS.get(key, _plain(key))
    if isinstance(value, Mapping):
        return [
            (f"{label}: {_plain(str(name))}", _figure(one)) for name, one in sorted(value.items()) if one is not None
        ]
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [(label, "; ".join(_figure(one) for one in value))]
    return [(label, _figure(value))]


def _figure(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping):
        return ", ".join(f"{_plain(str(name))} {_figure(one)}" for name, one in value.items())
    if isinstance(value, Sequence) and not isinstance(value, str):
        return ", ".join(_figure(one) for one in value)
    text = str(value)
    # Estimates carry six places; four digits are enough to follow them.
    if "." in text and text.replace(".", "", 1).lstrip("-").isdecimal():
        return f"{float(text):.4g}" if abs(float(text)) < 1000 else f"{float(text):.1f}"
    return text


def _plain(name: str) -> str:
    return name.replace("_", " ").replace("-", " ")
