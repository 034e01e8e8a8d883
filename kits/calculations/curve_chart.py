"""Where the points, lines and words of a chart of cost against waiting go, in the units of its drawing."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

WIDTH, HEIGHT = 360.0, 250.0
LEFT, RIGHT, TOP, BOTTOM = 40.0, 26.0, 28.0, 40.0
CLOSE_ACROSS, CLOSE_DOWN = 70.0, 16.0


@dataclass(frozen=True)
class Tick:
    """A line across the chart with its figure; ``at`` from the left or from above."""

    at: float
    words: str


@dataclass(frozen=True)
class Mark:
    """A point with a word beside it: ``x``, ``y`` of the point, ``word_x``, ``word_y`` and ``anchor`` of the word."""

    x: float
    y: float
    word_x: float
    word_y: float
    anchor: str


@dataclass(frozen=True)
class CurveChart:
    """``line`` is the curve as SVG points; ``plan`` and ``now`` are the two that have words."""

    line: str
    dots: tuple[tuple[float, float], ...]
    across: tuple[Tick, ...]
    down: tuple[Tick, ...]
    plan: Mark
    now: Mark


def curve_chart(
    curve: Sequence[tuple[float, float]], *, plan: tuple[float, float], now: tuple[float, float]
) -> CurveChart:
    """A chart of (cost, waiting) points, both axes from nought. Raises `ValueError` without a point."""
    if not curve:
        raise ValueError("a chart is of at least one point")
    every = [*curve, plan, now]
    across, down = _ticks(max(cost for cost, _ in every)), _ticks(max(waiting for _, waiting in every))
    widest, highest = across[-1], down[-1]

    def place(point: tuple[float, float]) -> tuple[float, float]:
        x = LEFT + point[0] / widest * (WIDTH - LEFT - RIGHT)
        y = HEIGHT - BOTTOM - point[1] / highest * (HEIGHT - TOP - BOTTOM)
        return round(x, 1), round(y, 1)

    dots = tuple(place(one) for one in curve)
    at_plan, at_now = place(plan), place(now)
    close = abs(at_plan[0] - at_now[0]) < CLOSE_ACROSS and abs(at_plan[1] - at_now[1]) < CLOSE_DOWN * 2
    return CurveChart(
        " ".join(f"{x},{y}" for x, y in dots),
        dots,
        tuple(Tick(place((one, 0.0))[0], _figure(one)) for one in across),
        tuple(Tick(place((0.0, one))[1], _figure(one)) for one in down),
        _mark(at_plan, above=10.0),
        _mark(at_now, above=10.0 + (CLOSE_DOWN if close else 0.0)),
    )


def _mark(point: tuple[float, float], *, above: float) -> Mark:
    x, y = point
    anchor = "end" if x > WIDTH - RIGHT - 50 else "start"
    return Mark(x, y, x + (6 if anchor == "start" else -6), max(y - above, TOP), anchor)


def _ticks(most: float) -> list[float]:
    """From nought to at least the most, three to six of them, in steps of 1, 2 or 5."""
    if most <= 0:
        return [0.0, 1.0]
    step = 10.0 ** math.floor(math.log10(most / 4))
    step *= next(one for one in (1, 2, 5, 10) if one * step * 5 >= most)
    return [round(step * number, 10) for number in range(math.ceil(most / step - 1e-9) + 1)]


def _figure(value: float) -> str:
    return f"{value:.10f}".rstrip("0").rstrip(".")
