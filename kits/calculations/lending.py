"""What a site can lend without its own jobs going short."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from kits.calculations.stock_projection import Need, Supply, serve

ZERO = Decimal(0)


@dataclass(frozen=True)
class Lent:
    """What is taken of which lot, by place in the supplies, and what is left of all of them."""

    taken: tuple[tuple[int, Decimal], ...]
    left: tuple[Supply, ...]

    @property
    def quantity(self) -> Decimal:
        """All that is taken."""
        return sum((amount for _, amount in self.taken), ZERO)


def lend(supplies: Sequence[Supply], quantity: Decimal, *, leaving: datetime.date, lasting: datetime.date) -> Lent:
    """Take up to so many of what is there on the day of leaving and still in date on ``lasting``, the lots that die
    first taken first: whatever the lender needs later is served best by those that die last."""
    order = sorted(range(len(supplies)), key=lambda place: (supplies[place].dies, supplies[place].from_day, place))
    wanted, taken, left = quantity, [], list(supplies)
    for place in order:
        one = supplies[place]
        amount = min(wanted, one.quantity)
        if amount > 0 and one.from_day <= leaving and one.dies >= lasting:
            taken.append((place, amount))
            left[place] = replace(one, quantity=one.quantity - amount)
            wanted -= amount
    return Lent(tuple(taken), tuple(left))


def lendable(
    supplies: Sequence[Supply], needs: Sequence[Need], *, leaving: datetime.date, lasting: datetime.date
) -> Lent:
    """The most that can leave without any of the needs going shorter than it does already.

    Each unit that leaves makes at most one unit of the needs short, so taking off what goes short ends at the most.
    """
    before = serve(supplies, needs).shortage
    found = lend(supplies, sum((one.quantity for one in supplies), ZERO), leaving=leaving, lasting=lasting)
    while found.taken and (worse := serve(found.left, needs).shortage - before) > 0:
        found = lend(supplies, found.quantity - worse, leaving=leaving, lasting=lasting)
    return found
