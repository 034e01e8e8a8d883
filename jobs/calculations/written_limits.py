"""Worked out figures as people read them: with as many digits as an instrument tells, never with a dozen.

What is judged, kept and answered keeps every digit; only words, pages and papers are shortened. A figure of four
decimals or fewer stands as it is written. A limit is shortened inwards, so that what its words let pass the limit does.
"""

from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal

from assets.calculations.written_numbers import plain

# A ten-thousandth of a millimetre, a hundredth of a micrometre: finer than what a workshop reads (common practice, no
# source). Two figures at least, as of an uncertainty (JCGM 100:2008, 7.2.6).
DECIMALS, DECIMALS_OF_MICROMETRES = 4, 2
_MICROMETRES = frozenset(["um", "µm", "μm"])


def legible(value: Decimal, unit: str = "", rounding: str = ROUND_HALF_EVEN) -> str:
    """A figure in words, shortened where it has more than four decimals."""
    written = plain(value)
    if len(written.partition(".")[2]) <= DECIMALS:
        return written
    shortest = value.normalize()
    places = max(DECIMALS_OF_MICROMETRES if unit in _MICROMETRES else DECIMALS, 1 - shortest.adjusted())
    return plain(shortest.quantize(Decimal(1).scaleb(-places), rounding))


def lower_limit(value: Decimal, unit: str = "") -> str:
    """A lower limit in words, never below the real one."""
    return legible(value, unit, ROUND_CEILING)


def upper_limit(value: Decimal, unit: str = "") -> str:
    """An upper limit in words, never above the real one."""
    return legible(value, unit, ROUND_FLOOR)
