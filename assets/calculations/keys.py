"""Parallel keys: sections after ISO 773 and DIN 6885-1, the shafts they serve, keyway depths and lengths."""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from assets.calculations.specification_base import (
    Point,
    Property,
    Reading,
    Specification,
    SpecificationError,
    same,
    written,
)
from assets.calculations.written_numbers import plain
from assets.calculations.written_sizes import read_sizes, tidy

# Width, height, shaft over, shaft up to and including, keyway depth in the shaft and in the hub, shortest and longest
# standard length; all in mm (ISO 773:1969, DIN 6885-1:1968, value from memory).
_ROWS = """
    2 2 6 8 1.2 1 6 20
    3 3 8 10 1.8 1.4 6 36
    4 4 10 12 2.5 1.8 8 45
    5 5 12 17 3 2.3 10 56
    6 6 17 22 3.5 2.8 14 70
    8 7 22 30 4 3.3 18 90
    10 8 30 38 5 3.3 22 110
    12 8 38 44 5 3.3 28 140
    14 9 44 50 5.5 3.8 36 160
    16 10 50 58 6 4.3 45 180
    18 11 58 65 7 4.4 50 200
    20 12 65 75 7.5 4.9 56 220
    22 14 75 85 9 5.4 63 250
    25 14 85 95 9 5.4 70 280
    28 16 95 110 10 6.4 80 320
    32 18 110 130 11 7.4 90 360
"""
LENGTHS_MM = (
    6, 8, 10, 12, 14, 16, 18, 20, 22, 25, 28, 32, 36, 40, 45, 50, 56, 63, 70, 80, 90, 100, 110, 125, 140, 160, 180, 200,
    220, 250, 280, 320, 360,
)  # fmt: skip
_LENGTHS = frozenset(map(Decimal, LENGTHS_MM))
FORMS = {"A": "both ends round", "B": "both ends square", "AB": "one end round, one square"}
_EXAMPLE = "10x8x40"
_FRONT = re.compile(r"(?:DIN ?6885(?:-1)?|ISO ?773|KEY)[ :-]+", re.IGNORECASE)
_FORM = re.compile(r"(?:FORM ?)?(AB|A|B)\b[ -]*(?=[\d.,]|$)", re.IGNORECASE)


@dataclass(frozen=True)
class Section:
    """A section of the standard, in mm: the shaft it serves (over, up to and including), the keyways, the lengths."""

    width: Decimal
    height: Decimal
    shaft_over: Decimal
    shaft_upto: Decimal
    shaft_depth: Decimal
    hub_depth: Decimal
    shortest: Decimal
    longest: Decimal


SECTIONS: dict[Decimal, Section] = {
    one.width: one for one in (Section(*map(Decimal, row.split())) for row in _ROWS.split("\n") if row.strip())
}


@dataclass(frozen=True)
class Key(Specification):
    """Parallel key, width x height x length in mm; form A, B or AB of its ends where written."""

    category: ClassVar[str] = "key"
    title: ClassVar[str] = "Parallel key"
    standard: ClassVar[str] = "ISO 773 and DIN 6885-1"
    example: ClassVar[str] = _EXAMPLE
    compared: ClassVar[tuple[str, ...]] = ("width", "height", "length")
    compared_where_asked: ClassVar[tuple[str, ...]] = ("form",)
    width_mm: Decimal
    height_mm: Decimal
    length_mm: Decimal
    form: str = ""

    @property
    def section(self) -> Section | None:
        """The section of the standard; None for one that is not."""
        found = SECTIONS.get(self.width_mm)
        return found if found and found.height == self.height_mm else None

    def designation(self) -> str:
        sizes = "x".join(plain(one) for one in (self.width_mm, self.height_mm, self.length_mm))
        return f"{self.form} {sizes}" if self.form else sizes

    def alike(self) -> tuple[Any, ...]:
        return self.width_mm, self.height_mm, self.length_mm

    def points(self, offered: Any) -> tuple[Point, ...]:
        found = [
            same("width", self.width_mm, offered.width_mm),
            same("height", self.height_mm, offered.height_mm),
            same("length", self.length_mm, offered.length_mm),
        ]
        if self.form:
            found.append(written("form", self.form, offered.form))
        return tuple(found)

    def properties(self) -> tuple[Property, ...]:
        found = [
            Property("width", plain(self.width_mm), "mm", "ISO 773"),
            Property("height", plain(self.height_mm), "mm", "ISO 773"),
            Property("length", plain(self.length_mm), "mm", "as written"),
        ]
        one = self.section
        if one:
            shafts = f"over {plain(one.shaft_over)} to {plain(one.shaft_upto)}"
            found += [
                Property("shaft diameters", shafts, "mm", "ISO 773"),
                Property("keyway depth in the shaft", plain(one.shaft_depth), "mm", "DIN 6885-1"),
                Property("keyway depth in the hub", plain(one.hub_depth), "mm", "DIN 6885-1"),
            ]
        if self.form:
            found.append(Property("form", f"{self.form}, {FORMS[self.form]}", "", "DIN 6885-1"))
        return tuple(found)


def parse(text: str) -> Reading:
    """``10x8x40``, ``A 10x8x40``, ``DIN 6885-1 A 10x8x40``. Raises `SpecificationError` naming the pair."""
    body = _FRONT.sub("", tidy(text), count=1)
    before = _FORM.match(body)
    sizes = read_sizes(
        body[before.end() :] if before else body, ("width_mm", "height_mm", "length_mm"), "key", _EXAMPLE
    )
    after = _FORM.fullmatch(sizes.rest)
    if (sizes.rest and not after) or (before and after):
        raise SpecificationError("form", f"{sizes.rest!r} is not understood.", "Write the form A, B or AB once.")
    form = (before or after or {1: ""})[1].upper()
    width, height, length = sizes.values
    key = Key(width, height, length, form)
    if key.section is None:
        raise _no_pair(key)
    return Reading(key, (*sizes.notes, *_about_length(key.section, key.length_mm)))


def _no_pair(key: Key) -> SpecificationError:
    said = f"{plain(key.width_mm)}x{plain(key.height_mm)}"
    near = SECTIONS.get(key.width_mm) or min(
        SECTIONS.values(), key=lambda one: (abs(one.width - key.width_mm), abs(one.height - key.height_mm))
    )
    field = "height_mm" if key.width_mm in SECTIONS else "width_mm"
    return SpecificationError(
        field, f"{said} is no section of ISO 773.", f"Nearest: {plain(near.width)}x{plain(near.height)}."
    )


def _about_length(section: Section, length: Decimal) -> tuple[str, ...]:
    if length not in _LENGTHS:
        return (f"{plain(length)} mm is no standard length of DIN 6885-1; taken as written.",)
    if not section.shortest <= length <= section.longest:
        span = f"{plain(section.shortest)} to {plain(section.longest)} mm"
        return (f"DIN 6885-1 has this section in lengths of {span}; taken as written.",)
    return ()
