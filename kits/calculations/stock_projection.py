"""Stock day by day, and the first day on which more can be promised.

With lots that expire a running balance is wrong: it counts on lots that will be dead by then. Needs are served in the
order of their days, each from the usable lot that dies first, which serves the most units there is any way to serve
(Glover 1967, Naval Research Logistics Quarterly 14:313-316: maximum matching in a convex bipartite graph).
"""

import datetime
import heapq
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

ZERO = Decimal(0)
NEVER = datetime.date.max


@dataclass(frozen=True)
class Supply:
    """A quantity that can be used from a day until its last day; None where nothing in it ages."""

    label: str
    from_day: datetime.date
    last_day: datetime.date | None
    quantity: Decimal

    @property
    def dies(self) -> datetime.date:
        """The last day, for comparing."""
        return self.last_day or NEVER


@dataclass(frozen=True)
class Need:
    """A quantity wanted on a day; ``held`` where lots for it are set aside already."""

    label: str
    day: datetime.date
    quantity: Decimal
    held: bool = False


@dataclass(frozen=True)
class Served:
    """By place: what of each need finds nothing, and what of each supply was taken on which day."""

    short: tuple[Decimal, ...]
    taken: tuple[tuple[tuple[datetime.date, Decimal], ...], ...]

    @property
    def shortage(self) -> Decimal:
        """All that finds nothing."""
        return sum(self.short, ZERO)


@dataclass(frozen=True)
class Day:
    """One day on which something happens. ``on_hand`` is what is there and in date at its end, ``free`` what of it is
    not set aside."""

    day: datetime.date
    received: Decimal
    needed: Decimal
    served: Decimal
    short: Decimal
    expired: Decimal
    on_hand: Decimal
    free: Decimal


def serve(supplies: Sequence[Supply], needs: Sequence[Need]) -> Served:
    """Serve needs without lots in the order of their days, ties as given; held needs are served from what was set
    aside and are not short."""
    order = sorted(range(len(supplies)), key=lambda place: (supplies[place].from_day, supplies[place].dies, place))
    left = [one.quantity for one in supplies]
    taken: list[list[tuple[datetime.date, Decimal]]] = [[] for _ in supplies]
    short = [ZERO] * len(needs)
    usable: list[tuple[datetime.date, datetime.date, int]] = []
    arriving = 0
    for place in sorted(range(len(needs)), key=lambda one: (needs[one].day, one)):
        need = needs[place]
        while arriving < len(order) and supplies[order[arriving]].from_day <= need.day:
            lot = supplies[order[arriving]]
            heapq.heappush(usable, (lot.dies, lot.from_day, order[arriving]))
            arriving += 1
        wanted = ZERO if need.held else need.quantity
        while wanted > 0 and usable:
            dies, _, lot_place = usable[0]
            if dies < need.day or left[lot_place] <= 0:
                heapq.heappop(usable)
                continue
            amount = min(wanted, left[lot_place])
            left[lot_place] -= amount
            wanted -= amount
            taken[lot_place].append((need.day, amount))
        short[place] = wanted
    return Served(tuple(short), tuple(tuple(one) for one in taken))


def promise(
    supplies: Sequence[Supply], needs: Sequence[Need], *, quantity: Decimal, earliest: datetime.date
) -> datetime.date | None:
    """The first day from ``earliest`` on which so many more can be served without anybody else going short; None where
    there is none. Raises `ValueError` for a quantity that is not above zero.

    Only ``earliest`` and the days of later receipts are tried: between two receipts, whatever serves a later day serves
    an earlier one. Days on which it is possible need not hang together, so they are tried one after the other.
    """
    if quantity <= 0:
        raise ValueError("a promise is for more than nothing")
    before = serve(supplies, needs).shortage
    days = sorted({earliest} | {one.from_day for one in supplies if one.from_day > earliest and one.quantity > 0})
    for day in days:
        if serve(supplies, [*needs, Need("", day, quantity)]).shortage <= before:
            return day
    return None


def delayed(supplies: Sequence[Supply], days: Sequence[int]) -> list[Supply]:
    """Supplies that come so many days later; their last day stays."""
    return [
        replace(one, from_day=one.from_day + datetime.timedelta(days=more))
        for one, more in zip(supplies, days, strict=True)
    ]


def project(
    supplies: Sequence[Supply], needs: Sequence[Need], *, start: datetime.date, until: datetime.date
) -> list[Day]:
    """The first day, and each day until the last on which anything comes, is needed or expires.

    What is left of a lot counts as expired on the day after its last day. Stock set aside for a held need is on hand,
    not free, until the day of the need. Raises `ValueError` where the last day lies before the first.
    """
    if until < start:
        raise ValueError("a projection ends after it begins")
    found = serve(supplies, needs)
    received: dict[datetime.date, Decimal] = {}
    expired: dict[datetime.date, Decimal] = {}
    needed: dict[datetime.date, Decimal] = {}
    short: dict[datetime.date, Decimal] = {}
    held: dict[datetime.date, Decimal] = {}
    for supply, taken in zip(supplies, found.taken, strict=True):
        arrives = max(supply.from_day, start)
        if supply.dies < arrives:
            continue
        _add(received, arrives, supply.quantity)
        rest = supply.quantity - sum((amount for _, amount in taken), ZERO)
        if supply.last_day is not None and rest > 0:
            _add(expired, supply.last_day + datetime.timedelta(days=1), rest)
    for need, missing in zip(needs, found.short, strict=True):
        day = max(need.day, start)
        _add(needed, day, need.quantity)
        _add(short, day, missing)
        if need.held:
            _add(held, day, need.quantity)
    set_aside = sum(held.values(), ZERO)
    opening = sum((one.quantity for one in supplies if one.from_day <= start <= one.dies), ZERO)
    on_hand, rows = ZERO, []
    for day in sorted({start, *received, *expired, *needed}):
        if day > until:
            break
        comes, dead = received.get(day, ZERO), expired.get(day, ZERO)
        wanted, missing = needed.get(day, ZERO), short.get(day, ZERO)
        own = held.get(day, ZERO)
        on_hand += comes - dead - (wanted - missing - own)
        set_aside -= own
        new = comes - opening if day == start else comes
        rows.append(Day(day, new, wanted, wanted - missing, missing, dead, on_hand + set_aside, on_hand))
    return rows


def _add(sums: dict[datetime.date, Decimal], day: datetime.date, quantity: Decimal) -> None:
    sums[day] = sums.get(day, ZERO) + quantity
