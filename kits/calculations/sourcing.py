"""Buy, or borrow from another site.

A transfer only shifts stock, so it is proposed where it makes a job wait less, or where it uses what lies idle; and the
lender keeps its own reorder point (Axsaeter 1990, Management Science 36:1329-1338 for emergency transfers; that lenders
keep theirs is common practice, no source).
"""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from assets.calculations.written_numbers import plain


@dataclass(frozen=True)
class Offer:
    """What another site could send: free there today, its reorder point and what it orders at once, both None where it
    was never planned; days under way and cost of a piece, None where nobody said."""

    site_id: uuid.UUID
    code: str
    free: Decimal
    level: int | None = None
    usual: int | None = None
    days: int | None = None
    cost: Decimal | None = None

    @property
    def above_level(self) -> int:
        """Whole pieces that can leave without its free stock falling below its reorder point."""
        return 0 if self.level is None else max(0, int(self.free) - max(self.level, 0))

    @property
    def idle(self) -> int:
        """Whole pieces above what a usual order lifts it to."""
        return 0 if self.level is None else max(0, int(self.free) - max(self.level, 0) - (self.usual or 0))


@dataclass(frozen=True)
class Sourcing:
    """``kind`` is what is proposed; ``lender`` from whom, with a transfer; ``words`` say in a sentence why, or what
    else there is; empty if nothing. ``sites`` are those of which the words tell what is there."""

    kind: str
    words: str
    lender: Offer | None = None
    sites: tuple[uuid.UUID, ...] = ()


def choose_source(*, lacking: Decimal, gap: int, offers: Sequence[Offer], lead_time_days: float) -> Sourcing:
    """Where ``gap`` pieces come from; ``lacking`` are those that jobs wait for before an order would be here. A lender
    sends the more of the two.

    1. Jobs wait, and a site that can spare what they wait for is quicker than the supplier. 2. A site holds so many
    idle. 3. Else they are bought, and what is free elsewhere is told. The quicker lender comes first, then the cheaper,
    then by code.
    """
    known = sorted(
        (one for one in offers if one.days is not None),
        key=lambda one: (one.days or 0, one.cost or Decimal(0), one.code),
    )
    moved = max(Decimal(gap), lacking)
    if lacking > 0:
        for one in known:
            if (one.days or 0) < lead_time_days and Decimal(one.above_level) >= moved:
                return Sourcing(
                    "transfer",
                    f"Jobs wait for {plain(lacking)}: {one.code} can send them in {one.days} days, the supplier in "
                    f"{lead_time_days:.0f}, and keeps its own reorder point.",
                    one,
                    (one.site_id,),
                )
    for one in known:
        if Decimal(one.idle) >= moved:
            words = f"{one.code} holds {one.idle} more than it needs, so nothing need be bought."
            return Sourcing("transfer", words, one, (one.site_id,))
    free = sorted((one for one in offers if one.free > 0), key=lambda one: (-one.free, one.code))[:3]
    return Sourcing("buy", _told(lacking, free, lead_time_days), sites=tuple(one.site_id for one in free))


def _told(lacking: Decimal, free: Sequence[Offer], lead_time_days: float) -> str:
    if not free:
        return ""
    named = ", ".join(f"{one.code} {plain(one.free)}" for one in free)
    if lacking > 0:
        bridge = f"Jobs wait for {plain(lacking)}; asking for a transfer may be quicker than {lead_time_days:.0f} days"
        return f"{bridge}. Free elsewhere: {named}."
    return f"Free elsewhere: {named}. Moving it would only shift the gap, so buying is proposed."
