"""Reading transfers between sites: what was agreed, what is under way, and how long goods take."""

import datetime
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import connection
from django.db.models import Case, CharField, F, JSONField, Q, QuerySet, Sum, Value, When

from assets.access import has_role, sites_with
from kits.calculations.expected_receipts import LIMIT_DAYS
from kits.models import Reservation, Transfer, TransferDiscrepancy, TransferLine, TransferLot, TransitTime
from services.api.models import as_uuid
from services.api.refusals import NotThere
from services.api.rows import plain_rows
from services.identity.callers import Caller

# A site and an item.
Place = tuple[uuid.UUID, uuid.UUID]
LIVE = ("soft", "hard")
UNDER_WAY = ("sent", "part-received")
OWNERS = ("data-owner", "integrator", "admin")
ZERO = Decimal(0)


def _at_either(by: Caller) -> Q:
    sites = sites_with(by)
    return Q() if sites is None else Q(from_site_id__in=sites) | Q(to_site_id__in=sites)


def transit_times(*, by: Caller) -> QuerySet[TransitTime]:
    """Days and cost from site to site, where the caller has a role at one of the two; all for who keeps them."""
    rows = TransitTime.objects.all()
    return rows if has_role(by, None, *OWNERS) else rows.filter(_at_either(by))


def transit_between(from_site: uuid.UUID, to_site: uuid.UUID) -> TransitTime | None:
    """How long goods take from one site to another; None where nobody said."""
    return TransitTime.objects.filter(from_site_id=from_site, to_site_id=to_site).first()


def transits_to(site_id: uuid.UUID) -> dict[uuid.UUID, tuple[int, Decimal, str]]:
    """(days, cost of a piece, currency) by lender. One query."""
    rows = TransitTime.objects.filter(to_site_id=site_id).values_list("from_site_id", "days", "cost", "currency")
    return {site: (days, cost, currency) for site, days, cost, currency in rows}


def transfers(*, by: Caller) -> QuerySet[Transfer]:
    """Transfers from or to granted sites. What spoke against lending tells of the lender's stock and jobs: it is shown
    to who has a role there, as ``shown_warnings`` and ``shown_override``."""
    sites = sites_with(by)
    known = Q(from_site_id__isnull=False) if sites is None else Q(from_site_id__in=sites)
    return Transfer.objects.filter(_at_either(by)).annotate(
        shown_warnings=Case(When(known, then=F("warnings")), default=Value([], JSONField()), output_field=JSONField()),
        shown_override=Case(When(known, then=F("override_reason")), default=Value(""), output_field=CharField()),
    )


def transfer_for(by: Caller, transfer_id: Any) -> Transfer:
    """One transfer, where the caller has a role at one of its sites. Raises `NotThere`."""
    found = transfers(by=by).filter(pk=as_uuid(transfer_id)).first()
    if found is None:
        raise NotThere("The transfer is not here.", remedy="Check the id, or ask for a role at one of its sites.")
    return found


def claim_at(site_id: uuid.UUID, reservation_id: uuid.UUID) -> Reservation | None:
    """A live claim at a site."""
    return Reservation.objects.filter(pk=reservation_id, site_id=site_id, state__in=LIVE).first()


