"""What lies at a site, what comes and what is wanted, by item: the start of projections and promises."""

import datetime
import uuid
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import ROUND_CEILING, Decimal
from typing import Any

from django.db.models import F

from kits.calculations.lending import lend
from kits.calculations.stock_projection import Need, Supply, delayed
from kits.calculations.storage_life import StorageGroup, kit_expiry
from kits.models import Balance, Reservation, SupplierTerms
from kits.queries.ageing import ageing_groups
from kits.queries.late_orders import receipts_at
from kits.queries.transfers import Place, agreed_lines, lots_under_way

ZERO = Decimal(0)
# One-sided 95 % of a normal distribution; a cautious promise waits so many deviations longer (common practice, no
# source).
CAUTION = Decimal("1.645")


@dataclass(frozen=True)
class Receipt:
    """A line of an order still to come; ``expected_on`` is what the supplier promised last, if anything. ``counted_on``
    is None where it is overdue and nothing tells when it comes, or overdue past the limit."""

    order: str
    expected_on: datetime.date
    counted_on: datetime.date | None
    quantity: Decimal
    spread_days: Decimal


@dataclass(frozen=True)
class ComingTransfer:
    """Goods agreed on or under way from another site. ``counted_on`` is None where they are overdue, or where nothing
    that would do is free at the lender any more."""

    transfer: str
    from_site: str
    state: str
    expected_on: datetime.date
    counted_on: datetime.date | None
    quantity: Decimal
    lot: str
    last_day: datetime.date | None


@dataclass(frozen=True)
class Claim:
    """A live claim of a job on the item."""

    job_number: str
    criticality: str
    need_date: datetime.date
    quantity: Decimal
    hard: bool


@dataclass
class Shelf:
    """One item at one site: lots that are free, what comes, and who wants it."""

    on: datetime.date
    stock: list[Supply] = field(default_factory=list)
    transfers: list[ComingTransfer] = field(default_factory=list)
    receipts: list[Receipt] = field(default_factory=list)
    claims: list[Claim] = field(default_factory=list)
    leaving: list[Need] = field(default_factory=list)
    groups: list[StorageGroup] = field(default_factory=list)

    @property
    def supplies(self) -> list[Supply]:
        """Stock, then transfers, then orders, as far as their days are counted on."""
        return [*self.stock, *self._moved(), *self._ordered(ZERO)]

    @property
    def late_supplies(self) -> list[Supply]:
        """The same if open orders come late; their last day stays."""
        return [*self.stock, *self._moved(), *self._ordered(CAUTION)]

    def _moved(self) -> list[Supply]:
        return [
            Supply(f"transfer {one.transfer}", one.counted_on, one.last_day, one.quantity)
            for one in self.transfers
            if one.counted_on is not None
        ]

    def _ordered(self, caution: Decimal) -> list[Supply]:
        counted = [(one, one.counted_on) for one in self.receipts if one.counted_on is not None]
        fresh = [Supply(one.order, day, self.fresh(day), one.quantity) for one, day in counted]
        return delayed(fresh, [whole(one.spread_days * caution) for one, _ in counted])

    @property
    def needs(self) -> list[Need]:
        """What leaves for other sites, then claims of jobs by day."""
        return [
            *self.leaving,
            *(Need(one.job_number, max(one.need_date, self.on), one.quantity, one.hard) for one in self.claims),
        ]

    def fresh(self, day: datetime.date) -> datetime.date | None:
        """The last day of what comes fresh on a day."""
        return kit_expiry((day, one) for one in self.groups)


def shelves_of(site_id: uuid.UUID, item_ids: Iterable[uuid.UUID], on: datetime.date) -> dict[uuid.UUID, Shelf]:
    """The shelves of one site by item; see `shelves_at`."""
    return {item: shelf for (_, item), shelf in shelves_at([site_id], item_ids, on).items()}


