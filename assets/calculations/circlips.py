"""Circlips for shafts (DIN 471) and bores (DIN 472), with their grooves."""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from assets.calculations.specification_base import Point, Property, Reading, Specification, SpecificationError, same
from assets.calculations.written_numbers import plain
from assets.calculations.written_sizes import read_sizes, tidy

# Thickness of the ring: nominal diameter and diameter of its groove, all in mm (value from memory).
_SHAFT = {
    "1": "10 9.6, 11 10.5, 12 11.5, 13 12.4, 14 13.4, 15 14.3, 16 15.2, 17 16.2",
    "1.2": "18 17, 19 18, 20 19, 21 20, 22 21, 24 22.9, 25 23.9, 26 24.9",
    "1.5": "28 26.6, 29 27.6, 30 28.6, 32 30.3, 34 32.3, 35 33",
    "1.75": "36 34, 38 36, 40 37.5, 42 39.5, 45 42.5, 48 45.5",
    "2": "50 47, 52 49, 55 52, 56 53, 58 55, 60 57, 62 59, 63 60",
    "2.5": "65 62, 68 65, 70 67, 72 69, 75 72, 78 75, 80 76.5, 82 78.5",
    "3": "85 81.5, 88 84.5, 90 86.5, 95 91.5, 100 96.5",
    "4": "105 101, 110 106, 115 111, 120 116",
}
_BORE = {
    "1": "10 10.4, 12 12.5, 14 14.6, 15 15.7, 16 16.8, 17 17.8, 18 19, 19 20, 20 21, 21 22, 22 23",
    "1.2": "24 25.2, 25 26.2, 26 27.2, 28 29.4, 30 31.4, 32 33.7",
    "1.5": "34 35.7, 35 37, 36 38, 37 39, 38 40",
    "1.75": "40 42.5, 42 44.5, 45 47.5, 47 49.5, 48 50.5",
    "2": "50 53, 52 55, 55 58, 56 59, 58 61, 60 63, 62 65, 63 66",
    "2.5": "65 68, 68 71, 70 73, 72 75, 75 78, 78 81, 80 83.5, 82 85.5",
    "3": "85 88.5, 88 91.5, 90 93.5, 92 95.5, 95 98.5, 98 101.5, 100 103.5",
    "4": "102 106, 105 109, 108 112, 110 114, 112 116, 115 119, 120 124, 125 129, 130 134",
}
# Least width of the groove (H13) by thickness (value from memory).
_WIDTHS = {"1": "1.1", "1.2": "1.3", "1.5": "1.6", "1.75": "1.85", "2": "2.15", "2.5": "2.65", "3": "3.15", "4": "4.15"}
STANDARDS = {"shaft": "DIN 471", "bore": "DIN 472"}
_EXAMPLE = "shaft 40x1.75"
_PLACE = re.compile(
    r"(?:(?P<place>shaft|bore)|DIN ?(?P<number>471|472)(?: ?(?P<both>shaft|bore))?)[ :-]+(?P<rest>.*)", re.IGNORECASE
)


@dataclass(frozen=True)
class Groove:
    """Thickness of the ring, diameter and least width of its groove, in mm."""

    thickness_mm: Decimal
    diameter_mm: Decimal
    width_mm: Decimal


def _grooves(rows: dict[str, str]) -> dict[Decimal, Groove]:
    found: dict[Decimal, Groove] = {}
    for thickness, pairs in rows.items():
        for nominal, groove in (one.split() for one in pairs.split(",")):
            found[Decimal(nominal)] = Groove(Decimal(thickness), Decimal(groove), Decimal(_WIDTHS[thickness]))
    return found


GROOVES: dict[str, dict[Decimal, Groove]] = {"shaft": _grooves(_SHAFT), "bore": _grooves(_BORE)}


