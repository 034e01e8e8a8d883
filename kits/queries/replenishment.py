"""What replenishment of a site looks at, gathered in a fixed number of queries however many items there are."""

import datetime
import uuid
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal

from django.db import connection
from django.db.models import Case, DecimalField, F, Min, QuerySet, Sum, When

from kits.calculations.replenishment_working import ReplenishmentInputs
from kits.models import Balance, Item, Movement, Proposal, ReplenishmentLevel, Reservation, ServiceTarget, SupplierTerms
from kits.queries.ageing import ageing_groups
from kits.queries.availability import in_date
from kits.queries.late_orders import receipts_to_come
from kits.queries.lead_times import learned_lead_times
from kits.queries.movements import demand, taken_at_once
from kits.queries.transfers import promised_away, to_come

ZERO = Decimal(0)
HISTORY = datetime.timedelta(days=37 * 31)


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


def stock_pictures(
    site_id: uuid.UUID, *, as_of: datetime.date, since: datetime.date, only: Iterable[uuid.UUID] | None = None
) -> list[StockPicture]:
    """Every item that ever moved or is claimed at the site (or those asked for) and can be bought; sorted by number."""
    items = _items_of(site_id) if only is None else set(only)
    terms = best_terms(items)
    columns = ("id", "number", "revision", "criticality", "kind")
    pictures = {
        pk: StockPicture(pk, number, revision, criticality, terms[pk], is_part=kind == "part")
        for pk, number, revision, criticality, kind in Item.objects.filter(pk__in=terms, is_active=True).values_list(
            *columns
        )
    }
    for item_id, needs in demand(site_id, since).items():
        if item_id in pictures:
            pictures[item_id].needs = needs
    for (_, item_id), counts in taken_at_once([site_id], since, pictures).items():
        pictures[item_id].taken_at_once = counts
    _add_first_movements(pictures, site_id)
    _add_shelves(pictures, site_id, as_of)
    _add_claims(pictures, site_id)
    _add_orders(pictures, site_id, as_of)
    _add_transfers(pictures, site_id, as_of)
    for item_id, groups in ageing_groups(set(pictures)).items():
        pictures[item_id].storage_years = min(one.initial_years for one in groups)
    return sorted(pictures.values(), key=lambda one: (one.number, one.revision))


def _items_of(site_id: uuid.UUID) -> set[uuid.UUID]:
    moved = Movement.objects.filter(site_id=site_id).order_by().values_list("item_id", flat=True).distinct()
    claimed = Reservation.objects.filter(site_id=site_id, state__in=["soft", "hard"]).values_list("item_id", flat=True)
    return set(moved) | set(claimed)


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


def _add_first_movements(pictures: dict[uuid.UUID, StockPicture], site_id: uuid.UUID) -> None:
    rows = (
        Movement.objects.filter(site_id=site_id, item_id__in=pictures)
        .values_list("item_id")
        .annotate(first=Min("occurred_at"))
    )
    for item_id, first in rows:
        pictures[item_id].first_moved_on = first.date()


def _add_shelves(pictures: dict[uuid.UUID, StockPicture], site_id: uuid.UUID, as_of: datetime.date) -> None:
    figure: DecimalField[Decimal, Decimal] = DecimalField(max_digits=14, decimal_places=3)
    rows = (
        Balance.objects.filter(site_id=site_id, item_id__in=pictures, condition="usable", on_hand__gt=0)
        .values_list("item_id", "lot__expires_on")
        .annotate(
            good=Sum(Case(When(in_date(as_of), then=F("on_hand")), default=ZERO, output_field=figure)),
            total=Sum("on_hand"),
            held=Sum("reserved"),
        )
        .order_by("item_id", "lot__expires_on")
    )
    for item_id, expires_on, good, total, held in rows:
        picture = pictures[item_id]
        picture.usable += good
        picture.expired += total - good
        picture.held_for_jobs += held
        if good > held:
            picture.lots.append((expires_on, good - held))


