"""Pictures of a proposal's demand: bars by month, and the place of its pattern among the four classes.

Everything is in the units of the picture: x to the right, y downwards. Classes after Syntetos, Boylan, Croston 2005,
J. Oper. Res. Soc. 56:495-503: mean interval between months with demand at 1.32, squared coefficient of variation of
their amounts at 0.49.
"""

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from kits.calculations.demand_history import months_after

INTERVAL_BORDER = 1.32
VARIATION_BORDER = 0.49
# The picture of the classes ends here; what lies beyond stands on its edge.
LONGEST_INTERVAL = 4.0
LARGEST_VARIATION = 1.5
WIDTH, HEIGHT = 360.0, 150.0
LEFT, RIGHT, TOP, BOTTOM = 30.0, 6.0, 12.0, 24.0
SIDE = 190.0
MARGIN = 26.0


@dataclass(frozen=True)
class Bar:
    """One month: its place and size, and what a reader is told."""

    x: float
    y: float
    width: float
    height: float
    month: datetime.date
    amount: Decimal


@dataclass(frozen=True)
class MonthlyChart:
    """Bars, the heights of round amounts, the height of the forecast, and the January of each year."""

    bars: tuple[Bar, ...]
    levels: tuple[tuple[float, str], ...]
    mean_y: float | None
    years: tuple[tuple[float, str], ...]
    base_y: float


@dataclass(frozen=True)
class PatternPicture:
    """Where a series lies among the classes; ``interval`` and ``variation`` are its figures."""

    interval: float
    variation: float
    x: float
    y: float
    border_x: float
    border_y: float
    beyond: bool


def figures_of_pattern(amounts: Sequence[Decimal]) -> tuple[float, float] | None:
    """Mean interval in months, and squared coefficient of variation, of months with demand; None without demand."""
    sizes = [float(one) for one in amounts if one > 0]
    if not sizes:
        return None
    mean = sum(sizes) / len(sizes)
    return len(amounts) / len(sizes), sum((one - mean) ** 2 for one in sizes) / len(sizes) / mean**2


def monthly_chart(
    first: datetime.date, amounts: Sequence[Decimal], *, mean: float | None = None
) -> MonthlyChart | None:
    """Bars by month with the forecast of a month; None without a month. Months of more returned than used show none."""
    if not amounts:
        return None
    top = _round_above(max([*(float(one) for one in amounts), mean or 0.0]))
    scale = (HEIGHT - TOP - BOTTOM) / top
    step = (WIDTH - LEFT - RIGHT) / len(amounts)
    base = HEIGHT - BOTTOM
    bars, years = [], []
    for place, amount in enumerate(amounts):
        month = months_after(first, place)
        height = max(float(amount), 0.0) * scale
        bars.append(Bar(round(LEFT + place * step, 2), round(base - height, 2), round(step * 0.72, 2), round(height, 2),
                        month, amount))  # fmt: skip
        if month.month == 1 or place == 0:
            years.append((round(LEFT + place * step, 2), str(month.year)))
    if len(years) > 1 and years[1][0] - years[0][0] < 34:
        years.pop(0)
    levels = tuple((round(base - share * top * scale, 2), f"{share * top:g}") for share in (0.0, 0.5, 1.0))
    return MonthlyChart(
        tuple(bars), levels, None if mean is None else round(base - mean * scale, 2), tuple(years), base
    )


def pattern_picture(amounts: Sequence[Decimal]) -> PatternPicture | None:
    """The place of a series among the classes; None without demand."""
    figures = figures_of_pattern(amounts)
    if figures is None:
        return None
    interval, variation = figures
    return PatternPicture(
        interval,
        variation,
        _x(interval),
        _y(variation),
        _x(INTERVAL_BORDER),
        _y(VARIATION_BORDER),
        interval > LONGEST_INTERVAL or variation > LARGEST_VARIATION,
    )


def _x(interval: float) -> float:
    share = (min(interval, LONGEST_INTERVAL) - 1) / (LONGEST_INTERVAL - 1)
    return round(MARGIN + share * (SIDE - 2 * MARGIN), 2)


def _y(variation: float) -> float:
    share = min(variation, LARGEST_VARIATION) / LARGEST_VARIATION
    return round(SIDE - MARGIN - share * (SIDE - 2 * MARGIN), 2)


def _round_above(value: float) -> float:
    """The next of 2, 4, 10, 20, 40, 100 and so on that is not below, so that half of it is whole."""
    if value <= 2:
        return 2.0
    power = 10.0 ** math.floor(math.log10(value))
    return next(one for one in (power, 2 * power, 4 * power, 10 * power) if one >= value - 1e-9)
