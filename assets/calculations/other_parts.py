"""Packing, and whatever is left as free text."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from assets.calculations.specification_base import (
    Point,
    Property,
    Reading,
    Specification,
    SpecificationError,
    material,
    material_property,
    renamed,
    rubber,
    same,
)
from assets.calculations.written_numbers import plain
from assets.calculations.written_sizes import read_sizes, tidy


@dataclass(frozen=True)
class Packing(Specification):
    """Square gland packing: section in mm and material."""

    category: ClassVar[str] = "packing"
    title: ClassVar[str] = "Gland packing"
    standard: ClassVar[str] = "none; section in mm"
    example: ClassVar[str] = "10 PTFE"
    compared: ClassVar[tuple[str, ...]] = ("section", "material")
    section_mm: Decimal
    material: str

    def designation(self) -> str:
        return f"{plain(self.section_mm)} {self.material}"

    def alike(self) -> tuple[Any, ...]:
        return self.section_mm, self.material

    def points(self, offered: Any) -> tuple[Point, ...]:
        return (same("section", self.section_mm, offered.section_mm), same("material", self.material, offered.material))

    def properties(self) -> tuple[Property, ...]:
        section = Property("section, square", plain(self.section_mm), "mm", "as written")
        return section, material_property(self.material)

    def elastomers(self) -> tuple[str, ...]:
        return rubber(self.material)


@dataclass(frozen=True)
class Other(Specification):
    """Free text; never equal to anything but by part number."""

    category: ClassVar[str] = "other"
    title: ClassVar[str] = "Anything else"
    standard: ClassVar[str] = "none; free text"
    example: ClassVar[str] = "deflector 39 mm"
    text: str

    def designation(self) -> str:
        return self.text

    def points(self, offered: Any) -> tuple[Point, ...]:
        return (Point("free text", self.text, offered.text, False),)


def parse_packing(text: str) -> Reading:
    """``10 PTFE`` or ``10x10 PTFE``. Raises `SpecificationError`."""
    mended = tidy(text)
    square = "x" in mended[: mended.rfind(" ")].lower() and mended[:1].isdigit()
    fields = ("section_mm", "section_mm") if square else ("section_mm",)
    sizes = read_sizes(mended, fields, "packing", f"section and material: {Packing.example}")
    if len(set(sizes.values)) > 1:
        raise SpecificationError("section_mm", "The section is not square.", "Use the category other for such a one.")
    packing = Packing(sizes.values[0], material(sizes.rest, Packing.example))
    return Reading(packing, (*sizes.notes, *renamed(sizes.rest)))


def parse_other(text: str) -> Reading:
    """Whatever is written, without spaces at its ends."""
    return Reading(Other(text.strip()))
