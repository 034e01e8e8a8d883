"""What replenishment looks at, for many sites at once, in a fixed number of queries however many sites and items."""

import datetime
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Case, Count, DecimalField, F, Min, Sum, When

from assets.models import Pump
from kits.calculations.expected_receipts import OpenLine
from kits.models import Balance, Item, Movement, OrderLine, Reservation, SupplierTerms, TransferLine, TransitTime
from kits.queries.ageing import ageing_groups
from kits.queries.availability import COMING, in_date
from kits.queries.late_orders import counted_on, with_due_day
from kits.queries.movements import NEEDS, taken_at_once
from kits.queries.replenishment import StockPicture, Terms, best_terms
from kits.queries.stock_picture import Place
from kits.queries.transfers import agreed_lines, lots_under_way, oldest_counted_on

ZERO = Decimal(0)
Pictures = dict[Place, StockPicture]


@dataclass
class Named:
    """An item by its names, with the terms it would be bought on; None where nobody sells it on terms."""

    number: str
    revision: str
    name: str
    criticality: str
    is_active: bool
    terms: Terms | None = None

    @property
    def label(self) -> str:
        """Number and revision, as on a label."""
        return f"{self.number} {self.revision}".strip()


def network_pictures(
    site_ids: Iterable[uuid.UUID],
    *,
    as_of: datetime.date,
    since: datetime.date,
    only: Iterable[uuid.UUID] | None = None,
    kind: str | None = None,
) -> tuple[Pictures, dict[uuid.UUID, Named]]:
    """What `stock_pictures` says of each site, by site and item; and every item that
    moved or is claimed at one of the sites, or was asked for, whether it can be bought or not.

    Fourteen queries, one more where an order is late; not narrowed, callers have passed the gate.
    """
    sites = list(site_ids)
    first = _first_movements(sites, only)
    moved = set(first) | _claimed(sites, only)
    wanted = {item for _, item in moved} | set(only or ())
    named = _named(wanted, kind)
    terms = best_terms(named)
    found: Pictures = {}
    places = moved if only is None else {(site, item) for site in sites for item in wanted}
    for site, item in places:
        one = named.get(item)
        if one is not None and one.is_active and item in terms:
            found[site, item] = StockPicture(item, one.number, one.revision, one.criticality, terms[item])
            found[site, item].first_moved_on = first.get((site, item))
    items = {item for _, item in found}
    _add_needs(found, sites, items, since)
    _add_shelves(found, sites, items, as_of)
    _add_claims(found, sites, items)
    _add_orders(found, sites, items, as_of)
    _add_transfers(found, items, as_of)
    years = {item: min(one.initial_years for one in groups) for item, groups in ageing_groups(items).items()}
    for (_, item), picture in found.items():
        picture.storage_years = years.get(item)
    for item, one in named.items():
        one.terms = terms.get(item)
    return found, named


def _first_movements(sites: list[uuid.UUID], only: Iterable[uuid.UUID] | None) -> dict[Place, datetime.date]:
    rows = Movement.objects.filter(site_id__in=sites)
    if only is not None:
        rows = rows.filter(item_id__in=list(only))
    found = rows.order_by().values_list("site_id", "item_id").annotate(first=Min("occurred_at"))
    return {(site, item): day.date() for site, item, day in found}


def _claimed(sites: list[uuid.UUID], only: Iterable[uuid.UUID] | None) -> set[Place]:
    rows = Reservation.objects.filter(site_id__in=sites, state__in=["soft", "hard"])
    if only is not None:
        rows = rows.filter(item_id__in=list(only))
    return set(rows.order_by().values_list("site_id", "item_id"))


def _named(items: set[uuid.UUID], kind: str | None) -> dict[uuid.UUID, Named]:
    rows = Item.objects.filter(pk__in=items)
    if kind is not None:
        rows = rows.filter(kind=kind)
    columns = ("id", "number", "revision", "name", "criticality", "is_active")
    return {pk: Named(*rest) for pk, *rest in rows.order_by("number", "revision").values_list(*columns)}


def _add_needs(found: Pictures, sites: list[uuid.UUID], items: set[uuid.UUID], since: datetime.date) -> None:
    """As `demand` of one site, by day, and by who took it."""
    rows = (
        Movement.objects.filter(
            NEEDS, site_id__in=sites, item_id__in=items, condition="usable", occurred_at__date__gte=since
        )
        .values_list("site_id", "item_id", "occurred_at__date")
        .annotate(total=Sum("quantity"))
        .order_by("site_id", "item_id", "occurred_at__date")
    )
    for site, item, day, total in rows:
        if (site, item) in found:
            found[site, item].needs.append((day, -total))
    for place, counts in taken_at_once(sites, since, items).items():
        if place in found:
            found[place].taken_at_once = counts


