"""Rings of three sizes and a material: what flat gaskets, lip seals, wear rings and sleeves have in common."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar, TypeVar

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
class Ring(Specification):
    """Three sizes in mm and a material; ``names`` says which size is which, ``inner`` and ``outer`` which of them is
    the smaller and the larger diameter."""

    compared: ClassVar[tuple[str, ...]] = ()
    names: ClassVar[tuple[str, str, str]] = ("first", "second", "third")
    inner: ClassVar[int] = 0
    outer: ClassVar[int] = 1
    first_mm: Decimal
    second_mm: Decimal
    third_mm: Decimal
    material: str

    @property
    def sizes(self) -> tuple[Decimal, Decimal, Decimal]:
        return self.first_mm, self.second_mm, self.third_mm

    def designation(self) -> str:
        return f"{'x'.join(map(plain, self.sizes))} {self.material}"

    def alike(self) -> tuple[Any, ...]:
        return (*self.sizes, self.material)

    def points(self, offered: Any) -> tuple[Point, ...]:
        sizes = zip(self.names, self.sizes, offered.sizes, strict=True)
        return (*(same(*one) for one in sizes), same("material", self.material, offered.material))

    def properties(self) -> tuple[Property, ...]:
        sizes = zip(self.names, self.sizes, strict=True)
        found = [Property(name, plain(value), "mm", "as written") for name, value in sizes]
        return (*found, material_property(self.material))

    def elastomers(self) -> tuple[str, ...]:
        return rubber(self.material)


One = TypeVar("One", bound=Ring)


def parse_ring(kind: type[Ring], text: str) -> Reading:
    """Three sizes and a material, in the order of the kind. Raises `SpecificationError`."""
    written = read_sizes(tidy(text), kind.names, kind.title.lower(), kind.example)
    ring = made(kind, written.values, material(written.rest, kind.example))
    return Reading(ring, (*written.notes, *renamed(written.rest)))


def made(kind: type[One], sizes: Sequence[Decimal], of: str, **more: Any) -> One:
    """A ring whose diameters are in order. Raises `SpecificationError` showing the order to write."""
    inside, outside = sizes[kind.inner], sizes[kind.outer]
    if inside >= outside:
        small, large = kind.names[kind.inner], kind.names[kind.outer]
        raise SpecificationError(
            small,
            f"The {small} {plain(inside)} mm is not smaller than the {large} {plain(outside)} mm.",
            f"Write {' x '.join(kind.names)}: {kind.example}.",
        )
    make: Callable[..., One] = kind
    return make(*sizes, of, **more)


@dataclass(frozen=True)
class WearRing(Ring):
    """Inside diameter, outside diameter, width."""

    category: ClassVar[str] = "wear-ring"
    title: ClassVar[str] = "Wear ring"
    standard: ClassVar[str] = "none; sizes in mm"
    names: ClassVar[tuple[str, str, str]] = ("inside diameter", "outside diameter", "width")
    compared: ClassVar[tuple[str, ...]] = (*names, "material")
    example: ClassVar[str] = "95x110x12 BRONZE"


@dataclass(frozen=True)
class Sleeve(Ring):
    """Inside diameter, outside diameter, length."""

    category: ClassVar[str] = "sleeve"
    title: ClassVar[str] = "Shaft sleeve"
    standard: ClassVar[str] = "none; sizes in mm"
    names: ClassVar[tuple[str, str, str]] = ("inside diameter", "outside diameter", "length")
    compared: ClassVar[tuple[str, ...]] = (*names, "material")
    example: ClassVar[str] = "38x45x60 CRNIMO"
