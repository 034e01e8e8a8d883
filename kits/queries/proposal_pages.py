"""What the pages of proposals show: a site's proposals by supplier, and one with its working."""

import datetime
import uuid
from decimal import Decimal
from typing import Any

from django.db.models import F

from kits.calculations.approval import needs_a_person
from kits.calculations.demand_chart import monthly_chart, pattern_picture
from kits.calculations.shown_working import shown_working
from kits.queries.order_conditions import OrderConditions, order_conditions
from kits.queries.other_sites import hide_other_sites
from kits.queries.proposals import proposal_for, proposals
from services.api.rows import plain_rows
from services.identity.callers import Caller

ZERO = Decimal(0)
# What was approved automatically in the last so many days is listed.
LISTED_DAYS = 7


def _rows(by: Caller, found: Any) -> list[dict[str, Any]]:
    rows = plain_rows(
        found.values(
            "id", "version", "site_id", "supplier_id", "kind", "quantity", "price", "currency", "expected_on", "state",
            "words", "working", "as_of", "decided_at", "decision_reason", "holds_until", "automatic", "warnings",
            "need_by", "firm_shortage", "lender_id",
            number=F("item__number"), revision=F("item__revision"), name=F("item__name"), unit=F("item__unit"),
            supplier_name=F("supplier__name"), site_code=F("site__code"), site_name=F("site__name"),
            decided=F("decided_by__name"), order_number=F("order_line__order__number"),
            lender_name=F("lender__name"), transfer_number=F("transfer__number"), edited=F("edited_by__name"),
        )
    )  # fmt: skip
    hide_other_sites(by, rows)
    return rows


def proposals_by_supplier(by: Caller, site_id: uuid.UUID, *, on: datetime.date) -> dict[str, Any]:
    """Open proposals by supplier and currency with what the order would be worth, snoozed ones, and what was approved
    automatically lately. Six queries at most."""
    found: Any = proposals(by=by).filter(site_id=site_id)
    undecided = _rows(by, found.filter(state__in=["open", "snoozed"]).order_by("supplier__name", "item__number", "id"))
    waiting = [one for one in undecided if one["state"] == "open" or one["holds_until"] <= on]
    suppliers = {one["supplier_id"] for one in waiting if one["supplier_id"] and not one["lender_id"]}
    conditions = order_conditions(site_id, suppliers, as_of=on)
    groups: dict[tuple[Any, str], list[dict[str, Any]]] = {}
    for one in waiting:
        one["value"] = one["quantity"] * one["price"]
        one["first_words"] = one["words"].splitlines()[0] if one["words"] else ""
        one["warnings"] = [text.replace("-", " ") for text in needs_a_person(one["working"])]
        groups.setdefault((one["lender_id"] or one["supplier_id"], one["currency"]), []).append(one)
    since = datetime.datetime.combine(on, datetime.time(), datetime.UTC) - datetime.timedelta(days=LISTED_DAYS)
    return {
        "groups": [_group(rows, conditions.get(supplier), currency) for (supplier, currency), rows in groups.items()],
        "snoozed": [one for one in undecided if one not in waiting],
        "automatic": _rows(by, found.filter(automatic=True, decided_at__gte=since).order_by("-decided_at", "id")),
        "listed_days": LISTED_DAYS,
    }


def _group(rows: list[dict[str, Any]], conditions: OrderConditions | None, currency: str) -> dict[str, Any]:
    proposed = sum((one["value"] for one in rows), ZERO)
    unsent = conditions.unsent.get(currency, ZERO) if conditions else ZERO
    minimum = conditions.minimum_in(currency) if conditions else ZERO
    together = proposed + unsent
    return {
        "name": conditions.name if conditions else _of_lender(rows[0]),
        "borrowed": bool(rows[0]["lender_id"]),
        "currency": currency,
        "rows": rows,
        "proposed": proposed,
        "unsent": unsent,
        "together": together,
        "minimum": minimum,
        "missing": max(minimum - together, ZERO),
    }


def _of_lender(row: dict[str, Any]) -> str:
    return f"Borrowed from {row['lender_name']}" if row["lender_id"] else "No supplier"


def proposal_page(by: Caller, proposal_id: uuid.UUID, *, on: datetime.date) -> dict[str, Any]:
    """One proposal with its sentences, figures, pictures and what its order would be worth. Raises `NotThere`."""
    kept = proposal_for(by, proposal_id)
    (found,) = _rows(by, proposals(by=by).filter(pk=kept.pk))
    working = found.pop("working")
    demand = working.get("demand") or {}
    amounts = [Decimal(str(one)) for one in demand.get("months") or []]
    conditions = (
        order_conditions(kept.site_id, [kept.supplier_id], as_of=on).get(kept.supplier_id)
        if kept.supplier_id and not kept.lender_id
        else None
    )
    first = demand.get("first_month")
    mean = demand.get("mean_a_month")
    chart = (
        monthly_chart(datetime.date.fromisoformat(first), amounts, mean=None if mean is None else float(mean))
        if first
        else None
    )
    found["value"] = found["quantity"] * found["price"]
    found["sentences"] = found["words"].splitlines()
    found["undecided"] = found["state"] in {"open", "snoozed"}
    return {
        "proposal": found,
        "groups": shown_working(working),
        "chart": chart,
        "picture": pattern_picture(amounts),
        "pattern": demand.get("pattern", ""),
        "mean": mean,
        "order": _group([found], conditions, found["currency"]),
        "warnings": [one["words"] for one in found["warnings"]]
        or [f"{code.replace('-', ' ').capitalize()}." for code in needs_a_person(working)],
    }
