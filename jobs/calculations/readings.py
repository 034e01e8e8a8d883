"""From what was read to the value that is judged."""

from collections.abc import Sequence
from decimal import Decimal

RULES = ("single", "mean", "max", "min", "range", "total-indicator-reading")


class ReadingsUnusable(ValueError):
    """These readings give no value by this rule."""


def value_of(readings: Sequence[Decimal], rule: str) -> Decimal:
    """The value that readings of one unit stand for, in that unit.

    ``single`` takes the one reading; ``mean``, ``max`` and ``min`` say themselves; ``range`` is the largest less the
    smallest. ``total-indicator-reading`` is the full swing of an indicator over one turn (full indicator movement in
    ISO 1101): of several readings round the turn it is their range; one reading alone is the swing as read off the
    dial, which cannot be negative.

    Raises `ReadingsUnusable`.
    """
    if not readings:
        raise ReadingsUnusable("There is no reading.")
    if not all(one.is_finite() for one in readings):
        raise ReadingsUnusable("A reading is not a number.")
    if rule == "single":
        if len(readings) != 1:
            raise ReadingsUnusable(f"One reading is judged by itself; {len(readings)} came.")
        return readings[0]
    if rule == "mean":
        return sum(readings, Decimal(0)) / len(readings)
    if rule == "max":
        return max(readings)
    if rule == "min":
        return min(readings)
    if rule == "range":
        if len(readings) == 1:
            raise ReadingsUnusable("A range takes at least two readings.")
        return max(readings) - min(readings)
    if rule == "total-indicator-reading":
        return _swing(readings)
    raise ReadingsUnusable(f"{rule!r} is no rule for readings; known: {', '.join(RULES)}.")


def _swing(readings: Sequence[Decimal]) -> Decimal:
    if len(readings) > 1:
        return max(readings) - min(readings)
    if readings[0] < 0:
        raise ReadingsUnusable("The full swing of an indicator cannot be negative; read largest less smallest.")
    return readings[0]
