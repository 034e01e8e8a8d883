"""A trend as one SVG: values with their uncertainty over running hours, limits, line and band.

Colours differ in lightness and each state of a value has a shape of its own, so nothing hangs on colour alone (WCAG
2.2, 1.4.1); what is to be seen stands in the picture's ``desc`` too.
"""

from collections.abc import Mapping
from html import escape
from typing import Any

from services.web.charts import ticks

WIDTH, HEIGHT = 760, 490
LEFT, RIGHT, TOP, BOTTOM = 84, 28, 56, 350
INK, PALE, GREY, BLUE, RED = "#1b1f23", "#d9dee3", "#5c6670", "#0b4f8a", "#b3261e"
SHAPES = {
    "as-found": ("m0 -6 l6 11 h-12 z", "as found"),
    "as-left": ("m-5 -5 h10 v10 h-10 z", "as left"),
    "as-found-and-left": ("m-5.5 0 a5.5 5.5 0 1 0 11 0 a5.5 5.5 0 1 0 -11 0", "found and left as it was"),
}
EXPLAINED = (
    "Grey: earlier parts. Bars: expanded uncertainty; at today: where a further value would lie.",
    "Thick at the limit: between when it is reached at the earliest and at the latest, with 95 %.",
)
# So far beyond today the line is drawn where it reaches no limit, and at most so many times as long as it ran.
AHEAD, MOST_AHEAD = 1.2, 3.0


def trend_chart(tag: str, trend: Mapping[str, Any], *, mark: str = "trend") -> str:
    """The chart of one trend as the API answers it. ``mark`` begins the ids in it, where a page shows several."""
    points, fit = trend["points"], trend["fit"]
    ran = max([trend["age_hours"], *(one["age_hours"] for one in points), 1.0])
    longest = ran * AHEAD
    if trend["at_limit"]:
        end = trend["at_limit"]["latest_hours"] or trend["at_limit"]["hours"]
        longest = min(max(longest, trend["age_hours"] + end * 1.05), ran * MOST_AHEAD)
    present = max(one["number"] for one in trend["segments"])
    limits = [(name, trend[name]) for name in ("lower", "upper") if trend[name] is not None]
    values = [one["value"] + sign * one["expanded_uncertainty"] for one in points for sign in (-1, 1)]
    values += [value for _, value in limits]
    line = [(age, fit["level"] + fit["rate"] * age / 1000) for age in (0.0, longest)] if fit else []
    across = ticks(0.0, longest)
    low, high = min(values), max(values)
    room = (high - low or abs(high) or 1.0) * 0.08
    up = ticks(low - room, high + room)

    def x(age: float) -> float:
        return round(LEFT + age / across[-1] * (WIDTH - LEFT - RIGHT), 1)

    def y(value: float) -> float:
        return round(BOTTOM - (min(max(value, up[0]), up[-1]) - up[0]) / (up[-1] - up[0]) * (BOTTOM - TOP), 1)

    parts = [*_axes(across, up, x, y, f"running hours of the part ({trend['name']}, {trend['unit']})")]
    for name, value in limits:
        parts.append(
            f'<path d="M{LEFT} {y(value)} H{WIDTH - RIGHT}" stroke="{RED}" stroke-width="2" stroke-dasharray="8 4"/>'
        )
        parts.append(
            f'<text x="{LEFT + 8}" y="{y(value) - 6}" fill="{RED}">{name} limit '
            f"{value:.4g} {escape(trend['unit'])}</text>"
        )
    if line:
        # Where the line leaves the picture it ends, rather than running along its edge.
        ends = _inside(line, up[0], up[-1])
        parts.append(
            f'<path d="M{x(ends[0][0])} {y(ends[0][1])} L{x(ends[1][0])} {y(ends[1][1])}" stroke="{BLUE}" '
            'stroke-width="2" fill="none"/>'
        )
    if trend["now"]:
        at, now = x(trend["age_hours"]), trend["now"]
        parts.append(f'<path d="M{at} {TOP} V{BOTTOM}" stroke="{BLUE}" stroke-dasharray="2 4"/>')
        parts.append(
            f'<path d="M{at} {y(now["high"])} V{y(now["low"])} m-6 0 h12 M{at - 6} {y(now["high"])} h12" '
            f'stroke="{BLUE}" stroke-width="1.5" fill="none"/>'
        )
        parts.append(f'<text x="{at}" y="{TOP - 6}" text-anchor="middle" fill="{BLUE}">today</text>')
    if trend["at_limit"] and trend["limit"] is not None:
        begin = trend["age_hours"] + trend["at_limit"]["earliest_hours"]
        latest = trend["at_limit"]["latest_hours"]
        end = min(trend["age_hours"] + latest, longest) if latest is not None else longest
        if begin < longest:
            parts.append(
                f'<path d="M{x(begin)} {y(trend["limit"])} H{x(max(begin, end))}" stroke="{BLUE}" stroke-width="5"/>'
            )
    for one in points:
        colour = BLUE if one["segment"] == present else GREY
        at = x(one["age_hours"])
        ends_of = y(one["value"] + one["expanded_uncertainty"]), y(one["value"] - one["expanded_uncertainty"])
        parts.append(f'<path d="M{at} {ends_of[0]} V{ends_of[1]}" stroke="{colour}" stroke-width="1.5"/>')
        parts.append(f'<path d="M{at} {y(one["value"])} {SHAPES[one["state"]][0]}" fill="{colour}" stroke="#ffffff"/>')
    parts += _legend()
    title = f"{tag}: {trend['name']}"
    return "\n".join(
        [
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
                f'aria-labelledby="{mark}-title {mark}-desc" font-family="system-ui, sans-serif" font-size="14">'
            ),
            f'<title id="{mark}-title">{escape(title)}</title>',
            f'<desc id="{mark}-desc">{escape(trend["words"])}</desc>',
            f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>',
            f'<text x="{LEFT}" y="28" font-size="17" font-weight="600" fill="{INK}">{escape(title)}</text>',
            *parts,
            "</svg>\n",
        ]
    )


