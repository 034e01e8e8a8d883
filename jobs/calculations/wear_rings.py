"""Running clearance of wear rings: the least that API 610 (ISO 13709) allows when new, and when a ring is renewed.

Diametral clearances and diameters in millimetres. The least clearance is for pumps built to that standard; any other
pump follows its maker's value, which is often larger.
"""

from bisect import bisect_right
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from jobs.calculations.written_limits import DECIMALS, legible

STANDARD, EDITION, PLACE = "API 610 / ISO 13709", "2009", "table 6"
# Diameter from which a clearance holds, and the clearance (steps between 425 and 600 mm value from memory).
_TABLE = tuple(
    (Decimal(start), Decimal(clearance))
    for start, clearance in (
        ("0", "0.25"), ("50", "0.28"), ("65", "0.30"), ("80", "0.33"), ("90", "0.35"), ("100", "0.38"),
        ("115", "0.40"), ("125", "0.43"), ("150", "0.45"), ("175", "0.48"), ("200", "0.50"), ("225", "0.53"),
        ("250", "0.55"), ("275", "0.58"), ("300", "0.60"), ("325", "0.63"), ("350", "0.65"), ("375", "0.68"),
        ("400", "0.70"), ("425", "0.73"), ("450", "0.75"), ("475", "0.78"), ("500", "0.80"), ("525", "0.83"),
        ("550", "0.85"), ("575", "0.88"), ("600", "0.90"), ("625", "0.95"),
    )
)  # fmt: skip
_LAST_DIAMETER, _LAST_CLEARANCE, _PER_MM = Decimal("649.99"), Decimal("0.95"), Decimal("0.001")
# What is added for materials that gall or above 260 degC (value from memory).
GALLING_EXTRA = Decimal("0.125")
# A ring is renewed at this multiple of its clearance as new (common practice, no source; 1.5 where efficiency counts).
USUAL_FACTOR = Decimal(2)
KEEP, RENEW, TIGHT = "keep", "renew", "too tight"


class RingUnknown(ValueError):
    """The diameter or a clearance is not one of a wear ring."""


@dataclass(frozen=True)
class RingClearance:
    """Least clearance as new after the standard, what was taken as new, where to renew, and the finding (empty where
    nothing was measured); diametral, in mm."""

    least_as_new_mm: Decimal
    as_new_mm: Decimal
    renew_above_mm: Decimal
    finding: str
    words: str


def least_clearance(diameter_mm: Decimal, *, galls_or_hot: bool = False) -> Decimal:
    """The least diametral clearance of a new ring of this diameter, in mm. Raises `RingUnknown`.

    Above 649.99 mm 1 um is added for each further millimetre or part of one (value from memory).
    """
    if not diameter_mm.is_finite() or diameter_mm <= 0:
        raise RingUnknown(f"{diameter_mm} mm is no diameter of a wear ring.")
    extra = GALLING_EXTRA if galls_or_hot else Decimal(0)
    if diameter_mm > _LAST_DIAMETER:
        further = (diameter_mm - _LAST_DIAMETER).to_integral_value(ROUND_CEILING)
        return _LAST_CLEARANCE + _PER_MM * further + extra
    return _TABLE[bisect_right(_TABLE, diameter_mm, key=lambda row: row[0]) - 1][1] + extra


def ring_clearance(
    *,
    diameter_mm: Decimal,
    measured_mm: Decimal | None = None,
    as_new_mm: Decimal | None = None,
    factor: Decimal = USUAL_FACTOR,
    galls_or_hot: bool = False,
) -> RingClearance:
    """Judge a measured clearance against the pump's own value as new, or the standard's least where none is known.

    Renewed above ``factor`` times the value as new. Raises `RingUnknown`.
    """
    least = least_clearance(diameter_mm, galls_or_hot=galls_or_hot)
    new = least if as_new_mm is None else as_new_mm
    renew_above = factor * new
    whose = "the standard's least" if as_new_mm is None else "this pump's own value as new"
    if measured_mm is None:
        return RingClearance(
            least, new, renew_above, "", f"Renew above {_told(renew_above)} mm, {factor:f} times {whose}."
        )
    share, told, told_new = measured_mm / new, _told(measured_mm), _told(new)
    if measured_mm > renew_above:
        finding, words = RENEW, f"Renew: {told} mm is {share:.2f} times {whose}, {told_new} mm."
    elif measured_mm < min(least, new):
        finding = TIGHT
        words = f"Too tight: {told} mm is below {_told(min(least, new))} mm; the rings may touch. Measure again."
    else:
        finding, words = KEEP, f"Keep: {told} mm is {share:.2f} times {whose}, {told_new} mm."
    return RingClearance(least, new, renew_above, finding, words)


def _told(clearance: Decimal) -> str:
    """With the places it was given with; a figure that was converted with no more than an instrument tells."""
    places = -int(clearance.as_tuple().exponent)
    return f"{clearance:f}" if places <= DECIMALS else legible(clearance)