def _add_claims(pictures: dict[uuid.UUID, StockPicture], site_id: uuid.UUID) -> None:
    rows = (
        Reservation.objects.filter(site_id=site_id, item_id__in=pictures, state="soft")
        .order_by("need_date", "id")
        .values_list("item_id", "need_date", F("quantity") - F("issued"))
    )
    for item_id, need_date, quantity in rows:
        pictures[item_id].claimed.append((need_date, quantity))


def _add_orders(pictures: dict[uuid.UUID, StockPicture], site_id: uuid.UUID, as_of: datetime.date) -> None:
    """What suppliers owe, on the day it is counted on; what is long past due is left out."""
    for item_id, receipts in receipts_to_come(site_id, pictures, as_of=as_of).items():
        pictures[item_id].on_order += [
            (one.counted_on, one.line.quantity) for one in receipts if one.counted_on is not None
        ]


def _add_transfers(pictures: dict[uuid.UUID, StockPicture], site_id: uuid.UUID, as_of: datetime.date) -> None:
    """What comes from other sites counts as on order; what was promised away is no longer there."""
    for item_id, day, quantity in to_come(site_id, pictures, as_of=as_of):
        pictures[item_id].on_order.append((day, quantity))
    for item_id, promised in promised_away(site_id, pictures).items():
        picture = pictures[item_id]
        left = min(promised, sum((free for _, free in picture.lots), ZERO))
        picture.usable -= left
        kept = []
        for until, free in picture.lots:
            taken = min(left, free)
            left -= taken
            if free > taken:
                kept.append((until, free - taken))
        picture.lots = kept


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


@dataclass(frozen=True)
class TermsShown:
    """The terms of an item of a run as they are shown and ordered by."""

    number: str
    supplier_code: str
    price: Decimal
    currency: str
    agreed_days: Decimal
    received: int
    source: str


def terms_shown(places: Iterable[int]) -> dict[int, TermsShown]:
    """Terms of some items of the run that this transaction prepared, by place. One statement."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT p.place, i.number, s.code, t.price, t.currency, t.lead_time_days, coalesce(w.received, 0), "
            "coalesce(w.source, 'agreed') FROM planned_items p "
            "JOIN kits_item i ON i.id = p.item_id JOIN kits_supplierterms t ON t.id = p.terms_id "
            "JOIN kits_supplier s ON s.id = p.supplier_id LEFT JOIN kits_learnedleadtime w ON w.id = p.learned_id "
            "WHERE p.place = ANY(%s)",
            [list(places)],
        )
        return {place: TermsShown(*figures) for place, *figures in cursor.fetchall()}


def targets() -> dict[str, Target]:
    """How well stock shall serve, by criticality."""
    rows = ServiceTarget.objects.values_list("criticality", "fill_rate", "measure")
    return {criticality: Target(share, measure) for criticality, share, measure in rows}


def levels_kept(site_ids: Iterable[uuid.UUID], items: Iterable[uuid.UUID]) -> dict[tuple[uuid.UUID, uuid.UUID], int]:
    """Reorder points that replenishment keeps, by site and item. One query."""
    found = ReplenishmentLevel.objects.filter(site_id__in=list(site_ids), item_id__in=list(items))
    return {(site, item): level for site, item, level in found.values_list("site_id", "item_id", "reorder_point")}


def undecided(site_id: uuid.UUID) -> QuerySet[Proposal]:
    """Open and snoozed proposals of a site, by id."""
    return Proposal.objects.filter(site_id=site_id, state__in=["open", "snoozed"]).order_by("id")


def held_back(site_id: uuid.UUID, as_of: datetime.date) -> dict[uuid.UUID, datetime.date]:
    """Items whose rejection still holds, with its last day."""
    rows = (
        Proposal.objects.filter(site_id=site_id, state="rejected", holds_until__gt=as_of)
        .order_by("holds_until")
        .values_list("item_id", "holds_until")
    )
    return {item_id: day for item_id, day in rows if day is not None}
