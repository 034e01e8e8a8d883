"""How long parts of a model last in their position, by the way they failed.

A life ends as a failure of one mode where the part was taken out for it; for every other mode, where it was renewed
with nothing said against it, or where it still runs, its life is only known to be longer (competing risks: Meeker,
Escobar 1998, Statistical Methods for Reliability Data, section 15.4). Bounds are normal on the logarithms, from the
information of the likelihood (the same, section 8.4).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.stats import norm

from assets.calculations.position_words import position_words
from jobs.calculations.failure_codes import condition_words
from jobs.calculations.weibull import WeibullFit, fit_weibull

FEWEST_FAILURES = 3
CONFIDENCE = 0.95
ANY_MODE = ""
_UNCODED = {ANY_MODE: "any way of failing", "not-coded": "in a way that was not coded"}
# Out of the pump sooner than this it was never run: taken out again in the same job (common practice, no source).
SHORTEST_HOURS = 1.0

Reading = Literal["too-few", "early", "chance", "wear-out", "not-told", "alike"]
READINGS = {
    "too-few": "Too few failures to tell.",
    "early": (
        "Early failures: the shape is below 1, a part that has lasted is less likely to fail. Look at how parts are "
        "fitted and run in; renewing sound ones makes it worse."
    ),
    "chance": "Chance: the shape is about 1, the chance does not change with age. Renewing by age does not help.",
    "wear-out": "Wear-out: the shape is above 1, the chance grows with age. Renewing by age helps.",
    "not-told": "The bounds of the shape hold 1, so nothing tells whether the chance grows with age.",
    "alike": "All failed at nearly one age, so the shape has no bounds.",
}
# A shape is about 1 where its bounds hold 1 and stay within these (common practice, no source).
ABOUT_ONE = (0.5, 2.0)


@dataclass(frozen=True)
class PartLife:
    """Running hours of one part in its position, and how it failed; None where it did not as far as is known. Where
    nobody coded it the mode is *not-coded*."""

    role: str
    hours: float
    mode: str | None


@dataclass(frozen=True)
class Bounds:
    """A figure with its bounds at `CONFIDENCE`."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class LifeOfMode:
    """What the lives of a role say of one mode, `ANY_MODE` for all of them together. Hours; no figures where too few
    failed. ``b10``: the age by which one part in ten has failed."""

    role: str
    mode: str
    failures: int
    censored: int
    shape: Bounds | None
    scale: Bounds | None
    b10: Bounds | None
    mean: float | None
    reading: Reading

    @property
    def words(self) -> str:
        """The reading as sentences."""
        what = f"{position_words(self.role)}, {_UNCODED.get(self.mode) or condition_words(self.mode)}"
        counted = f"{self.failures} failed, {self.censored} lasted longer than is known"
        if self.shape is None or self.scale is None or self.b10 is None:
            return f"{what}: {counted}. {READINGS[self.reading]}"
        bounds = f"{self.shape.low:.2f} to {self.shape.high:.2f}"
        tenth = f"{self.b10.value:.0f} h ({self.b10.low:.0f} to {self.b10.high:.0f} h)"
        return (
            f"{what}: {counted}. One in ten has failed by {tenth}. Shape {self.shape.value:.2f} ({bounds}), scale "
            f"{self.scale.value:.0f} h. {READINGS[self.reading]}"
        )


def lives_of_parts(lives: Sequence[PartLife]) -> list[LifeOfMode]:
    """By role: all ways of failing together, then each one, in the order of their names."""
    found = []
    for role in sorted({one.role for one in lives}):
        mine = [one for one in lives if one.role == role and one.hours >= SHORTEST_HOURS]
        modes = sorted({one.mode for one in mine if one.mode is not None})
        for mode in [ANY_MODE, *(modes if len(modes) > 1 or modes != ["not-coded"] else [])]:
            ages = np.array([one.hours for one in mine])
            failed = np.array([one.mode is not None if mode == ANY_MODE else one.mode == mode for one in mine], bool)
            found.append(life_of_mode(role, mode, ages, failed))
    return found


def life_of_mode(role: str, mode: str, ages: np.ndarray, failed: np.ndarray) -> LifeOfMode:
    """The Weibull life of ages in hours; figures only where at least `FEWEST_FAILURES` failed."""
    failures = int(failed.sum())
    counts = failures, len(ages) - failures
    if failures < FEWEST_FAILURES:
        return LifeOfMode(role, mode, *counts, None, None, None, None, "too-few")
    fit = fit_weibull(ages, failed)
    shape, scale, tenth = bounds_of(fit)
    return LifeOfMode(role, mode, *counts, shape, scale, tenth, fit.mean, _reading(fit, shape))


def bounds_of(fit: WeibullFit, *, confidence: float = CONFIDENCE, share: float = 0.1) -> tuple[Bounds, Bounds, Bounds]:
    """(shape, scale, age by which a share has failed), each with its bounds; that age by the delta method:
    ``ln age = ln scale + ln(-ln(1 - share)) / shape``."""
    turn = float(norm.ppf((1 + confidence) / 2))
    vss, vse, vee = fit.covariance
    bend = math.log(-math.log1p(-share)) / fit.shape
    of_age = vee + bend * bend * vss - 2 * bend * vse
    age = fit.scale * math.exp(bend)
    return (_about(fit.shape, vss, turn), _about(fit.scale, vee, turn), _about(age, max(of_age, 0.0), turn))


def _about(value: float, variance: float, turn: float) -> Bounds:
    factor = math.exp(turn * math.sqrt(variance))
    return Bounds(value, value / factor, value * factor)


def _reading(fit: WeibullFit, shape: Bounds) -> Reading:
    if fit.at_limit:
        return "alike"
    if shape.high < 1:
        return "early"
    if shape.low > 1:
        return "wear-out"
    return "chance" if ABOUT_ONE[0] <= shape.low and shape.high <= ABOUT_ONE[1] else "not-told"
