"""A small plot of one characteristic over the overhauls of a pump, as SVG."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

WIDTH, HEIGHT = 300.0, 110.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 8.0, 8.0, 20.0
FONT = "font-family='Libertinus Serif' font-size='9'"


@dataclass(frozen=True)
class Point:
    """A value with its expanded uncertainty, on its day, in one unit for the whole plot."""

    on: datetime.date
    value: float
    uncertainty: float


def trend_plot(points: Sequence[Point], *, lower: float | None, upper: float | None) -> str:
    """The points in order of their days, with bars of their uncertainty; limits as dashed lines.

    Only for looking at: positions are rounded to a hundredth of a point.
    """
    values = [one.value - one.uncertainty for one in points] + [one.value + one.uncertainty for one in points]
    values += [one for one in (lower, upper) if one is not None]
    low, high = min(values), max(values)
    margin = (high - low) * 0.12 or abs(high) * 0.1 or 1.0
    low, high = low - margin, high + margin
    first, last = points[0].on.toordinal(), points[-1].on.toordinal()

    def x(day: datetime.date) -> float:
        share = (day.toordinal() - first) / (last - first) if last > first else 0.5
        return LEFT + 6 + share * (WIDTH - LEFT - RIGHT - 12)

    def y(value: float) -> float:
        return TOP + (high - value) / (high - low) * (HEIGHT - TOP - BOTTOM)

    parts = [
        f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {WIDTH:g} {HEIGHT:g}'>",
        (
            f"<path d='M{LEFT:g} {TOP:g}V{HEIGHT - BOTTOM:g}H{WIDTH - RIGHT:g}' fill='none' stroke='#444' "
            "stroke-width='.8'/>"
        ),
    ]
    parts.extend(
        f"<path d='M{LEFT:g} {y(limit):.2f}H{WIDTH - RIGHT:g}' stroke='#b3001b' stroke-width='.8' "
        f"stroke-dasharray='4 3'/><text x='{LEFT - 3:g}' y='{y(limit) + 3:.2f}' text-anchor='end' {FONT} "
        f"fill='#b3001b'>{limit:.6g}</text>"
        for limit in (lower, upper)
        if limit is not None
    )
    parts.extend(
        f"<path d='M{x(one.on):.2f} {y(one.value - one.uncertainty):.2f}V{y(one.value + one.uncertainty):.2f}' "
        "stroke='#00508f' stroke-width='.9'/>"
        for one in points
    )
    line = " ".join(f"{x(one.on):.2f},{y(one.value):.2f}" for one in points)
    parts.append(f"<polyline points='{line}' fill='none' stroke='#00508f' stroke-width='1.1'/>")
    parts.extend(f"<circle cx='{x(one.on):.2f}' cy='{y(one.value):.2f}' r='2.4' fill='#00508f'/>" for one in points)
    for one, anchor in ((points[0], "start"), (points[-1], "end")):
        parts.append(
            f"<text x='{x(one.on) + (-6 if anchor == 'start' else 6):.2f}' y='{HEIGHT - 7:g}' text-anchor='{anchor}' "
            f"{FONT}>{one.on.isoformat()}</text>"
        )
    newest = points[-1]
    if all(abs(y(newest.value) - y(one)) > 9 for one in (lower, upper) if one is not None):
        parts.append(
            f"<text x='{LEFT - 3:g}' y='{y(newest.value) + 3:.2f}' text-anchor='end' {FONT} fill='#00508f'>"
            f"{newest.value:.6g}</text>"
        )
    return "".join([*parts, "</svg>"])
