"""A chart of two figures against each other as one SVG: points with error bars, and curves. Pure: text in, text out.

Colours differ in lightness and every point has a shape of its own, so nothing hangs on colour alone (WCAG 2.2, 1.4.1);
the title and what is to be seen are in the picture's ``title`` and ``desc``.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

WIDTH, HEIGHT = 760, 520
LEFT, RIGHT, TOP, LINE = 84, 28, 56, 22
COLOURS = ("#0b4f8a", "#b3261e", "#3d6b00", "#6b3fa0")
GREY, INK, PALE = "#5c6670", "#1b1f23", "#d9dee3"
# Labels on a curve keep so many pixels apart.
LABEL_GAP = 46


@dataclass(frozen=True)
class Point:
    """A point with half the length of its error bar, up and down; none where it is not known."""

    name: str
    x: float
    y: float
    error: float | None = None


@dataclass(frozen=True)
class Curve:
    """Points joined by a line, each with a short label."""

    name: str
    points: Sequence[tuple[float, float, str]]


def ticks(low: float, high: float, count: int = 6) -> list[float]:
    """Round figures from at most ``low`` to at least ``high``: steps of 1, 2 or 5 times a power of ten."""
    span = max(high - low, 1e-9) / count
    unit = 10.0 ** math.floor(math.log10(span))
    step = next(factor * unit for factor in (1, 2, 5, 10) if factor * unit >= span - 1e-12)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [round(place * step, 10) for place in range(first, max(last, first + 1) + 1)]


def chart(
    *,
    title: str,
    description: str,
    x_label: str,
    y_label: str,
    points: Sequence[Point],
    curves: Sequence[Curve] = (),
    highest_y: float | None = None,
) -> str:
    """The chart as a whole SVG document. ``highest_y`` is where the upward axis ends at most, such as 1 for shares.
    Raises `ValueError` where there is nothing to show."""
    xs = [one.x for one in points] + [x for curve in curves for x, _, _ in curve.points]
    spread = [one.y + sign * (one.error or 0.0) for one in points for sign in (-1, 1)]
    ys = spread + [y for curve in curves for _, y, _ in curve.points]
    if not xs:
        raise ValueError("nothing to show")
    top = max(ys) if highest_y is None else min(max(ys), highest_y)
    # Where all lie at one height or at no distance, a tenth of it or one is shown all the same.
    across, up = ticks(0.0, max(xs) or 1.0), ticks(min(*ys, top - (abs(top) or 1.0) / 10), top)
    if highest_y is not None:
        up = [one for one in up if one <= highest_y + 1e-9]
    legend = len(points) + len(curves)
    bottom = HEIGHT - 74 - LINE * legend
    place_x = _scale(across[0], across[-1], LEFT, WIDTH - RIGHT)
    place_y = _scale(up[0], max(up[-1], top), bottom, TOP)
    parts = [*_axes(across, up, place_x, place_y, bottom, x_label, y_label)]
    rows: list[tuple[str, str]] = []
    for curve in curves:
        parts += _curve(curve, place_x, place_y)
        rows.append((f'<path d="M{LEFT} %y h26" stroke="{GREY}" stroke-width="2" stroke-dasharray="6 3"/>', curve.name))
    for number, one in enumerate(points):
        colour = COLOURS[number % len(COLOURS)]
        parts += _point(one, number, colour, place_x(one.x), place_y, up[0], highest_y)
        rows.append((_shape(number, LEFT + 13, None, colour), one.name))
    for row, (sign, name) in enumerate(rows):
        line = bottom + 78 + LINE * row
        parts.append(sign.replace("%y", str(line - 5)))
        parts.append(f'<text x="{LEFT + 36}" y="{line}" fill="{INK}">{escape(name)}</text>')
    return "\n".join(
        [
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT + 12}" role="img" '
                'aria-labelledby="chart-title chart-desc" font-family="system-ui, sans-serif" font-size="14">'
            ),
            f'<title id="chart-title">{escape(title)}</title>',
            f'<desc id="chart-desc">{escape(description)}</desc>',
            f'<rect width="{WIDTH}" height="{HEIGHT + 12}" fill="#ffffff"/>',
            f'<text x="{LEFT}" y="28" font-size="17" font-weight="600" fill="{INK}">{escape(title)}</text>',
            *parts,
            "</svg>\n",
        ]
    )


def _scale(low: float, high: float, start: float, end: float) -> Callable[[float], float]:
    return lambda value: round(start + (value - low) / (high - low) * (end - start), 1)


def _figure(value: float) -> str:
    return f"{value:,.10g}"


def _axes(
    across: list[float], up: list[float], place_x: Callable[[float], float], place_y: Callable[[float], float],
    bottom: float, x_label: str, y_label: str,
) -> list[str]:  # fmt: skip
    parts = []
    for value in up:
        y = place_y(value)
        parts.append(f'<path d="M{LEFT} {y} H{WIDTH - RIGHT}" stroke="{PALE}"/>')
        parts.append(f'<text x="{LEFT - 8}" y="{y + 5}" text-anchor="end" fill="{INK}">{_figure(value)}</text>')
    for value in across:
        x = place_x(value)
        parts.append(f'<path d="M{x} {bottom} v6" stroke="{INK}"/>')
        parts.append(f'<text x="{x}" y="{bottom + 22}" text-anchor="middle" fill="{INK}">{_figure(value)}</text>')
    middle = (TOP + bottom) / 2
    return [
        *parts,
        f'<path d="M{LEFT} {TOP} V{bottom} H{WIDTH - RIGHT}" fill="none" stroke="{INK}"/>',
        (
            f'<text x="{(LEFT + WIDTH - RIGHT) / 2}" y="{bottom + 46}" text-anchor="middle" fill="{INK}">'
            f"{escape(x_label)}</text>"
        ),
        (
            f'<text transform="translate(22 {middle}) rotate(-90)" text-anchor="middle" fill="{INK}">'
            f"{escape(y_label)}</text>"
        ),
    ]


def _curve(curve: Curve, place_x: Callable[[float], float], place_y: Callable[[float], float]) -> list[str]:
    drawn = [(place_x(x), place_y(y), label) for x, y, label in curve.points]
    line = " ".join(f"{x},{y}" for x, y, _ in drawn)
    parts = [f'<polyline points="{line}" fill="none" stroke="{GREY}" stroke-width="2" stroke-dasharray="6 3"/>']
    last: tuple[float, float] | None = None
    for x, y, label in drawn:
        parts.append(f'<circle cx="{x}" cy="{y}" r="2.5" fill="{GREY}"/>')
        if last is None or math.hypot(x - last[0], y - last[1]) >= LABEL_GAP:
            parts.append(f'<text x="{x + 6}" y="{y + 16}" font-size="12" fill="{GREY}">{escape(label)}</text>')
            last = (x, y)
    return parts


def _point(
    one: Point, number: int, colour: str, x: float, place_y: Callable[[float], float], lowest: float,
    highest: float | None,
) -> list[str]:  # fmt: skip
    parts = []
    if one.error:
        ends = max(one.y - one.error, lowest), min(one.y + one.error, one.y + one.error if highest is None else highest)
        low, high = place_y(ends[0]), place_y(ends[1])
        parts.append(
            f'<path d="M{x} {high} V{low} M{x - 5} {high} h10 M{x - 5} {low} h10" stroke="{colour}" '
            'stroke-width="1.5" fill="none"/>'
        )
    return [*parts, _shape(number, x, place_y(one.y), colour)]


def _shape(number: int, x: float, y: float | None, colour: str) -> str:
    """A circle, square, triangle or diamond around a place; ``%y`` stands for a height still to come."""
    outlines = (
        "m-6 0 a6 6 0 1 0 12 0 a6 6 0 1 0 -12 0",
        "m-5.5 -5.5 h11 v11 h-11 z",
        "m0 -7 l7 12 h-14 z",
        "m0 -7.5 l7.5 7.5 l-7.5 7.5 l-7.5 -7.5 z",
    )
    height = "%y" if y is None else y
    return f'<path d="M{x} {height} {outlines[number % 4]}" fill="{colour}" stroke="#ffffff"/>'