def lines_of(transfer_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[dict[str, Any]]]:
    """Lines by transfer, each with its lots and what was more or less of them. Three queries."""
    wanted = list(transfer_ids)
    lots: dict[uuid.UUID, list[dict[str, Any]]] = {}
    for one in plain_rows(
        TransferLot.objects.filter(line__transfer_id__in=wanted)
        .order_by("lot__expires_on", "lot__number")
        .values("line_id", "sent", "received", number=F("lot__number"), last_day=F("lot__expires_on"))
    ):
        one["lot"] = one.pop("number")
        one["expires_on"] = one.pop("last_day")
        lots.setdefault(one.pop("line_id"), []).append(one)
    differences: dict[uuid.UUID, list[dict[str, Any]]] = {}
    for one in plain_rows(
        TransferDiscrepancy.objects.filter(line__transfer_id__in=wanted)
        .order_by("id")
        .values("line_id", "quantity", "reason", "recorded_at", number=F("lot__number"), who=F("by__name"))
    ):
        one["lot"] = one.pop("number")
        one["by_name"] = one.pop("who")
        differences.setdefault(one.pop("line_id"), []).append(one)
    found: dict[uuid.UUID, list[dict[str, Any]]] = {}
    for one in plain_rows(
        TransferLine.objects.filter(transfer_id__in=wanted)
        .order_by("transfer_id", "line")
        .values(
            "id", "transfer_id", "line", "item", "quantity", "sent", "received",
            number=F("item__number"), revision=F("item__revision"), name=F("item__name"),
        )
    ):  # fmt: skip
        pk = one.pop("id")
        one["lots"], one["discrepancies"] = lots.get(pk, []), differences.get(pk, [])
        found.setdefault(one.pop("transfer_id"), []).append(one)
    return found


def agreed_lines(
    item_ids: Iterable[uuid.UUID] | None, *, at: Iterable[uuid.UUID] | None = None
) -> list[dict[str, Any]]:
    """Lines agreed on whose goods have not left, from or to some sites or all, of some items or all, the first agreed
    first: item, transfer, sites, days, quantity, and ``lasting``: the day on which they must still be in date. One
    query."""
    lines = TransferLine.objects.filter(_among("item_id", item_ids), transfer__state="approved")
    if at is not None:
        sites = list(at)
        lines = lines.filter(Q(transfer__from_site_id__in=sites) | Q(transfer__to_site_id__in=sites))
    rows = plain_rows(
        lines
        .order_by("transfer_id", "line")
        .values(
            "item_id", "quantity", transfer_number=F("transfer__number"), from_site=F("transfer__from_site_id"),
            to_site=F("transfer__to_site_id"), from_code=F("transfer__from_site__code"), days=F("transfer__days"),
            day=F("transfer__expected_on"), need_date=F("transfer__reservation__need_date"),
            claim_state=F("transfer__reservation__state"),
        )
    )  # fmt: skip
    for one in rows:
        one["lasting"] = max(one["day"], one["need_date"]) if one["claim_state"] in LIVE else one["day"]
    return rows


def lots_under_way(site_ids: Iterable[uuid.UUID], item_ids: Iterable[uuid.UUID] | None) -> list[dict[str, Any]]:
    """Lots of some items or all that left for one of the sites and have not come yet. One query."""
    return plain_rows(
        TransferLot.objects.filter(
            _among("line__item_id", item_ids), line__transfer__to_site_id__in=list(site_ids),
            line__transfer__state__in=UNDER_WAY, received__lt=F("sent"),
        )
        .order_by("line__transfer__expected_on", "line_id", "lot__expires_on", "id")
        .values(
            item_id=F("line__item_id"), site_id=F("line__transfer__to_site_id"),
            transfer_number=F("line__transfer__number"), from_code=F("line__transfer__from_site__code"),
            expected_on=F("line__transfer__expected_on"), lot_number=F("lot__number"), last_day=F("lot__expires_on"),
            rest=F("sent") - F("received"),
        )
    )  # fmt: skip


@dataclass(frozen=True)
class CountedTransfers:
    """``coming``: by day what other sites agreed to send or sent and is still counted on; ``promised``: what was agreed
    on and has not left, by the site that sends it and item."""

    coming: list[tuple[Place, datetime.date, Decimal]]
    promised: dict[Place, Decimal]