def shelves_at(site_ids: Iterable[uuid.UUID], item_ids: Iterable[uuid.UUID], on: datetime.date) -> dict[Place, Shelf]:
    """Free lots less what other sites were promised, claims, orders and transfers, by site and item. Eight queries at
    most, however many there are; not narrowed, callers have passed the gate."""
    sites, wanted = set(site_ids), list(item_ids)
    groups = ageing_groups(set(wanted))
    found = {(site, item): Shelf(on, groups=groups.get(item, [])) for site in sites for item in wanted}
    agreed = agreed_lines(wanted, at=sites)
    lots = free_lots(sites | {one["from_site"] for one in agreed}, wanted, on)
    for one in agreed:
        place, goal = (one["from_site"], one["item_id"]), (one["to_site"], one["item_id"])
        free = lots.get(place, [])
        gone = lend(free, one["quantity"], leaving=on, lasting=max(one["lasting"], on))
        lots[place] = list(gone.left)
        if place in found:
            found[place].leaving += _leaving(one, gone.quantity, on)
        if goal in found:
            sent = [Supply(free[at].label, on, free[at].last_day, amount) for at, amount in gone.taken]
            _add_agreed(found[goal], one, sent, on)
    for key, shelf in found.items():
        shelf.stock = [one for one in lots.get(key, []) if one.quantity > 0]
    for key, claims in claims_at(sites, wanted, "soft", "hard").items():
        found[key].claims = claims
    _add_receipts(found, on)
    for one in lots_under_way(sites, wanted):
        found[one["site_id"], one["item_id"]].transfers.append(
            ComingTransfer(
                one["transfer_number"], one["from_code"], "sent", one["expected_on"],
                one["expected_on"] if one["expected_on"] >= on else None,
                one["rest"], one["lot_number"], one["last_day"],
            )
        )  # fmt: skip
    return found


def _leaving(line: dict[str, Any], found: Decimal, on: datetime.date) -> list[Need]:
    """What was promised away, as if it left today; what finds no lot is short."""
    name, rest = f"transfer {line['transfer_number']}", line["quantity"] - found
    return [Need(name, on, amount, held) for amount, held in ((found, True), (rest, False)) if amount > 0]


def free_lots(
    sites: Iterable[uuid.UUID], item_ids: Iterable[uuid.UUID], on: datetime.date
) -> dict[Place, list[Supply]]:
    """Usable and not reserved, by site and item; by lot, the earliest to expire first. One query."""
    found: dict[Place, list[Supply]] = {}
    for site, item, number, expires_on, free in (
        Balance.objects.filter(
            site_id__in=list(sites), item_id__in=list(item_ids), condition="usable", on_hand__gt=F("reserved")
        )
        .order_by("lot__expires_on", "lot__received_on", "lot__number", "id")
        .values_list("site_id", "item_id", "lot__number", "lot__expires_on", F("on_hand") - F("reserved"))
    ):
        found.setdefault((site, item), []).append(Supply(number, on, expires_on, free))
    return found


def claims_at(sites: Iterable[uuid.UUID], item_ids: Iterable[uuid.UUID], *states: str) -> dict[Place, list[Claim]]:
    """Live claims by site and item, the first day first. One query."""
    found: dict[Place, list[Claim]] = {}
    for site, item, number, criticality, day, quantity, state in (
        Reservation.objects.filter(
            site_id__in=list(sites), item_id__in=list(item_ids), state__in=states, quantity__gt=F("issued")
        )
        .order_by("need_date", "id")
        .values_list(
            "site_id", "item_id", "job_number", "criticality", "need_date", F("quantity") - F("issued"), "state"
        )
    ):
        found.setdefault((site, item), []).append(Claim(number, criticality, day, quantity, state == "hard"))
    return found


def _add_agreed(shelf: Shelf, line: dict[str, Any], lots: list[Supply], on: datetime.date) -> None:
    """As if it left today, with the lots that would be taken today; what finds none is not counted."""
    comes = on + datetime.timedelta(days=line["days"])
    names = line["transfer_number"], line["from_code"]
    for one in lots:
        shelf.transfers.append(ComingTransfer(*names, "approved", comes, comes, one.quantity, one.label, one.last_day))
    rest = line["quantity"] - sum((one.quantity for one in lots), ZERO)
    if rest > 0:
        shelf.transfers.append(ComingTransfer(*names, "approved", comes, None, rest, "", None))


def _add_receipts(found: dict[Place, Shelf], on: datetime.date) -> None:
    coming = receipts_at({site for site, _ in found}, {item for _, item in found}, as_of=on)
    if not coming:
        return
    spreads = {
        (item, supplier): spread
        for item, supplier, spread in SupplierTerms.objects.filter(
            item_id__in={item for _, item in coming},
            supplier_id__in={one.line.supplier for receipts in coming.values() for one in receipts},
        ).values_list("item_id", "supplier_id", "lead_time_sd_days")
    }
    for place, receipts in coming.items():
        found[place].receipts += [
            Receipt(
                one.line.order, one.line.due_on, one.counted_on, one.line.quantity,
                spreads.get((place[1], one.line.supplier), ZERO),
            )
            for one in receipts
        ]  # fmt: skip


def whole(number: Decimal) -> int:
    """The next whole number from there upwards."""
    return int(number.to_integral_value(rounding=ROUND_CEILING))
