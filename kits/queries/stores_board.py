"""What a stores manager sees of one site at a glance: kits short or expiring, what to decide, what is to come."""

import datetime
import uuid
from decimal import Decimal
from typing import Any

from django.db.models import Case, DecimalField, F, Min, Q, Sum, When
from django.db.models.functions import Coalesce

from kits.models import Balance, Item, Order, Reservation
from kits.queries.availability import COMING, in_date
from kits.queries.orders import coming, lines_of
from kits.queries.proposals import waiting
from services.api.rows import plain_rows
from services.identity.callers import Caller

EXPIRING_DAYS = 90
ZERO = Decimal(0)
FIGURES = ("on_hand", "free", "reserved", "expired", "quarantined")


def kit_stock(site_id: uuid.UUID, *, on: datetime.date) -> list[dict[str, Any]]:
    """Every kit that lies, is claimed or is on order at the site, what wants attention first. Four queries.

    A kit is short where claims without lots ask for more than is free in date on the first day of need.
    """
    rows = {one["item_id"]: one for one in _on_shelves(site_id, on)}
    claims = _soft_claims(site_id)
    orders = coming(site_id)
    for item_id in (set(claims) | set(orders)) - set(rows):
        rows[item_id] = {"item_id": item_id, "next_expiry": None, **dict.fromkeys(FIGURES, ZERO)}
    names = _names(set(rows))
    found = []
    for item_id, row in rows.items():
        if item_id not in names:
            continue
        claim = claims.get(item_id, {"quantity": ZERO, "first_need": None, "jobs": []})
        row |= names[item_id] | {"on_order": orders.get(item_id, ZERO), "claimed": claim["quantity"]}
        row["first_need"], row["jobs"] = claim["first_need"], claim["jobs"]
        row["lacking"] = max(claim["quantity"] - row["free"], ZERO)
        row["is_short"] = row["lacking"] > 0
        row["is_expiring"] = row["expired"] > 0 or (
            row["next_expiry"] is not None and row["next_expiry"] <= on + datetime.timedelta(days=EXPIRING_DAYS)
        )
        found.append(row)
    return sorted(found, key=lambda one: (not one["is_short"], not one["is_expiring"], one["number"], one["revision"]))


def _sum_where(condition: Q, value: Any) -> Any:
    figure: DecimalField[Any, Any] = DecimalField(max_digits=14, decimal_places=3)
    return Coalesce(Sum(Case(When(condition, then=value), output_field=figure)), ZERO, output_field=figure)


def _on_shelves(site_id: uuid.UUID, on: datetime.date) -> list[dict[str, Any]]:
    usable, good = Q(condition="usable"), in_date(on)
    return plain_rows(
        Balance.objects.filter(site_id=site_id, item__kind="kit", on_hand__gt=0)
        .values("item_id")
        .annotate(
            free=_sum_where(usable & good, F("on_hand") - F("reserved")),
            taken=_sum_where(usable, F("reserved")),
            expired=_sum_where(usable & ~good, F("on_hand")),
            quarantined=_sum_where(Q(condition="quarantined"), F("on_hand")),
            next_expiry=Min("lot__expires_on", filter=usable & Q(lot__expires_on__gte=on)),
            total=Sum("on_hand"),
        )
        .values(
            "item_id", "free", "expired", "quarantined", "next_expiry", reserved=F("taken"), on_hand=F("total")
        )
    )  # fmt: skip


def _soft_claims(site_id: uuid.UUID) -> dict[uuid.UUID, dict[str, Any]]:
    found: dict[uuid.UUID, dict[str, Any]] = {}
    for item_id, quantity, need_date, job in (
        Reservation.objects.filter(site_id=site_id, state="soft", item__kind="kit")
        .order_by("need_date", "id")
        .values_list("item_id", "quantity", "need_date", "job_number")
    ):
        claim = found.setdefault(item_id, {"quantity": ZERO, "first_need": need_date, "jobs": []})
        claim["quantity"] += quantity
        claim["jobs"].append(job)
    return found


def _names(item_ids: set[uuid.UUID]) -> dict[uuid.UUID, dict[str, Any]]:
    return {
        one["id"]: {"number": one["number"], "revision": one["revision"], "name": one["name"]}
        for one in Item.objects.filter(pk__in=item_ids, kind="kit").values("id", "number", "revision", "name")
    }


def proposals_to_decide(by: Caller, site_id: uuid.UUID, *, on: datetime.date) -> list[dict[str, Any]]:
    """Open proposals of the site with their working, the oldest first. One query."""
    return plain_rows(
        waiting(by=by, on=on)
        .filter(site_id=site_id)
        .order_by("as_of", "id")
        .values(
            "id", "version", "quantity", "price", "currency", "expected_on", "words", "as_of",
            number=F("item__number"), revision=F("item__revision"), name=F("item__name"),
            unit=F("item__unit"), supplier_name=F("supplier__name"), lender_name=F("lender__name"),
        )
    )  # fmt: skip


def proposals_waiting(by: Caller, *, on: datetime.date) -> dict[uuid.UUID, int]:
    """How many proposals wait at each granted site. One query."""
    counted: dict[uuid.UUID, int] = {}
    for site_id in waiting(by=by, on=on).values_list("site_id", flat=True):
        counted[site_id] = counted.get(site_id, 0) + 1
    return counted


def orders_to_come(site_id: uuid.UUID) -> list[dict[str, Any]]:
    """Orders of the site that are not complete, with the lines still open; the first expected first. Two queries."""
    orders = plain_rows(
        Order.objects.filter(site_id=site_id, state__in=COMING)
        .order_by("id")
        .values("id", "version", "number", "state", supplier_name=F("supplier__name"))
    )
    lines = lines_of([one["id"] for one in orders])
    for one in orders:
        one["lines"] = [
            {
                **line,
                "rest": line["quantity"] - line["received"],
                "due_on": line["promised_on"] or line["expected_on"],
            }
            for line in lines.get(one["id"], [])
            if line["quantity"] > line["received"]
        ]
        one["expected_on"] = min((line["due_on"] for line in one["lines"]), default=datetime.date.max)
    return sorted((one for one in orders if one["lines"]), key=lambda one: (one["expected_on"], one["number"]))
