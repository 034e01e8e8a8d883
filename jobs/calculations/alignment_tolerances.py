"""How far two shafts coupled by a flexible coupling may lie off each other, by speed (common practice, no source).

Tables in use differ by a third and more; which one a verdict was made by is kept with it. The coupling's maker allows
the coupling more than that: these figures are for the life of seals and bearings.
"""

from dataclasses import dataclass
from decimal import Decimal

PRACTICE = "common practice, no source"
TABLE = "short flexible couplings, millimetres, by speed"
EXCELLENT, ACCEPTABLE, REJECTED = "excellent", "acceptable", "not acceptable"
_FASTEST = Decimal(6000)
# Up to a speed in rpm: offset in mm; gap, in mm for each 100 mm of diameter; of a spacer coupling, in mm for each
# 100 mm of spacer. Acceptable before excellent.
_ROWS = tuple(
    (Decimal(rpm), tuple((Decimal(one), Decimal(other)) for one, other in pairs))
    for rpm, pairs in (
        (750, (("0.19", "0.09"), ("0.13", "0.09"), ("0.25", "0.15"))),
        (1500, (("0.09", "0.06"), ("0.07", "0.05"), ("0.12", "0.07"))),
        (3000, (("0.06", "0.03"), ("0.04", "0.03"), ("0.07", "0.04"))),
        (6000, (("0.03", "0.02"), ("0.03", "0.02"), ("0.03", "0.02"))),
    )
)
SOFT_FOOT_MM = Decimal("0.06")


class AlignmentUnknown(ValueError):
    """The tables do not reach this speed."""


@dataclass(frozen=True)
class AlignmentTolerance:
    """``offset_mm`` between the axes, ``gap_mm`` for each 100 mm of diameter, ``spacer_mm`` for each 100 mm of spacer:
    (acceptable, excellent)."""

    up_to_rpm: Decimal
    offset_mm: tuple[Decimal, Decimal]
    gap_mm: tuple[Decimal, Decimal]
    spacer_mm: tuple[Decimal, Decimal]


def alignment_tolerance(speed_rpm: Decimal) -> AlignmentTolerance:
    """The row of the table that holds up to the next speed above: between two rows the stricter counts.

    Raises `AlignmentUnknown`.
    """
    if not speed_rpm.is_finite() or not 0 < speed_rpm <= _FASTEST:
        raise AlignmentUnknown(f"The table reaches {_FASTEST} rpm, not {speed_rpm}.")
    up_to, (offset, gap, spacer) = next(row for row in _ROWS if speed_rpm <= row[0])
    return AlignmentTolerance(up_to, offset, gap, spacer)


def finding(value_mm: Decimal, tolerance: tuple[Decimal, Decimal]) -> str:
    """Excellent, acceptable or not acceptable; a value on a limit belongs to the better side, whatever its sign."""
    acceptable, excellent = tolerance
    size = abs(value_mm)
    return EXCELLENT if size <= excellent else ACCEPTABLE if size <= acceptable else REJECTED
