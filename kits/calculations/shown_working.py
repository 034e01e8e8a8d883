"""A proposal's working as labelled figures, whatever it holds: what a newer run adds is shown by its own name."""

from collections.abc import Mapping, Sequence
from typing import Any

GROUPS = {
    "demand": "Demand",
    "lead_time": "From order to shelf",
    "target": "Service",
    "position": "Position",
    "order_quantity": "Order quantity",
    "source": "Where from",
}
LABELS = {
    "usable": "usable on the shelf",
    "dying": "of it out of date before it is used",
    "on_order": "on order",
    "held_for_jobs": "reserved for jobs",
    "claimed": "asked for by jobs",
    "total": "position",
    "days": "days, mean",
    "sd_days": "days, standard deviation",
    "review_days": "days between two looks",
    "demand_mean": "needed meanwhile, mean",
    "demand_variance": "needed meanwhile, variance",
    "fill_rate": "share of needs to meet from the shelf",
    "reached": "share that the reorder point meets",
    "economic": "economic order quantity",
    "usual": "usual order",
    "minimum": "supplier's minimum",
    "multiple": "in steps of",
    "price": "price of one",
    "holding_rate": "cost of keeping for a year, share of the price",
    "order_cost": "cost of ordering once",
    "mean_a_month": "a month, mean",
    "variance_a_month": "a month, variance",
    "variance_of_mean": "variance of that mean",
}
# Shown as a picture, or told elsewhere on the page.
ELSEWHERE = {"months", "first_month", "as_of", "quantity"}
Group = tuple[str, list[tuple[str, str]]]


def shown_working(working: Mapping[str, Any]) -> list[Group]:
    """Groups of (label, figure), in the order of the working; first what stands in no group."""
    loose = [one for key, value in working.items() if not isinstance(value, Mapping) for one in _shown(key, value)]
    groups: list[Group] = [("Decided", loose)] if loose else []
    for key, value in working.items():
        if isinstance(value, Mapping):
            rows = [one for name, figure in value.items() for one in _shown(name, figure)]
            if rows:
                groups.append((GROUPS.get(key, _plain(key).capitalize()), rows))
    return groups


def _shown(key: str, value: Any) -> list[tuple[str, str]]:
    if key in ELSEWHERE or value is None or value == "" or value == [] or value == {}:
        return []
    label = LABELS.get(key, _plain(key))
    if isinstance(value, Mapping):
        return [(f"{label}: {_plain(str(name))}", _figure(one)) for name, one in value.items() if one is not None]
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
