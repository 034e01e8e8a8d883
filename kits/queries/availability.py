"""What can be had of an item: at a site, elsewhere, and when more comes."""

import datetime
import uuid
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.db.models import DecimalField, F, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from assets.access import sites_with
from kits.models import Balance, OrderLine, TransferLine
from kits.queries.transfers import promised_away
from services.api.rows import plain_rows
from services.identity.callers import Caller

ZERO = Decimal(0)
COMING = ("approved", "sent", "part-received")


def in_date(on: datetime.date, path: str = "lot__") -> Q:
    """Lots that may still be fitted on a day."""
    return Q(**{f"{path}expires_on__isnull": True}) | Q(**{f"{path}expires_on__gte": on})


def stocked(site_id: uuid.UUID, item_id: uuid.UUID) -> QuerySet[Balance]:
    """Usable balances of an item at a site that hold anything."""
    return Balance.objects.filter(site_id=site_id, item_id=item_id, condition="usable", on_hand__gt=0)


def free_by_site(item_ids: Iterable[uuid.UUID], on: datetime.date) -> list[dict[str, Any]]:
    """Free quantity in date on a day, less what was promised to other sites, by item and site. One query; not narrowed,
    callers decide what may be shown."""
    figure: DecimalField[Decimal, Decimal] = DecimalField(max_digits=14, decimal_places=3)
    promised = (
        TransferLine.objects.filter(
            transfer__from_site_id=OuterRef("site_id"), item_id=OuterRef("item_id"), transfer__state="approved"
        )
        .order_by()
        .values("item_id")
        .values(total=Sum("quantity"))
    )
    rows = plain_rows(
        Balance.objects.filter(in_date(on), item_id__in=list(item_ids), condition="usable", on_hand__gt=F("reserved"))
        .order_by("item_id", "site__code")
        .values("item_id", "site_id", "site__code", "site__name")
        .annotate(
            free=Sum(F("on_hand") - F("reserved")),
            promised=Coalesce(Subquery(promised, output_field=figure), ZERO, output_field=figure),
        )
    )
    return [{**one, "free": left} for one in rows if (left := one["free"] - one.pop("promised")) > 0]


def alternatives(by: Caller, *, item_id: uuid.UUID, site_id: uuid.UUID, on: datetime.date) -> list[dict[str, Any]]:
    """Free quantity at other sites, as far as the caller may know of it.

    Sites granted to the caller, and all sites for one who sees availability; of the rest only that there is some.
    """
    granted = sites_with(by)
    shown, hidden = [], False
    for one in free_by_site([item_id], on):
        if one["site_id"] == site_id:
            continue
        if by.sees_availability or granted is None or one["site_id"] in granted:
            shown.append({"site": one["site__code"], "site_name": one["site__name"], "free": str(one["free"])})
        else:
            hidden = True
    return [*shown, {"available_elsewhere": "ask stores"}] if hidden else shown


def next_receipt(*, item_id: uuid.UUID, site_id: uuid.UUID) -> dict[str, Any] | None:
    """The next open order line for the item at the site."""
    line = (
        OrderLine.objects.filter(
            item_id=item_id, order__site_id=site_id, order__state__in=COMING, received__lt=F("quantity")
        )
        .annotate(due_on=Coalesce("promised_on", "expected_on"))
        .order_by("due_on", "id")
        .values("order__number", "due_on", "quantity", "received")
        .first()
    )
    if line is None:
        return None
    return {
        "order": line["order__number"],
        "expected_on": line["due_on"].isoformat(),
        "quantity": str(line["quantity"] - line["received"]),
    }


def availability(by: Caller, *, item_ids: Iterable[uuid.UUID], on: datetime.date) -> list[dict[str, Any]]:
    """Free quantity in date by item and site for a caller: everything with the scope, else the sites granted."""
    granted = sites_with(by)
    return [
        {
            "item": one["item_id"],
            "site": one["site_id"],
            "site_code": one["site__code"],
            "site_name": one["site__name"],
            "free": one["free"],
        }
        for one in free_by_site(item_ids, on)
        if by.sees_availability or granted is None or one["site_id"] in granted
    ]


def free_at(site_id: uuid.UUID, item_ids: Iterable[uuid.UUID], on: datetime.date) -> dict[uuid.UUID, Decimal]:
    """Free quantity in date at one site by item, less what was promised to other sites. Two queries."""
    wanted = list(item_ids)
    promised = promised_away(site_id, wanted)
    rows = (
        Balance.objects.filter(
            in_date(on), site_id=site_id, item_id__in=wanted, condition="usable", on_hand__gt=F("reserved")
        )
        .values_list("item_id")
        .annotate(free=Sum(F("on_hand") - F("reserved")))
    )
    return {item: max(free - promised.get(item, ZERO), ZERO) for item, free in rows}