def counted_transfers(
    site_ids: Iterable[uuid.UUID], item_ids: Iterable[uuid.UUID] | None, *, as_of: datetime.date
) -> CountedTransfers:
    """What transfers add to the positions of some sites and take off them, of some items or all. Two queries."""
    sites, oldest = set(site_ids), oldest_counted_on(as_of)
    wanted = None if item_ids is None else list(item_ids)
    agreed = agreed_lines(wanted, at=sites)
    coming = [
        *(((one["to_site"], one["item_id"]), one["day"], one["quantity"]) for one in agreed),
        *(((one["site_id"], one["item_id"]), one["expected_on"], one["rest"]) for one in lots_under_way(sites, wanted)),
    ]
    promised: dict[Place, Decimal] = {}
    for one in agreed:
        place = one["from_site"], one["item_id"]
        promised[place] = promised.get(place, ZERO) + one["quantity"]
    return CountedTransfers(
        [one for one in coming if one[0][0] in sites and one[1] >= oldest],
        {place: quantity for place, quantity in promised.items() if place[0] in sites},
    )


def _among(column: str, ids: Iterable[uuid.UUID] | None) -> Q:
    return Q() if ids is None else Q(**{f"{column}__in": list(ids)})


def oldest_counted_on(as_of: datetime.date) -> datetime.date:
    """What should have come before it is no longer counted on: as with orders."""
    return as_of - datetime.timedelta(days=LIMIT_DAYS)


def lost_on_the_way(site_id: uuid.UUID, as_of: datetime.date) -> dict[uuid.UUID, list[tuple[str, int]]]:
    """Transfers to a site that are no longer counted on, as (number, days late), by item. One query."""
    lines = (
        TransferLine.objects.filter(
            transfer__to_site_id=site_id, transfer__state__in=["approved", *UNDER_WAY],
            transfer__expected_on__lt=oldest_counted_on(as_of),
        )
        .exclude(transfer__state__in=UNDER_WAY, received__gte=F("sent"))
        .order_by("transfer__number", "line")
        .values_list("item_id", "transfer__number", "transfer__expected_on")
    )  # fmt: skip
    found: dict[uuid.UUID, list[tuple[str, int]]] = {}
    for item, number, day in lines:
        found.setdefault(item, []).append((number, (as_of - day).days))
    return found


def promised_away(site_id: uuid.UUID, item_ids: Iterable[uuid.UUID] | None) -> dict[uuid.UUID, Decimal]:
    """What a site agreed to send and has not sent, by item (some, or all). One query."""
    return dict(
        TransferLine.objects.filter(
            _among("item_id", item_ids), transfer__from_site_id=site_id, transfer__state="approved"
        )
        .order_by()
        .values_list("item_id")
        .annotate(total=Sum("quantity"))
    )


DIFFERENCES = """
WITH moved AS (
    SELECT transfer_line_id AS line_id, lot_id,
           -coalesce(sum(quantity) FILTER (WHERE kind = 'transfer-out'), 0) AS gone,
           coalesce(sum(quantity) FILTER (WHERE kind = 'transfer-in'), 0) AS came
    FROM kits_movement WHERE transfer_line_id IS NOT NULL GROUP BY 1, 2
)
SELECT t.number, n.line, l.number, coalesce(k.sent, 0), coalesce(m.gone, 0),
       coalesce(k.received, 0), coalesce(m.came, 0)
FROM kits_transferlot k
FULL JOIN moved m USING (line_id, lot_id)
JOIN kits_transferline n ON n.id = line_id
JOIN kits_transfer t ON t.id = n.transfer_id
JOIN kits_lot l ON l.id = lot_id
WHERE coalesce(k.sent, 0) <> coalesce(m.gone, 0) OR coalesce(k.received, 0) <> coalesce(m.came, 0)
ORDER BY 1, 2, 3
"""


def transfer_differences() -> list[dict[str, Any]]:
    """Lots of transfers of which the ledger says that more or less left or came than the transfer does."""
    with connection.cursor() as cursor:
        cursor.execute(DIFFERENCES)
        names = ("transfer", "line", "lot", "sent", "gone", "received", "came")
        return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]
