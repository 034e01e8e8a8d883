"""Who gets what there is and comes, where it does not reach for all, and who waits until when.

The order is criticality of the pump, then due day, then job number (common practice, no source). A claim gets the first
day on which it can be served with all that rank before it still served on theirs; which lot goes to which of them is
left open until all are known, so a lot that dies early is not wasted on who could take another. As long as only the
lots of one day are shared out, this serves as many units as any order (the sets that can be served are the independent
sets of a transversal matroid: Edmonds, Fulkerson 1965, value from memory). Where a claim that is late takes what a
lower one would have got on its day, fewer are served on their day; how many is told.
"""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from kits.calculations.stock_projection import Need, Supply, serve

ZERO = Decimal(0)
RANKS = {"vital": 0, "essential": 1, "desirable": 2}
UNKNOWN_RANK = len(RANKS)


@dataclass(frozen=True)
class Wish:
    """A claim without lots. ``criticality`` as of the pump; what is not known ranks last."""

    job_number: str
    criticality: str
    due: datetime.date
    quantity: Decimal

    @property
    def rank(self) -> tuple[int, datetime.date, str]:
        """By which claims are put in order."""
        return RANKS.get(self.criticality, UNKNOWN_RANK), self.due, self.job_number


@dataclass(frozen=True)
class Share:
    """What becomes of a wish: served ``on`` a day, None where nothing known would do. ``waits_for`` what comes on that
    day; ``behind`` the jobs served until then that rank before it; ``enough_alone`` whether it would have been served
    on its day if nobody ranked before it."""

    wish: Wish
    due: datetime.date
    on: datetime.date | None
    waits_for: tuple[str, ...]
    behind: tuple[str, ...]
    enough_alone: bool

    @property
    def waits(self) -> bool:
        """Whether it is not served on its day."""
        return self.on != self.due


@dataclass(frozen=True)
class SharedOut:
    """All wishes in their order; units asked for, served on their day, and served on it at most by any order."""

    shares: tuple[Share, ...]
    asked: Decimal
    on_their_day: Decimal
    on_their_day_at_most: Decimal

    @property
    def fewer(self) -> Decimal:
        """What the order costs: units that another order would serve on their day."""
        return self.on_their_day_at_most - self.on_their_day


def share_out(supplies: Sequence[Supply], wishes: Sequence[Wish], *, today: datetime.date) -> SharedOut:
    """Share supplies out to wishes, each served whole or not at all; a day that has passed counts as today."""
    served: list[Need] = []
    names: list[str] = []
    shares = []
    comes = sorted({one.from_day for one in supplies if one.quantity > 0})
    for wish in sorted(wishes, key=lambda one: one.rank):
        due = max(wish.due, today)
        on = next((day for day in _days(due, comes) if _fits(supplies, served, day, wish.quantity)), None)
        late = on != due
        shares.append(
            Share(
                wish,
                due,
                on,
                _coming(supplies, on) if on is not None and late else (),
                tuple(name for name, need in zip(names, served, strict=True) if on is None or need.day <= on)
                if late
                else (),
                not late or _fits(supplies, [], due, wish.quantity),
            )
        )
        if on is not None:
            served.append(Need(wish.job_number, on, wish.quantity))
            names.append(wish.job_number)
    asked = sum((one.quantity for one in wishes), ZERO)
    all_at_once = [Need(one.job_number, max(one.due, today), one.quantity) for one in wishes]
    return SharedOut(
        tuple(shares),
        asked,
        sum((one.wish.quantity for one in shares if not one.waits), ZERO),
        asked - serve(supplies, all_at_once).shortage,
    )


def _days(due: datetime.date, comes: Sequence[datetime.date]) -> list[datetime.date]:
    """Between two days on which something comes, whatever serves the later one serves the earlier one."""
    return [due, *(day for day in comes if day > due)]


def _fits(supplies: Sequence[Supply], served: Sequence[Need], day: datetime.date, quantity: Decimal) -> bool:
    return serve(supplies, [*served, Need("", day, quantity)]).shortage == 0


def _coming(supplies: Sequence[Supply], on: datetime.date) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.label for one in supplies if one.from_day == on and one.quantity > 0))