def _add_shelves(found: Pictures, sites: list[uuid.UUID], items: set[uuid.UUID], as_of: datetime.date) -> None:
    figure: DecimalField[Decimal, Decimal] = DecimalField(max_digits=14, decimal_places=3)
    rows = (
        Balance.objects.filter(site_id__in=sites, item_id__in=items, condition="usable", on_hand__gt=0)
        .values_list("site_id", "item_id", "lot__expires_on")
        .annotate(
            good=Sum(Case(When(in_date(as_of), then=F("on_hand")), default=ZERO, output_field=figure)),
            total=Sum("on_hand"),
            held=Sum("reserved"),
        )
        .order_by("site_id", "item_id", "lot__expires_on")
    )
    for site, item, expires_on, good, total, held in rows:
        if (site, item) not in found:
            continue
        picture = found[site, item]
        picture.usable += good
        picture.expired += total - good
        picture.held_for_jobs += held
        if good > held:
            picture.lots.append((expires_on, good - held))


def _add_claims(found: Pictures, sites: list[uuid.UUID], items: set[uuid.UUID]) -> None:
    rows = (
        Reservation.objects.filter(site_id__in=sites, item_id__in=items, state="soft")
        .order_by("need_date", "id")
        .values_list("site_id", "item_id", "need_date", F("quantity") - F("issued"))
    )
    for site, item, need_date, quantity in rows:
        found[site, item].claimed.append((need_date, quantity))


def _add_orders(found: Pictures, sites: list[uuid.UUID], items: set[uuid.UUID], as_of: datetime.date) -> None:
    """What suppliers owe, on the day it is counted on; what is long past due is left out."""
    lines = OrderLine.objects.filter(
        item_id__in=items, order__site_id__in=sites, order__state__in=COMING, received__lt=F("quantity")
    )
    rows = list(
        with_due_day(lines)
        .order_by("due_on", "id")
        .values_list(
            "order__site_id", "item_id", "order__number", "order__supplier_id", "due_on", F("quantity") - F("received")
        )
    )
    counted = counted_on([OpenLine(*row[2:]) for row in rows], as_of)
    for (site, item, *_), one in zip(rows, counted, strict=True):
        if (site, item) in found and one.counted_on is not None:
            found[site, item].on_order.append((one.counted_on, one.line.quantity))


def _add_transfers(found: Pictures, items: set[uuid.UUID], as_of: datetime.date) -> None:
    """What comes from other sites counts as on order; what was promised away is no longer there."""
    sites, oldest = {site for site, _ in found}, oldest_counted_on(as_of)
    agreed = agreed_lines(items)
    for one in agreed:
        goal = (one["to_site"], one["item_id"])
        if goal in found and one["day"] >= oldest:
            found[goal].on_order.append((one["day"], one["quantity"]))
    for one in lots_under_way(sites, items):
        goal = (one["site_id"], one["item_id"])
        if goal in found and one["expected_on"] >= oldest:
            found[goal].on_order.append((one["expected_on"], one["rest"]))
    for one in agreed:
        place = (one["from_site"], one["item_id"])
        if place in found:
            _promise_away(found[place], one["quantity"])


def _promise_away(picture: StockPicture, promised: Decimal) -> None:
    left = min(promised, sum((free for _, free in picture.lots), ZERO))
    picture.usable -= left
    kept = []
    for until, free in picture.lots:
        taken = min(left, free)
        left -= taken
        if free > taken:
            kept.append((until, free - taken))
    picture.lots = kept


def transits_among(site_ids: Iterable[uuid.UUID]) -> dict[tuple[uuid.UUID, uuid.UUID], tuple[int, Decimal, str]]:
    """(days, cost of a piece, currency) by lender and receiver, where somebody said so. One query."""
    sites = list(site_ids)
    rows = TransitTime.objects.filter(from_site_id__in=sites, to_site_id__in=sites)
    return {(one.from_site_id, one.to_site_id): (one.days, one.cost, one.currency) for one in rows}


def pumps_at(site_ids: Iterable[uuid.UUID]) -> int:
    """Pumps that are not withdrawn. One query."""
    return Pump.objects.filter(site_id__in=list(site_ids)).exclude(state="withdrawn").count()


def moved_lately(site_ids: Iterable[uuid.UUID], *, since: datetime.date) -> set[Place]:
    """Sites and items of which something was sent to or came from another site on that day or later, or was agreed on
    and is not there yet. Two queries."""
    sites = set(site_ids)
    rows = Movement.objects.filter(
        site_id__in=sites, kind__in=["transfer-out", "transfer-in"], occurred_at__date__gte=since
    )
    found: set[Place] = set(rows.order_by().values_list("site_id", "item_id").distinct())
    agreed = TransferLine.objects.filter(
        transfer__created_at__date__gte=since, transfer__state__in=["approved", "sent", "part-received"]
    )
    for item, lender, receiver in agreed.values_list("item_id", "transfer__from_site_id", "transfer__to_site_id"):
        found |= {(site, item) for site in (lender, receiver) if site in sites}
    return found


def currencies() -> list[str]:
    """Currencies that suppliers sell in, the one of most terms first. One query."""
    rows = SupplierTerms.objects.order_by().values_list("currency").annotate(terms=Count("id"))
    return [currency for currency, _ in sorted(rows, key=lambda one: (-one[1], one[0]))]
