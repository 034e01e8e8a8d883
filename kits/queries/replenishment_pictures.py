"""What replenishment looks at, of some items or all, at one site or many, in a fixed number of queries however many
there are. The nightly run reads the same into arrays: `site_stock`."""

import datetime
import uuid
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Case, DecimalField, F, Min, Sum, When

from kits.calculations.replenishment_working import ReplenishmentInputs
from kits.models import Balance, Item, Movement, Reservation, ServiceTarget, SupplierTerms
from kits.queries.ageing import ageing_groups
from kits.queries.availability import in_date
from kits.queries.late_orders import receipts_at
from kits.queries.lead_times import learned_lead_times
from kits.queries.movements import needs_met, taken_at_once
from kits.queries.transfers import Place, counted_transfers

ZERO = Decimal(0)


@dataclass(frozen=True)
class Target:
    """How well stock shall serve: a share, of needs (``fill``) or of times to restock (``cycle``)."""

    share: Decimal
    measure: str


@dataclass
class Terms:
    """The terms an item would be bought on."""

    supplier_id: uuid.UUID
    supplier_code: str
    lead_time_days: Decimal
    lead_time_sd_days: Decimal
    minimum: Decimal
    multiple: Decimal
    price: Decimal
    currency: str
    order_cost: Decimal


@dataclass
class StockPicture:
    """One item at one site as of a day."""

    item_id: uuid.UUID
    number: str
    revision: str
    criticality: str
    terms: Terms
    needs: list[tuple[datetime.date, Decimal]] = field(default_factory=list)
    first_moved_on: datetime.date | None = None
    usable: Decimal = ZERO
    expired: Decimal = ZERO
    held_for_jobs: Decimal = ZERO
    claimed: list[tuple[datetime.date, Decimal]] = field(default_factory=list)
    on_order: list[tuple[datetime.date, Decimal]] = field(default_factory=list)
    lots: list[tuple[datetime.date | None, Decimal]] = field(default_factory=list)
    storage_years: int | None = None
    is_part: bool = False
    taken_at_once: dict[Decimal, int] = field(default_factory=dict)

    def promise_away(self, promised: Decimal) -> None:
        """Take off what other sites were promised: the lots that expire first, as far as they are free."""
        left = min(promised, sum((free for _, free in self.lots), ZERO))
        self.usable -= left
        kept = []
        for until, free in self.lots:
            taken = min(left, free)
            left -= taken
            if free > taken:
                kept.append((until, free - taken))
        self.lots = kept


@dataclass
class Named:
    """An item by its names, with the terms it would be bought on; None where nobody sells it on terms."""

    number: str
    revision: str
    name: str
    criticality: str
    kind: str
    is_active: bool
    terms: Terms | None = None

    @property
    def label(self) -> str:
        """Number and revision, as on a label."""
        return f"{self.number} {self.revision}".strip()


Pictures = dict[Place, StockPicture]


def network_pictures(
    site_ids: Iterable[uuid.UUID],
    *,
    as_of: datetime.date,
    since: datetime.date,
    only: Iterable[uuid.UUID] | None = None,
    kind: str | None = None,
) -> tuple[Pictures, dict[uuid.UUID, Named]]:
    """By site and item, what can be bought and ever moved or is claimed there, or was asked for; and every item that
    moved or is claimed at one of the sites, or was asked for, whether it can be bought or not.

    Fourteen queries, one more where an order is late; not narrowed, callers have passed the gate.
    """
    sites, asked = list(site_ids), None if only is None else set(only)
    first = _first_movements(sites, asked)
    known = set(first) | _claimed(sites) if asked is None else {(site, item) for site in sites for item in asked}
    named = _named({item for _, item in known}, kind)
    found: Pictures = {}
    for site, item in known:
        one = named.get(item)
        if one is not None and one.is_active and one.terms is not None:
            found[site, item] = StockPicture(
                item, one.number, one.revision, one.criticality, one.terms,
                first_moved_on=first.get((site, item)), is_part=one.kind == "part",
            )  # fmt: skip
    items = {item for _, item in found}
    for place, needs in needs_met(sites, since=since, item_ids=items).items():
        if place in found:
            found[place].needs = needs
    for place, counts in taken_at_once(sites, since, items).items():
        if place in found:
            found[place].taken_at_once = counts
    _add_shelves(found, sites, items, as_of)
    _add_claims(found, sites, items)
    _add_coming(found, sites, items, as_of)
    years = {item: min(one.initial_years for one in groups) for item, groups in ageing_groups(items).items()}
    for (_, item), picture in found.items():
        picture.storage_years = years.get(item)
    return found, named


