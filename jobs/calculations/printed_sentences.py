"""Figures inside sentences, in the units of the sheet.

What this service worked out is told in the system asked for, with the figure it was worked out in in brackets. What
somebody wrote (instructions, cautions, what was found) stays word by word; the other figure stands behind it in
brackets. A bound is rounded to the safe side, as limits are; anything else to the nearest.
"""

import math
import re
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from jobs.calculations.printed_quantities import (
    INCHES,
    METRIC,
    System,
    converted,
    digits_inwards,
    fixed,
    more_places,
    unit_name,
)

# As they are written in sentences, by the unit they are kept in. A bare m, g, L or h may be anything in a sentence.
_FROM_METRIC = {
    "mm per 100 mm": "mm/100mm", "mm/100mm": "mm/100mm", "mm/m": "mm/m", "mm/s": "mm/s", "mm": "mm", "µm": "um",
    "μm": "um", "um": "um", "°C": "degC", "degC": "degC", "bar": "bar", "kPa": "kPa", "MPa": "MPa", "N·m": "N*m",
    "N*m": "N*m", "kN": "kN", "kW": "kW", "m³/h": "m3/h", "m3/h": "m3/h", "g·mm": "g*mm", "g*mm": "g*mm",
}  # fmt: skip
_FROM_INCH = {
    "mil/in": "mil/in", "in/s": "in/s", "mil": "mil", "°F": "degF", "degF": "degF", "psi": "psi", "lbf·ft": "lbf*ft",
    "lbf*ft": "lbf*ft", "US gpm": "gpm", "gpm": "gpm", "hp": "hp", "µin": "uin",
}  # fmt: skip
_NUMBER = r"[+\-\N{MINUS SIGN}]?\d+(?:[.,]\d+)?"
# One figure, two that belong together, or a list of three or more: 3, 5 mm may be step 3 and five millimetres.
_FIGURES = rf"{_NUMBER}(?:(?: to |/){_NUMBER}|(?:, {_NUMBER}){{2,}})?"
_AT_MOST = re.compile(r"(?:at most|never above|not above|renew above|below|up to|never more than)\s+$", re.IGNORECASE)
_AT_LEAST = re.compile(r"(?:at least|not below|never below|never less than)\s+$", re.IGNORECASE)
_Order = Literal["sheet first", "as written first"]


def _pattern(units: dict[str, str], more: str = "") -> re.Pattern[str]:
    names = "|".join(re.escape(one) for one in sorted(units, key=len, reverse=True))
    # Not where the other figure stands behind it already.
    return re.compile(
        rf"(?<![\w.,/])(?:(?P<figures>{_FIGURES}) ?(?P<unit>{names}){more})(?![\w/·*²³])(?!\s*\({_NUMBER})"
    )


_METRIC_FIGURE = _pattern(_FROM_METRIC)
_METRIC_OR_KELVIN = _pattern(_FROM_METRIC | {"K": "K"})
_INCH_FIGURE = _pattern(_FROM_INCH, r"|(?P<inches>\d*\.\d+(?: to \d*\.\d+)?) in")


def worked_out(sentence: str, system: System) -> str:
    """A sentence that was worked out in metric units, in the system asked for."""
    if system == "metric":
        return sentence
    return _METRIC_OR_KELVIN.sub(lambda found: _both(found, sentence, "sheet first"), sentence)


def as_written(sentence: str, system: System) -> str:
    """What somebody wrote, with figures of the system asked for behind those of the other."""
    pattern = _METRIC_FIGURE if system == "inch" else _INCH_FIGURE
    return pattern.sub(lambda found: _both(found, sentence, "as written first"), sentence)


def _both(found: re.Match[str], sentence: str, order: _Order) -> str:
    groups = found.groupdict()
    unit = "in" if groups.get("inches") else (_FROM_METRIC | _FROM_INCH | {"K": "K"})[found["unit"]]
    figures = groups.get("inches") or found["figures"]
    there = f"{_there(figures, unit, sentence[: found.start()])} {_name_there(unit)}"
    if order == "as written first":
        return f"{found[0]} ({there})"
    return f"{there} ({figures} {unit_name(unit)})"


def _name_there(unit: str) -> str:
    name, _ = METRIC.get(unit) or INCHES[unit]
    return name.removesuffix(" of difference")


def _there(figures: str, unit: str, before: str) -> str:
    numbers = re.findall(_NUMBER, figures)
    places = max(len(re.split("[.,]", one)[1]) if re.search("[.,]", one) else 0 for one in numbers)
    _, divisor = METRIC.get(unit) or INCHES[unit]
    values = [converted(_decimal(one), unit) for one in numbers]
    inwards = [_rounding(index, figures, before) for index in range(len(numbers))]
    low, high = (
        next((value for value, one in zip(values, inwards, strict=True) if one is way), None)
        for way in (math.ceil, math.floor)
    )
    digits = max(places + more_places(divisor), 0)
    if low is not None or high is not None:
        digits = digits_inwards(low, high, digits)
    told = [
        ("+" if written.startswith("+") else "") + fixed(value, digits, one)
        for written, value, one in zip(numbers, values, inwards, strict=True)
    ]
    between = re.split(_NUMBER, figures)
    return "".join(part + one for part, one in zip(between, [*told, ""], strict=True))


def _rounding(index: int, figures: str, before: str) -> Callable[[Fraction], int]:
    """Inwards where two figures bound something; by the words before a single one; else to the nearest."""
    if " to " in figures:
        return math.floor if index else math.ceil
    if _AT_MOST.search(before):
        return math.floor
    return math.ceil if _AT_LEAST.search(before) else round


def _decimal(written: str) -> Decimal:
    return Decimal(written.replace(",", ".").replace("\N{MINUS SIGN}", "-"))
