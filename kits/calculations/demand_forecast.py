"""How much of one item will be needed in a month, how surely, and by which method; the rule is in `forecast_arrays`."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from kits.calculations.demand_arrays import METHODS, Floats, Ints
from kits.calculations.forecast_arrays import METHOD_NAMES, Forecasts, forecast_all


@dataclass(frozen=True)
class Forecast:
    """Mean and variance of a month's demand, and the variance of the mean itself, since it is only estimated.

    ``events`` and ``months`` are what it was learned from; ``squared_errors`` what each method's forecasts of past
    months missed by, empty where there were none; ``pooled_variance_to_mean`` the ratio of all items together.
    """

    method: str
    mean: float
    variance: float
    variance_of_mean: float
    events: float
    months: int
    squared_errors: Mapping[str, float] = field(default_factory=dict)
    pooled_variance_to_mean: float = 1.0


def forecast(amounts: Sequence[float], *, pooled_variance_to_mean: float | None = None) -> Forecast:
    """The forecast for the month after the last; none without a single whole month. Raises `ValueError` for a figure
    that is none."""
    return forecast_each([amounts], pooled_variance_to_mean=pooled_variance_to_mean)[0]


def forecast_each(
    histories: Sequence[Sequence[float]], *, pooled_variance_to_mean: float | None = None
) -> list[Forecast]:
    """Forecasts of histories that end in the same month; what one series says too little of is learned from all."""
    table, first = ending_together(histories)
    found = forecast_all(table, first=first, pooled=pooled_variance_to_mean)
    return [forecast_at(found, place) for place in range(len(histories))]


def ending_together(histories: Sequence[Sequence[float]]) -> tuple[Floats, Ints]:
    """Histories that end in the same month as a table (months, series), and the place of each one's first month."""
    lengths = np.array([len(one) for one in histories], np.int64)
    months = int(lengths.max(initial=0))
    table = np.zeros((months, len(histories)))
    for place, one in enumerate(histories):
        table[months - len(one) :, place] = one
    return table, months - lengths


def forecast_at(found: Forecasts, place: int) -> Forecast:
    """The forecast of one series among many."""
    errors = map(float, found.squared_errors[:, place])
    return Forecast(
        METHOD_NAMES[found.method[place]],
        float(found.mean[place]),
        float(found.variance[place]),
        float(found.variance_of_mean[place]),
        float(found.used[place]),
        int(found.months[place]),
        dict(zip(METHODS, errors, strict=True)) if found.origins[place] else {},
        float(found.pooled_variance_to_mean[place]),
    )