def _inside(line: list[tuple[float, float]], low: float, high: float) -> list[tuple[float, float]]:
    (begin, first), (end, last) = line
    if last == first:
        return line
    found = []
    for age, value in line:
        kept = min(max(value, low), high)
        found.append((begin + (kept - first) / (last - first) * (end - begin) if kept != value else age, kept))
    return found


def _axes(across: list[float], up: list[float], x: Any, y: Any, label: str) -> list[str]:
    parts = []
    for value in up:
        parts.append(f'<path d="M{LEFT} {y(value)} H{WIDTH - RIGHT}" stroke="{PALE}"/>')
        parts.append(f'<text x="{LEFT - 8}" y="{y(value) + 5}" text-anchor="end" fill="{INK}">{value:.6g}</text>')
    for value in across:
        parts.append(f'<path d="M{x(value)} {BOTTOM} v6" stroke="{INK}"/>')
        parts.append(f'<text x="{x(value)}" y="{BOTTOM + 22}" text-anchor="middle" fill="{INK}">{value:,.6g}</text>')
    middle = (LEFT + WIDTH - RIGHT) / 2
    return [
        *parts,
        f'<path d="M{LEFT} {TOP} V{BOTTOM} H{WIDTH - RIGHT}" fill="none" stroke="{INK}"/>',
        f'<text x="{middle}" y="{BOTTOM + 46}" text-anchor="middle" fill="{INK}">{escape(label)}</text>',
    ]


def _legend() -> list[str]:
    parts = []
    for place, (shape, words) in enumerate(SHAPES.values()):
        at = LEFT + 14 + place * 130
        parts.append(f'<path d="M{at} {BOTTOM + 76} {shape}" fill="{BLUE}"/>')
        parts.append(f'<text x="{at + 12}" y="{BOTTOM + 81}" fill="{INK}">{words}</text>')
    for row, words in enumerate(EXPLAINED):
        parts.append(f'<text x="{LEFT + 8}" y="{BOTTOM + 106 + 20 * row}" fill="{INK}">{words}</text>')
    return parts