def stock_pictures(
    site_id: uuid.UUID, *, as_of: datetime.date, since: datetime.date, only: Iterable[uuid.UUID] | None = None
) -> list[StockPicture]:
    """Those of one site, sorted by number."""
    found, _ = network_pictures([site_id], as_of=as_of, since=since, only=only)
    return sorted(found.values(), key=lambda one: (one.number, one.revision))


def _first_movements(sites: list[uuid.UUID], only: set[uuid.UUID] | None) -> dict[Place, datetime.date]:
    rows = Movement.objects.filter(site_id__in=sites)
    if only is not None:
        rows = rows.filter(item_id__in=only)
    found = rows.order_by().values_list("site_id", "item_id").annotate(first=Min("occurred_at"))
    return {(site, item): day.date() for site, item, day in found}


def _claimed(sites: list[uuid.UUID]) -> set[Place]:
    rows = Reservation.objects.filter(site_id__in=sites, state__in=["soft", "hard"])
    return set(rows.order_by().values_list("site_id", "item_id"))


def _named(items: set[uuid.UUID], kind: str | None) -> dict[uuid.UUID, Named]:
    rows = Item.objects.filter(pk__in=items)
    if kind is not None:
        rows = rows.filter(kind=kind)
    columns = ("id", "number", "revision", "name", "criticality", "kind", "is_active")
    found = {pk: Named(*rest) for pk, *rest in rows.order_by("number", "revision").values_list(*columns)}
    for pk, terms in best_terms(found).items():
        found[pk].terms = terms
    return found


def best_terms(items: Iterable[uuid.UUID]) -> dict[uuid.UUID, Terms]:
    """The cheapest terms of each item, those in its own currency first, since prices are not converted; of equal ones
    the quicker, then the supplier's code. Days are those learned from receipts, where any came."""
    found: dict[uuid.UUID, Terms] = {}
    for one in (
        SupplierTerms.objects.filter(item_id__in=list(items))
        .select_related("supplier")
        .annotate(own=Case(When(currency=F("item__currency"), then=0), default=1))
        .order_by("item_id", "own", "currency", "price", "lead_time_days", "supplier__code")
    ):
        found.setdefault(
            one.item_id,
            Terms(
                one.supplier_id,
                one.supplier.code,
                one.lead_time_days,
                one.lead_time_sd_days,
                one.minimum,
                one.multiple,
                one.price,
                one.currency,
                one.order_cost,
            ),
        )
    learned = learned_lead_times((one.supplier_id, item) for item, one in found.items())
    for item, terms in found.items():
        known = learned.get((terms.supplier_id, item))
        if known is not None:
            terms.lead_time_days, terms.lead_time_sd_days = _days(known.mean_days), _days(known.sd_days)
    return found


def _days(value: float) -> Decimal:
    return Decimal(repr(value))


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


def _add_coming(found: Pictures, sites: list[uuid.UUID], items: set[uuid.UUID], as_of: datetime.date) -> None:
    """What suppliers owe and what comes from other sites, on the day it is counted on; what was promised away is no
    longer there."""
    for place, receipts in receipts_at(sites, items, as_of=as_of).items():
        if place in found:
            found[place].on_order += [
                (one.counted_on, one.line.quantity) for one in receipts if one.counted_on is not None
            ]
    moved = counted_transfers(sites, items, as_of=as_of)
    for place, day, quantity in moved.coming:
        if place in found:
            found[place].on_order.append((day, quantity))
    for place, promised in moved.promised.items():
        if place in found:
            found[place].promise_away(promised)


def inputs_of(picture: StockPicture, day: datetime.date, target: Target) -> ReplenishmentInputs:
    """What a plan for the item is made from."""
    terms = picture.terms
    return ReplenishmentInputs(
        as_of=day,
        kept_since=picture.first_moved_on or day,
        needs=tuple(picture.needs),
        usable=picture.usable,
        held_for_jobs=picture.held_for_jobs,
        lots=tuple(picture.lots),
        claims=tuple(picture.claimed),
        on_order=tuple(picture.on_order),
        lead_time_days=terms.lead_time_days,
        lead_time_sd_days=terms.lead_time_sd_days,
        minimum=terms.minimum,
        multiple=terms.multiple,
        price=terms.price,
        order_cost=terms.order_cost,
        fill_rate=target.share,
        measure=target.measure,
        is_part=picture.is_part,
        storage_years=picture.storage_years,
        taken_at_once=picture.taken_at_once,
    )


def targets() -> dict[str, Target]:
    """How well stock shall serve, by criticality."""
    rows = ServiceTarget.objects.values_list("criticality", "fill_rate", "measure")
    return {criticality: Target(share, measure) for criticality, share, measure in rows}
