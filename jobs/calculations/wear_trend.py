"""How fast a part wears, and when it comes to its limit.

The value is taken as ``level + rate * age``. All parts that sat in one position wear at one rate, each from a level of
its own: the rate is fitted by least squares within segments, so a renewal moves the level and not the rate. With one
segment this is the usual straight line. Intervals are Student's t with ``points - segments - 1`` degrees of freedom.
Formulas: Draper, Smith 1998, Applied Regression Analysis, 3rd ed., sections 1.4 (rate, its interval), 3.1 (a further
observation), 3.2 (the age read backwards from a value, after Fieller 1954) and 14 (segments as dummy variables).

Where one value lies far off (modified z-score above 3.5 from the line of medians: Iglewicz, Hoaglin 1993, How to Detect
and Handle Outliers) and there are at least five in one segment, the rate is the median of the slopes of all pairs
instead (Theil 1950, Sen 1968, J. Am. Stat. Assoc. 63:1379-1389): one bad reading moves a least squares line as far as
it likes, and this one hardly.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtr, stdtrit
from scipy.stats import theilslopes

Floats = NDArray[np.float64]
Method = Literal["least-squares", "median-of-slopes"]

FEWEST = 3
FEWEST_FOR_MEDIAN = 5
FAR_OFF = 3.5
CONFIDENCE = 0.95


@dataclass(frozen=True)
class WearFit:
    """Value at an age on the present part: ``level + rate * age``, the rate a running hour.

    ``spread`` is the standard deviation about the line, ``freedom`` its degrees of freedom; ``here`` how many values
    are of the present part, at the mean age ``middle`` and the mean value ``height``; ``width`` the sum of squares of
    ages about their segments' means. ``rate_low``, ``rate_high`` hold the rate with `CONFIDENCE`.
    """

    method: Method
    rate: float
    rate_low: float
    rate_high: float
    level: float
    spread: float
    freedom: int
    points: int
    segments: int
    here: int
    middle: float
    height: float
    width: float

    @property
    def moves(self) -> bool:
        """Whether the interval of the rate leaves zero out: that it wears at all is told."""
        return self.rate_low > 0 or self.rate_high < 0


@dataclass(frozen=True)
class Reached:
    """Ages at which a value is reached: expected, and the ends of the interval; None where it never is by then."""

    age: float
    earliest: float
    latest: float | None


def fit_wear(ages: ArrayLike, values: ArrayLike, segments: ArrayLike, present: int) -> WearFit | None:
    """The fit, for the part whose segment is ``present``; None where too little tells: fewer than three values that
    are not alone in their segment, ages that are all alike, no value of the present part, or nothing left to judge the
    spread by."""
    age, value, part = (np.asarray(one, dtype=np.float64) for one in (ages, values, segments))
    kept = _not_alone(part, present)
    age, value, part = age[kept], value[kept], part[kept]
    names, place = np.unique(part, return_inverse=True)
    freedom = len(age) - len(names) - 1
    here = part == present
    if len(age) < FEWEST or freedom < 1 or not here.any():
        return None
    counts = np.bincount(place)
    means = np.bincount(place, age) / counts, np.bincount(place, value) / counts
    step, rise = age - means[0][place], value - means[1][place]
    width = float(step @ step)
    if width <= 1e-9 * max(float(age @ age), 1.0):
        return None
    middle, height, count = float(age[here].mean()), float(value[here].mean()), int(here.sum())
    rate = float(step @ rise) / width
    spread = math.sqrt(max(float(((rise - rate * step) ** 2).sum()), 0.0) / freedom)
    half = float(stdtrit(freedom, (1 + CONFIDENCE) / 2)) * spread / math.sqrt(width)
    method: Method = "least-squares"
    low, high, level = rate - half, rate + half, height - rate * middle
    if len(names) == 1 and len(age) >= FEWEST_FOR_MEDIAN and _one_lies_far_off(age, value):
        found = theilslopes(value, age, CONFIDENCE)
        method, rate = "median-of-slopes", float(found.slope)
        level = float(np.median(value - rate * age))
        low, high = float(found.low_slope), float(found.high_slope)
        off = value - level - rate * age
        spread, middle = 1.4826 * float(np.median(np.abs(off - np.median(off)))), float(np.median(age))
        height = level + rate * middle
    return WearFit(method, rate, low, high, level, spread, freedom, len(age), len(names), count, middle, height, width)


def _not_alone(part: Floats, present: int) -> NDArray[np.bool_]:
    """A value alone in its segment says nothing of the rate; of the present part it says where that one stands."""
    _, place, counts = np.unique(part, return_inverse=True, return_counts=True)
    return np.asarray((counts[place] > 1) | (part == present))


def _one_lies_far_off(age: Floats, value: Floats) -> bool:
    """Whether a value lies far off the line of medians."""
    first, second = np.triu_indices(len(age), 1)
    apart = age[second] != age[first]
    slopes = (value[second] - value[first])[apart] / (age[second] - age[first])[apart]
    off = value - float(np.median(slopes)) * age
    about = np.abs(off - np.median(off))
    middle = float(np.median(about))
    # Where half of the values lie on the line to the last figure, nothing tells what is far.
    return middle > 1e-12 and bool((0.6745 * about > FAR_OFF * middle).any())


def value_at(fit: WearFit, age: float, *, confidence: float = CONFIDENCE) -> tuple[float, float, float]:
    """(expected, low, high) of one further measurement of the present part at an age."""
    expected = fit.level + fit.rate * age
    if fit.method == "median-of-slopes":
        ends = [fit.height + one * (age - fit.middle) for one in (fit.rate_low, fit.rate_high)]
        return expected, min(ends), max(ends)
    half = float(stdtrit(fit.freedom, (1 + confidence) / 2)) * _error_at(fit, age)
    return expected, expected - half, expected + half


def age_at(fit: WearFit, limit: float, *, confidence: float = CONFIDENCE) -> Reached | None:
    """The age at which the present part is measured at a limit that its rate leads to; 0 where it was beyond it from
    the beginning, None where the rate is zero.

    The ends are where the band of a further measurement meets the limit (Fieller); the later one is None where the band
    never wholly passes it, as where the rate's interval holds zero.
    """
    if fit.rate == 0:
        return None
    age = max((limit - fit.level) / fit.rate, 0.0)
    if fit.method == "median-of-slopes":
        ends = [
            fit.middle + (limit - fit.height) / one if one * fit.rate > 0 else math.inf
            for one in (fit.rate_low, fit.rate_high)
        ]
        late = max(*ends, age)
        return Reached(age, max(min(*ends, age), 0.0), late if math.isfinite(late) else None)
    turn = float(stdtrit(fit.freedom, (1 + confidence) / 2))
    earliest, latest = _meets(fit, limit, turn)
    # Rounding must not let the ends of a band without width pass each other.
    return Reached(age, min(max(earliest, 0.0), age), None if latest is None else max(latest, age))


def _error_at(fit: WearFit, age: float) -> float:
    return fit.spread * math.sqrt(1 + 1 / fit.here + (age - fit.middle) ** 2 / fit.width)


def _meets(fit: WearFit, limit: float, turn: float) -> tuple[float, float | None]:
    """Ages at which the band meets the limit: ``(gap - rate x)^2 = (turn spread)^2 (1 + 1/n + x^2 / width)``, with x
    from the mean age and ``gap`` from the mean value."""
    gap, wide = limit - fit.height, (turn * fit.spread) ** 2
    square = fit.rate**2 - wide / fit.width
    constant = gap**2 - wide * (1 + 1 / fit.here)
    if abs(square) <= 1e-12 * fit.rate**2:
        return fit.middle + constant / (2 * fit.rate * gap) if gap else fit.middle, None
    root = (fit.rate * gap) ** 2 - square * constant
    if square > 0:
        half = math.sqrt(max(root, 0.0))
        ends = sorted((fit.rate * gap + sign * half) / square for sign in (-1, 1))
        return fit.middle + ends[0], fit.middle + ends[1]
    if root < 0 or constant <= 0:
        # The band holds the limit at every age: it may be there now as well as never.
        return 0.0, None
    # The rate may be of either sign: the end that lies ahead is where it would be soonest.
    return fit.middle + max((fit.rate * gap + sign * math.sqrt(root)) / square for sign in (-1, 1)), None


def chance_reached(fit: WearFit, limit: float, ages: ArrayLike) -> Floats:
    """The chance that a measurement at each age, in rising order, lies at or beyond the limit, in the direction of the
    rate; of a median of slopes by the spread about its line."""
    age = np.asarray(ages, dtype=np.float64)
    beyond = (fit.level + fit.rate * age - limit) * math.copysign(1.0, fit.rate)
    error = fit.spread * np.sqrt(1 + 1 / fit.here + (age - fit.middle) ** 2 / fit.width)
    with np.errstate(divide="ignore", invalid="ignore"):
        found = stdtr(fit.freedom, np.where(error > 0, beyond / error, np.where(beyond >= 0, np.inf, -np.inf)))
    return np.maximum.accumulate(np.asarray(found, dtype=np.float64))


def limit_ahead(fit: WearFit, lower: float | None, upper: float | None) -> float | None:
    """The limit that the rate leads to; None where there is none on that side."""
    return upper if fit.rate > 0 else lower if fit.rate < 0 else None


@dataclass(frozen=True)
class Rates:
    """Wear rates of a model's pumps, each a running hour: how many pumps, their quartiles, and the rate of all values
    taken together, one level a part, with its interval; None where too little tells."""

    pumps: int
    lower_quartile: float
    median: float
    upper_quartile: float
    pooled: float | None
    pooled_low: float | None
    pooled_high: float | None


def rates_of_model(rates: Sequence[float], pooled: WearFit | None) -> Rates | None:
    """The population of rates; None without any."""
    if not rates:
        return None
    low, middle, high = (float(one) for one in np.quantile(np.asarray(rates), [0.25, 0.5, 0.75]))
    together = (pooled.rate, pooled.rate_low, pooled.rate_high) if pooled else (None, None, None)
    return Rates(len(rates), low, middle, high, *together)


def standing(rate: float, rates: Sequence[float]) -> float | None:
    """The share of a model's pumps that wear less than this one, ties counted half (a percentile rank); None where it
    is the only one."""
    others = np.asarray(rates)
    if len(others) < 2:
        return None
    return float(((np.abs(others) < abs(rate)).sum() + 0.5 * (np.abs(others) == abs(rate)).sum()) / len(others))
