"""Sizes as people write them: millimetres or inches (fractions too), decimal comma or point, x or ×, converted
exactly."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from assets.calculations.specification_base import SpecificationError
from assets.calculations.written_numbers import plain

MILLIMETRES_PER_INCH = Decimal("25.4")
LARGEST_MM = Decimal(10_000)
# Fractions of an inch are halves to sixty-fourths: 3/8, 1 1/2, 1-1/2.
_NUMBER = r"(?:(?:\d{1,3}[ -])?\d{1,2}/(?:2|4|8|16|32|64)(?!\d)|\d{1,6}(?:[.,]\d{1,6})?|[.,]\d{1,6})"
_UNIT = r"(?:(?:mm|inch(?:es)?|in\.?)(?=x[\d. ]|[^a-z]|$)|\")"
_ONE = re.compile(rf"\s*(?P<number>{_NUMBER})(?:\s*(?P<unit>{_UNIT}))?", re.IGNORECASE)
_STRAY_UNIT = re.compile(r"(?:mm|inch(?:es)?|in)(?![a-z0-9])|\"", re.IGNORECASE)
_TIMES = re.compile(r"\s*x(?=\s*[\d.,])", re.IGNORECASE)
_MENDED = str.maketrans({
    "×": "x", "✕": "x", "″": '"', "”": '"', "“": '"', "\u00a0": " ", "\u202f": " ", "\u2009": " ", "–": "-", "−": "-",
    "‑": "-", "Ø": "", "ø": "", "⌀": "", "°": " ",
})  # fmt: skip


@dataclass(frozen=True)
class WrittenSizes:
    """Sizes in mm in the order written, what follows them, and a note where inches were converted."""

    values: tuple[Decimal, ...]
    rest: str
    notes: tuple[str, ...]


def tidy(text: str) -> str:
    """The text with one kind of space, dash, quote and multiplication sign, without diameter signs.

    Raises `SpecificationError` where plain letters, digits and signs are not all that is left.
    """
    mended = " ".join(text.translate(_MENDED).split()).replace("''", '"')
    strange = next((one for one in mended if not one.isascii() or not one.isprintable()), "")
    if strange:
        raise SpecificationError("specification", f"{strange!r} is not understood.", "Write plain letters and digits.")
    return mended


def read_sizes(text: str, fields: Sequence[str], what: str, example: str) -> WrittenSizes:
    """As many sizes as ``fields`` at the head of a tidied text.

    A unit holds for the sizes before it that have none; without any, sizes are millimetres. 1 in = 25.4 mm exactly.
    Raises `SpecificationError` naming the field.
    """
    found, at = _scan(text)
    if len(found) != len(fields) or (at < len(text) and text[at] not in " -"):
        raise SpecificationError("specification", f"{text!r} is no {what}.", f"Write it like {example}.")
    rest = text[at:].strip(" -")
    if _STRAY_UNIT.match(rest):
        raise SpecificationError("specification", f"{text!r} has a unit out of place.", f"Write it like {example}.")
    units = _units([unit for _, unit in found], fields)
    values = tuple(
        _millimetres(number, unit, field) for (number, _), unit, field in zip(found, units, fields, strict=True)
    )
    return WrittenSizes(values, rest, _converted(found, units, values))


def _scan(text: str) -> tuple[list[tuple[str, str]], int]:
    found: list[tuple[str, str]] = []
    at = 0
    while one := _ONE.match(text, at):
        found.append((one["number"], (one["unit"] or "").lower()))
        at = one.end()
        times = _TIMES.match(text, at)
        if not times:
            break
        at = times.end()
    return found, at


def _units(written: Sequence[str], fields: Sequence[str]) -> list[str]:
    kinds = ["" if not one else "mm" if one == "mm" else "in" for one in written]
    last = ""
    for index in range(len(kinds) - 1, -1, -1):
        kinds[index] = last = kinds[index] or last
    for kind, field in zip(kinds, fields, strict=True):
        if not kind and "in" in kinds:
            raise SpecificationError(field, "One size is in inches, this one has no unit.", "Write the unit of each.")
    return [kind or "mm" for kind in kinds]


def _millimetres(number: str, unit: str, field: str) -> Decimal:
    if "/" in number and unit != "in":
        raise SpecificationError(
            field, f"{number} is a fraction without a unit.", "Write in or a quotation mark after it."
        )
    value = _number(number) * (MILLIMETRES_PER_INCH if unit == "in" else 1)
    if value <= 0:
        raise SpecificationError(field, f"{number} is no size above zero.", "Write millimetres, like 50.39.")
    if value > LARGEST_MM:
        raise SpecificationError(field, f"{plain(value)} mm is larger than any pump part.", "Check the unit.")
    return Decimal(plain(value))


def _number(text: str) -> Decimal:
    if "/" not in text:
        return Decimal(text.replace(",", "."))
    *whole, fraction = re.split(r"[ -]", text)
    above, below = fraction.split("/")
    return sum(map(Decimal, whole), Decimal(above) / Decimal(below))


def _converted(found: Sequence[tuple[str, str]], units: Sequence[str], values: Sequence[Decimal]) -> tuple[str, ...]:
    if "in" not in units:
        return ()
    said = " x ".join(f"{number} {unit}" for (number, _), unit in zip(found, units, strict=True))
    return (f"{said} is {' x '.join(map(plain, values))} mm (1 in = 25.4 mm).",)
