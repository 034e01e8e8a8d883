"""Joining what the history of demand says with what the installed pumps say.

Each is weighted by how wrong the other was lately. Common practice, no source: the limits of the weight, and that the
wider variance of the two is kept, since a blend of two opinions is no second sample. What nobody's registered pump
needed (walk-in demand) is known from history only and stays with it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kits.calculations.demand_arrays import Floats
from kits.calculations.demand_forecast import Forecast
from kits.calculations.reorder_point import DAYS_OF_MONTH

ENOUGH_ORIGINS = 8
LEAST, MOST = 0.2, 0.8
UNDECIDED = 0.5


@dataclass(frozen=True)
class InstalledDemand:
    """Demand from installed pumps over a lead time, jobs that are planned left out; and a month's walk-in demand."""

    mean: float
    variance: float
    weight_of_history: float = UNDECIDED
    walk_in_mean: float = 0.0
    walk_in_variance: float = 0.0


@dataclass(frozen=True)
class BlendedForecast:
    """Demand of a lead time; ``history_mean`` is the registered pumps' share of what history says of it."""

    mean: float
    variance: float
    history_mean: float
    installed_mean: float
    walk_in_mean: float
    weight_of_history: float


def weight_of_history(history_errors: Sequence[float], installed_errors: Sequence[float]) -> float:
    """``MSE_installed / (MSE_history + MSE_installed)`` over the same rolling origins: 1 less the weight of the
    installed pumps. Under 8 origins kept within 0.2 and 0.8; a half where there are none or neither was ever wrong.
    Raises `ValueError` where one has more than the other."""
    if len(history_errors) != len(installed_errors):
        raise ValueError("both must be judged on the same origins")
    history, installed = _mean_square(history_errors), _mean_square(installed_errors)
    weight = installed / (history + installed) if history + installed > 0 else UNDECIDED
    return weight if len(history_errors) >= ENOUGH_ORIGINS else min(max(weight, LEAST), MOST)


@dataclass(frozen=True)
class BlendedArrays:
    """`BlendedForecast` of many items, each array (items,)."""

    mean: Floats
    variance: Floats
    history_mean: Floats
    walk_in_mean: Floats


def blend_arrays(
    history: tuple[Floats, Floats, Floats],
    *,
    months: Floats,
    installed: tuple[Floats, Floats],
    weight_of_history: Floats,
    walk_in: tuple[Floats, Floats],
) -> BlendedArrays:
    """Mean and variance of the demand of so many months.

    ``history`` holds mean, variance and variance of the mean of a month, of all that was not planned, walk-in demand
    among it: its variance over L months is ``L v + L**2 v_mean``. ``installed`` holds mean and variance of the whole
    time, ``walk_in`` those of a month. With weight 1 of history the mean is history's own.
    """
    mean, variance, of_mean = history
    loose = np.minimum(walk_in[0], mean) * months
    registered = mean * months - loose
    told_by_history = months * variance + months * months * of_mean
    told_by_pumps = installed[1] + months * walk_in[1]
    return BlendedArrays(
        weight_of_history * registered + (1 - weight_of_history) * installed[0] + loose,
        np.maximum(told_by_history, told_by_pumps),
        registered,
        loose,
    )


def blend_forecast(history: Forecast, installed: InstalledDemand, *, days: float) -> BlendedForecast:
    """Mean and variance of the demand of ``days`` days of one item, as `blend_arrays`."""
    one = np.ones(1)
    found = blend_arrays(
        (one * history.mean, one * history.variance, one * history.variance_of_mean),
        months=one * days / DAYS_OF_MONTH,
        installed=(one * installed.mean, one * installed.variance),
        weight_of_history=one * installed.weight_of_history,
        walk_in=(one * installed.walk_in_mean, one * installed.walk_in_variance),
    )
    return BlendedForecast(
        float(found.mean[0]),
        float(found.variance[0]),
        float(found.history_mean[0]),
        installed.mean,
        float(found.walk_in_mean[0]),
        installed.weight_of_history,
    )


def _mean_square(errors: Sequence[float]) -> float:
    return sum(one * one for one in errors) / len(errors) if errors else 0.0