@dataclass(frozen=True)
class Circlip(Specification):
    """For a shaft or a bore, nominal diameter x thickness, in mm."""

    category: ClassVar[str] = "circlip"
    title: ClassVar[str] = "Circlip"
    standard: ClassVar[str] = "DIN 471 for shafts, DIN 472 for bores"
    example: ClassVar[str] = _EXAMPLE
    compared: ClassVar[tuple[str, ...]] = ("place", "nominal diameter", "thickness")
    place: str
    nominal_mm: Decimal
    thickness_mm: Decimal

    @property
    def groove(self) -> Groove | None:
        """The groove of the standard; None where size or thickness are not the standard's."""
        found = GROOVES[self.place].get(self.nominal_mm)
        return found if found and found.thickness_mm == self.thickness_mm else None

    def designation(self) -> str:
        return f"{self.place} {plain(self.nominal_mm)}x{plain(self.thickness_mm)}"

    def alike(self) -> tuple[Any, ...]:
        return self.place, self.nominal_mm, self.thickness_mm

    def points(self, offered: Any) -> tuple[Point, ...]:
        return (
            same("place", self.place, offered.place),
            same("nominal diameter", self.nominal_mm, offered.nominal_mm),
            same("thickness", self.thickness_mm, offered.thickness_mm),
        )

    def properties(self) -> tuple[Property, ...]:
        standard = STANDARDS[self.place] if self.groove else "as written"
        found = [
            Property("place", self.place, "", standard),
            Property("nominal diameter", plain(self.nominal_mm), "mm", standard),
            Property("thickness", plain(self.thickness_mm), "mm", standard),
        ]
        if self.groove:
            found += [
                Property("groove diameter", plain(self.groove.diameter_mm), "mm", standard),
                Property("groove width, at least", plain(self.groove.width_mm), "mm", standard),
            ]
        return tuple(found)


def parse(text: str) -> Reading:
    """``shaft 40x1.75``, ``bore 90x3``, ``DIN 471 40x1.75``; ``shaft 40`` takes the thickness of the standard.
    Raises `SpecificationError`."""
    found = _PLACE.fullmatch(tidy(text))
    if not found:
        raise SpecificationError("place", f"{text!r} is no circlip.", f"Say shaft or bore, then sizes: {_EXAMPLE}.")
    place = (found["place"] or {"471": "shaft", "472": "bore"}[found["number"]]).lower()
    if (found["both"] or place).lower() != place:
        raise SpecificationError("place", f"DIN {found['number']} is for a {place}.", "Keep the one or the other.")
    if re.search(r"x ?[\d.,]", found["rest"], re.IGNORECASE):
        sizes = read_sizes(found["rest"], ("nominal_mm", "thickness_mm"), "circlip", _EXAMPLE)
        nominal, thickness = sizes.values
    else:
        sizes = read_sizes(found["rest"], ("nominal_mm",), "circlip", _EXAMPLE)
        nominal = sizes.values[0]
        if nominal not in GROOVES[place]:
            raise SpecificationError(
                "thickness_mm", f"{plain(nominal)} mm is not in the table of {STANDARDS[place]}.", "Add the thickness."
            )
        thickness = GROOVES[place][nominal].thickness_mm
    if sizes.rest:
        raise SpecificationError("specification", f"{sizes.rest!r} is not understood.", f"Write it like {_EXAMPLE}.")
    if thickness >= nominal:
        raise SpecificationError(
            "thickness_mm", "The ring is thicker than its diameter.", f"Write nominal x thickness: {_EXAMPLE}."
        )
    return Reading(Circlip(place, nominal, thickness), (*sizes.notes, *_notes(place, nominal, thickness)))


def _notes(place: str, nominal: Decimal, thickness: Decimal) -> tuple[str, ...]:
    usual = GROOVES[place].get(nominal)
    if usual is None or usual.thickness_mm == thickness:
        return ()
    return (f"{STANDARDS[place]} has {plain(usual.thickness_mm)} mm for {plain(nominal)} mm; taken as written.",)
