"""Weibull lives from ages at overhaul and ages of pumps that still run.

``R(t) = exp(-(t / scale) ** shape)``. Ages are in one unit, hours or days, and the scale is in the same. An age is a
failure where the pump had to be overhauled; where it still runs, or was overhauled because somebody had planned it, the
life is only known to be longer: censored on the right. Formulas: Meeker, Escobar 1998, Statistical Methods for
Reliability Data, chapter 8; Nelson 1982, Applied Life Data Analysis, chapter 8.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

Floats = NDArray[np.float64]

FLATTEST, STEEPEST = 0.05, 20.0
DRAWS = 200


@dataclass(frozen=True)
class WeibullFit:
    """Shape, scale in the unit of the ages, and the covariance of (ln shape, ln scale) as ``(vss, vse, vee)``.

    ``at_limit``: the ages would ask for a shape beyond ``FLATTEST`` or ``STEEPEST``, as they do where all are alike.
    """

    shape: float
    scale: float
    failures: int
    censored: int
    covariance: tuple[float, float, float]
    at_limit: bool = False

    @property
    def mean(self) -> float:
        """Mean life, in the unit of the scale."""
        return self.scale * math.gamma(1 + 1 / self.shape)


def fit_weibull(ages: ArrayLike, failed: ArrayLike) -> WeibullFit:
    """Shape and scale of greatest likelihood. ``ages`` above zero, ``failed`` flags of the same length.

    The shape solves ``1 / b = sum a**b ln a / sum a**b - mean ln f``, with all ages ``a`` and those of failures ``f``;
    ``scale = (sum a**b / failures) ** (1 / b)``. Raises `ValueError` without a failure, or for an age that is none.
    """
    lives, events = _checked(ages, failed)
    logs = np.log(lives)
    middle = float(logs.max())
    # Powers of a ** b overflow; of (a / longest) ** b they do not, and the ratio is the same.
    shifted = logs - middle
    target = float(shifted[events].mean())

    def score(shape: float) -> float:
        weights = np.exp(shape * shifted)
        return float(weights @ shifted / weights.sum()) - 1 / shape - target

    low, high = score(FLATTEST), score(STEEPEST)
    at_limit = low >= 0 or high <= 0
    if at_limit:
        shape = FLATTEST if low >= 0 else STEEPEST
    else:
        shape = float(brentq(score, FLATTEST, STEEPEST, xtol=1e-12, rtol=1e-13))
    scale = _scale(shape, shifted, middle, int(events.sum()))
    failures = int(events.sum())
    # On a limit the shape is no maximum and has no spread of its own.
    covariance = (0.0, 0.0, 1 / (shape**2 * failures)) if at_limit else _covariance(shape, scale, logs, events)
    return WeibullFit(shape, scale, failures, int((~events).sum()), covariance, at_limit)


def fit_scale(ages: ArrayLike, failed: ArrayLike, shape: float) -> WeibullFit:
    """The scale of greatest likelihood where the shape comes from elsewhere; ln scale has the variance
    ``1 / (shape**2 failures)``. Raises `ValueError` as `fit_weibull`."""
    lives, events = _checked(ages, failed)
    logs = np.log(lives)
    middle, failures = float(logs.max()), int(events.sum())
    scale = _scale(shape, logs - middle, middle, failures)
    return WeibullFit(shape, scale, failures, int((~events).sum()), (0.0, 0.0, 1 / (shape * shape * failures)))


def draw(fit: WeibullFit, generator: np.random.Generator, count: int = DRAWS) -> Floats:
    """[count x 2] shapes and scales as the likelihood's covariance lets them be, normal in their logarithms."""
    vss, vse, vee = fit.covariance
    root = np.linalg.cholesky(np.array([[vss + 1e-15, vse], [vse, vee + 1e-15]]))
    steps = generator.standard_normal((count, 2)) @ root.T
    shapes = np.clip(fit.shape * np.exp(steps[:, 0]), FLATTEST, STEEPEST)
    return np.column_stack([shapes, fit.scale * np.exp(steps[:, 1])])


def draw_scales(ages: ArrayLike, failed: ArrayLike, shapes: ArrayLike, generator: np.random.Generator) -> Floats:
    """[draws x 2]: to each shape drawn elsewhere its scale of greatest likelihood here, and that scale's own spread."""
    lives, events = _checked(ages, failed)
    logs = np.log(lives)
    middle, failures = float(logs.max()), int(events.sum())
    bent = np.asarray(shapes, dtype=np.float64)
    scales = np.array([_scale(float(one), logs - middle, middle, failures) for one in bent])
    spread = generator.standard_normal(len(bent)) / (bent * math.sqrt(failures))
    return np.column_stack([bent, scales * np.exp(spread)])


def _checked(ages: ArrayLike, failed: ArrayLike) -> tuple[Floats, NDArray[np.bool_]]:
    lives, events = np.asarray(ages, dtype=np.float64), np.asarray(failed, dtype=np.bool_)
    if lives.shape != events.shape or lives.ndim != 1:
        raise ValueError("there must be one flag for each age")
    if not (np.isfinite(lives).all() and (lives > 0).all()):
        raise ValueError("an age must be above zero")
    if not events.any():
        raise ValueError("without a failure nothing tells how long a life is")
    return lives, events


def _scale(shape: float, shifted: Floats, middle: float, failures: int) -> float:
    return math.exp(middle + math.log(float(np.exp(shape * shifted).sum()) / failures) / shape)


def _covariance(shape: float, scale: float, logs: Floats, events: NDArray[np.bool_]) -> tuple[float, float, float]:
    """Inverse of the observed information in (ln shape, ln scale); at the greatest likelihood sum w = failures."""
    steps = logs - math.log(scale)
    weights = np.exp(shape * steps)
    bent = shape * steps
    information = np.array(
        [
            [-(bent[events].sum() - (bent * weights + bent * bent * weights).sum()), -shape * (bent * weights).sum()],
            [0.0, shape * shape * weights.sum()],
        ]
    )
    information[1, 0] = information[0, 1]
    inverse = np.linalg.inv(information)
    return float(inverse[0, 0]), float(inverse[0, 1]), float(inverse[1, 1])
