"""How long a rolling bearing lasts, and whether it bears its load standing still.

Basic rating life after ISO 281:2007, static safety after ISO 76:2006 (all figures value from memory). The ratings C and
C0, and the factors X and Y, are those of the bearing that is fitted, from its catalogue: they differ between makers, so
none is kept here. Loads in kN, speeds in rpm, lives in hours or millions of revolutions.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

# Exponent of the life formula (ISO 281:2007, 5.3 and 7.3).
EXPONENTS = {"ball": Decimal(3), "roller": Decimal(10) / 3}
# Slope of the distribution of lives that joins the lives of several bearings (value from memory).
SLOPES = {"ball": Decimal(10) / 9, "roller": Decimal(9) / 8}
# a1 by reliability in per cent (ISO 281:2007 table 12; the edition of 1990 had 0.62 for 95 %).
RELIABILITY_FACTORS = {
    90: Decimal(1),
    95: Decimal("0.64"),
    96: Decimal("0.55"),
    97: Decimal("0.47"),
    98: Decimal("0.37"),
    99: Decimal("0.25"),
}
# Above this share of the rating the formula no longer holds (ISO 281:2007 clause 1).
LARGEST_SHARE_OF_RATING = Decimal("0.5")
_MILLION, _MINUTES = Decimal(1_000_000), Decimal(60)


class LifeUnknown(ValueError):
    """The formula does not hold for this load, kind or reliability."""


@dataclass(frozen=True)
class RatingLife:
    """Equivalent load in kN; basic rating life in millions of revolutions and hours; the same at the reliability."""

    equivalent_load_kn: Decimal
    l10_million: Decimal
    l10_hours: Decimal
    reliability_factor: Decimal
    life_hours: Decimal


def equivalent_load(*, radial_kn: Decimal, axial_kn: Decimal, x: Decimal, y: Decimal) -> Decimal:
    """P = X Fr + Y Fa, and never less than Fr, in kN (ISO 281:2007, 5.2 and 7.2)."""
    return max(x * radial_kn + y * axial_kn, radial_kn)


def rating_life(
    *, rating_kn: Decimal, load_kn: Decimal, speed_rpm: Decimal, kind: str, reliability_percent: int = 90
) -> RatingLife:
    """L10 = (C/P)^p, L10h = 10^6 L10 / (60 n), Ln = a1 L10 (ISO 281:2007, 5.3, 7.3 and 9.2).

    Raises `LifeUnknown` for a load of 0 or above half the rating, and for a reliability that the table does not have.
    """
    if kind not in EXPONENTS:
        raise LifeUnknown(f"{kind!r} is no kind of bearing; write {' or '.join(EXPONENTS)}.")
    if reliability_percent not in RELIABILITY_FACTORS:
        known = ", ".join(str(one) for one in RELIABILITY_FACTORS)
        raise LifeUnknown(f"The standard has no factor for {reliability_percent} %; it has {known}.")
    if load_kn <= 0:
        raise LifeUnknown("A bearing without load has no rating life; it needs a least load to roll at all.")
    if load_kn > LARGEST_SHARE_OF_RATING * rating_kn:
        raise LifeUnknown(f"The load of {load_kn:.3f} kN is above half the rating, where the formula does not hold.")
    millions = (rating_kn / load_kn) ** EXPONENTS[kind]
    hours = _MILLION * millions / (_MINUTES * speed_rpm)
    factor = RELIABILITY_FACTORS[reliability_percent]
    return RatingLife(load_kn, millions, hours, factor, factor * hours)


def life_of_all(lives_hours: Sequence[Decimal], slope: Decimal) -> Decimal:
    """L = (sum of Li^-e)^(-1/e): the hours until the first of several bearings fails, at the same reliability.

    Raises `LifeUnknown` for a life that is not above 0.
    """
    if not lives_hours or min(lives_hours) <= 0:
        raise LifeUnknown("Every bearing needs a life above 0 hours.")
    return sum((life**-slope for life in lives_hours), Decimal(0)) ** (-1 / slope)


@dataclass(frozen=True)
class StaticSafety:
    """Static equivalent load in kN and how often it goes into the static rating."""

    equivalent_load_kn: Decimal
    safety: Decimal


def static_safety(
    *, rating_kn: Decimal, radial_kn: Decimal, axial_kn: Decimal, x0: Decimal, y0: Decimal
) -> StaticSafety:
    """s0 = C0/P0 with P0 = X0 Fr + Y0 Fa, not less than Fr (ISO 76:2006). Raises `LifeUnknown` without any load."""
    load = max(x0 * radial_kn + y0 * axial_kn, radial_kn)
    if load <= 0:
        raise LifeUnknown("Without a load there is no static safety to work out.")
    return StaticSafety(load, rating_kn / load)
