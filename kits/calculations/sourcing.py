"""Buy, or borrow from another site: what the alternative to an order is."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class Sourcing:
    """``kind`` is what is proposed; ``alternative`` says in a sentence what else there is, empty if nothing."""

    kind: str
    alternative: str


def choose_source(*, needed_now: Decimal, free_elsewhere: Mapping[str, Decimal], lead_time_days: float) -> Sourcing:
    """Buying restores the operator's stock; moving a kit only shifts it, so it is named as the bridge for a need
    that is due before the supplier delivers. Sites with more come first, then by code."""
    offers = sorted(
        ((code, free) for code, free in free_elsewhere.items() if free > 0), key=lambda one: (-one[1], one[0])
    )
    if not offers:
        return Sourcing("buy", "")
    named = ", ".join(f"{code} {free.normalize():f}" for code, free in offers[:3])
    if needed_now > 0:
        bridge = (
            f"Jobs wait for {needed_now.normalize():f}; asking for a transfer is quicker than {lead_time_days:.0f} days"
        )
        return Sourcing("buy", f"{bridge}. Free elsewhere: {named}.")
    return Sourcing("buy", f"Free elsewhere: {named}. Moving stock would only shift the gap, so buying is proposed.")
