"""How uncertain a measured value is, after the GUM (JCGM 100:2008).

A budget is a list of contributions, each a standard uncertainty of one input with the sensitivity of the value to it.
Inputs count as uncorrelated. Type A are those that come from the scatter of readings and have degrees of freedom; the
others are known well enough to count as infinitely many.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from functools import lru_cache

from scipy.special import stdtrit

COVERAGE_FACTOR = Decimal(2)
SOURCE = "JCGM 100:2008"
# The share of a normal distribution within two standard deviations, as the quantile of its upper end.
_UPPER_END_OF_TWO_SIGMA = 0.977249868051820793
# Beyond these degrees of freedom the coverage factor is 2.00 to its last place shown.
_AS_GOOD_AS_INFINITE = Decimal(9999)
_SHOWN = Decimal("0.01")
_ROOT_2, _ROOT_3, _ROOT_12 = (Decimal(one).sqrt() for one in (2, 3, 12))


@dataclass(frozen=True)
class Contribution:
    """One line of a budget.

    ``standard`` is the standard uncertainty of the input in ``unit``; ``sensitivity`` how much the value changes for
    one of it (of several readings alike, the root of the sum of squares). ``degrees_of_freedom`` is None for infinitely
    many. ``of`` names the readings it comes from, ``words`` how it was had.
    """

    name: str
    standard: Decimal
    unit: str
    sensitivity: Decimal = Decimal(1)
    degrees_of_freedom: Decimal | None = None
    of: str = ""
    words: str = ""

    @property
    def amount(self) -> Decimal:
        """What it adds to the value's uncertainty, in the value's unit."""
        return abs(self.sensitivity) * self.standard

    def scaled(self, factor: Decimal) -> "Contribution":
        """The same for a value in another unit, ``factor`` times as large a number."""
        if factor == 1:
            return self
        return Contribution(
            self.name, self.standard, self.unit, self.sensitivity * factor, self.degrees_of_freedom, self.of, self.words
        )


@dataclass(frozen=True)
class Budget:
    """Lines, combined standard uncertainty, effective degrees of freedom (None: infinite), k and U = k u."""

    lines: tuple[Contribution, ...]
    combined: Decimal
    degrees_of_freedom: Decimal | None
    coverage_factor: Decimal
    expanded: Decimal


def budget(lines: Sequence[Contribution]) -> Budget:
    """Combined and expanded uncertainty of a value (JCGM 100:2008, 5.1.2, 6.2.1, G.4.1).

    k = 2 where no scatter of few readings weighs; else the factor for the same share of 95.45 % at the effective
    degrees of freedom. A line of nothing is kept, so that it is seen to have been thought of.
    """
    combined = combine(one.amount for one in lines)
    degrees = effective_degrees_of_freedom(lines)
    factor = coverage_factor(None if degrees is None else degrees.to_integral_value(ROUND_FLOOR))
    return Budget(tuple(lines), combined, degrees, factor, factor * combined)


def combine(standards: Iterable[Decimal]) -> Decimal:
    """Root of the sum of squares of uncorrelated parts (JCGM 100:2008, 5.1.2)."""
    return sum((one**2 for one in standards), Decimal(0)).sqrt()


def effective_degrees_of_freedom(lines: Sequence[Contribution]) -> Decimal | None:
    """After Welch and Satterthwaite: ``u^4 / sum(u_i^4 / v_i)`` (JCGM 100:2008, G.4.1); None for infinitely many."""
    scattered = sum(
        (one.amount**4 / one.degrees_of_freedom for one in lines if one.degrees_of_freedom is not None), Decimal(0)
    )
    if scattered == 0:
        return None
    found = combine(one.amount for one in lines) ** 4 / scattered
    return None if found > _AS_GOOD_AS_INFINITE else found


@lru_cache(maxsize=256)
def coverage_factor(degrees_of_freedom: Decimal | None, upper_end: float = _UPPER_END_OF_TWO_SIGMA) -> Decimal:
    """Student's factor for a share of 95.45 %, to two places: 2 for infinitely many degrees of freedom.

    Degrees of freedom are cut to a whole number (JCGM 100:2008, G.4.1, note 1; table G.2). ``upper_end`` is the
    quantile of the upper end, 0.995 for a share of 99 %.
    """
    if degrees_of_freedom is None:
        return Decimal(str(float(stdtrit(1e12, upper_end)))).quantize(_SHOWN)
    whole = max(degrees_of_freedom.to_integral_value(ROUND_FLOOR), Decimal(1))
    return Decimal(str(float(stdtrit(float(whole), upper_end)))).quantize(_SHOWN)


def calibration(expanded_uncertainty: Decimal, unit: str, *, of: str = "") -> Contribution:
    """Half of a certificate's expanded uncertainty, which is stated for k = 2 (4.3.3). Raises `ValueError` below 0."""
    return Contribution(
        "calibration",
        _not_negative(expanded_uncertainty) / COVERAGE_FACTOR,
        unit,
        of=of,
        words="half of the certificate's expanded uncertainty (k = 2)",
    )


def resolution(step: Decimal, unit: str, *, of: str = "") -> Contribution:
    """A reading stands anywhere in one step with equal chance: step / sqrt(12) (4.3.7, F.2.2.1)."""
    return Contribution("resolution", _not_negative(step) / _ROOT_12, unit, of=of, words="one step / √12, rectangular")


def rectangular(
    name: str, half_width: Decimal, unit: str, sensitivity: Decimal = Decimal(1), *, of: str = "", words: str = ""
) -> Contribution:
    """An input known to lie within a half width to both sides, anywhere with equal chance: a / sqrt(3) (4.3.7)."""
    standard = _not_negative(half_width) / _ROOT_3
    return Contribution(name, standard, unit, sensitivity, of=of, words=words or "half width / √3, rectangular")


def arcsine(amplitude: Decimal) -> Decimal:
    """Standard uncertainty of what swings like a sine within an amplitude: a / sqrt(2) (H.1.3.4)."""
    return _not_negative(amplitude) / _ROOT_2


def repeatability(readings: Sequence[Decimal], unit: str, *, of: str = "") -> Contribution:
    """Scatter of two or more readings whose mean is used (4.2.3), with one degree of freedom fewer than readings."""
    return Contribution(
        "repeatability",
        standard_deviation_of_mean(readings),
        unit,
        degrees_of_freedom=Decimal(len(readings) - 1),
        of=of,
        words=f"standard deviation of {len(readings)} readings / √{len(readings)}",
    )


def standard_deviation_of_mean(readings: Sequence[Decimal]) -> Decimal:
    """s / sqrt(n) of two or more readings (JCGM 100:2008, 4.2.2 and 4.2.3)."""
    count = len(readings)
    mean = sum(readings, Decimal(0)) / count
    scatter = sum(((one - mean) ** 2 for one in readings), Decimal(0))
    return (scatter / (count - 1) / count).sqrt()


def _not_negative(value: Decimal) -> Decimal:
    if value < 0:
        raise ValueError("An uncertainty or a resolution below zero makes no sense.")
    return value
