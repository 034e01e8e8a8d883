"""Gaskets, lip seals, packing, circlips, wear rings, sleeves, keys, fasteners, and whatever is left as free text."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from assets.calculations.specification_base import (
    ALIASES,
    ELASTOMERS,
    Point,
    Specification,
    SpecificationError,
    plain,
    same,
    size,
)

_NUMBER = r"(\d+(?:[.,]\d+)?)"
_X = r"\s*[xX×]\s*"


def _material(text: str) -> str:
    return ALIASES.get(text.upper(), text.upper())


def _rubber(material: str) -> tuple[str, ...]:
    return (material,) if material in ELASTOMERS else ()


@dataclass(frozen=True)
class Ring(Specification):
    """Three sizes and a material: outer x inner x thickness, or shaft x housing x width."""

    names: ClassVar[tuple[str, str, str]] = ("first", "second", "third")
    example: ClassVar[str] = ""
    first_mm: Decimal
    second_mm: Decimal
    third_mm: Decimal
    material: str

    def designation(self) -> str:
        return f"{plain(self.first_mm)}x{plain(self.second_mm)}x{plain(self.third_mm)} {self.material}"

    def alike(self) -> tuple[Any, ...]:
        return self.first_mm, self.second_mm, self.third_mm

    def points(self, offered: Any) -> tuple[Point, ...]:
        return (
            same(self.names[0], self.first_mm, offered.first_mm),
            same(self.names[1], self.second_mm, offered.second_mm),
            same(self.names[2], self.third_mm, offered.third_mm),
            same("material", self.material, offered.material),
        )

    def elastomers(self) -> tuple[str, ...]:
        return _rubber(self.material)


@dataclass(frozen=True)
class FlatGasket(Ring):
    category: ClassVar[str] = "flat-gasket"
    names: ClassVar[tuple[str, str, str]] = ("outside diameter", "inside diameter", "thickness")
    example: ClassVar[str] = "180x150x0.5 FIBRE"


@dataclass(frozen=True)
class LipSeal(Ring):
    """Rotary shaft lip seal, sizes after ISO 6194: shaft x housing x width."""

    category: ClassVar[str] = "lip-seal"
    names: ClassVar[tuple[str, str, str]] = ("shaft", "housing", "width")
    example: ClassVar[str] = "35x52x7 NBR"


@dataclass(frozen=True)
class WearRing(Ring):
    category: ClassVar[str] = "wear-ring"
    names: ClassVar[tuple[str, str, str]] = ("inside diameter", "outside diameter", "width")
    example: ClassVar[str] = "95x110x12 BRONZE"


@dataclass(frozen=True)
class Sleeve(Ring):
    category: ClassVar[str] = "sleeve"
    names: ClassVar[tuple[str, str, str]] = ("inside diameter", "outside diameter", "length")
    example: ClassVar[str] = "38x45x60 CRNIMO"


def parse_ring(kind: type[Ring], text: str) -> Ring:
    """Three sizes and a material. Raises `SpecificationError`."""
    found = re.fullmatch(f"{_NUMBER}{_X}{_NUMBER}{_X}{_NUMBER}\\s+([A-Za-z][A-Za-z0-9-]*)", text.strip())
    if not found:
        raise SpecificationError("specification", f"{text!r} is no {kind.category}.", f"Write it like {kind.example}.")
    sizes = [size(found[index], kind.names[index - 1]) for index in (1, 2, 3)]
    make: Callable[..., Ring] = kind
    return make(*sizes, _material(found[4]))


@dataclass(frozen=True)
class Packing(Specification):
    category: ClassVar[str] = "packing"
    section_mm: Decimal
    material: str

    def designation(self) -> str:
        return f"{plain(self.section_mm)} {self.material}"

    def alike(self) -> tuple[Any, ...]:
        return (self.section_mm,)

    def points(self, offered: Any) -> tuple[Point, ...]:
        return (same("section", self.section_mm, offered.section_mm), same("material", self.material, offered.material))

    def elastomers(self) -> tuple[str, ...]:
        return _rubber(self.material)


def parse_packing(text: str) -> Packing:
    """``10 PTFE``. Raises `SpecificationError`."""
    found = re.fullmatch(f"{_NUMBER}\\s+([A-Za-z][A-Za-z0-9-]*)", text.strip())
    if not found:
        raise SpecificationError("specification", f"{text!r} is no packing.", "Write section and material: 10 PTFE.")
    return Packing(size(found[1], "section_mm"), _material(found[2]))


@dataclass(frozen=True)
class Circlip(Specification):
    """For a shaft or a bore, nominal diameter x thickness."""

    category: ClassVar[str] = "circlip"
    place: str
    nominal_mm: Decimal
    thickness_mm: Decimal

    def designation(self) -> str:
        return f"{self.place} {plain(self.nominal_mm)}x{plain(self.thickness_mm)}"

    def alike(self) -> tuple[Any, ...]:
        return self.place, self.nominal_mm

    def points(self, offered: Any) -> tuple[Point, ...]:
        return (
            same("place", self.place, offered.place),
            same("nominal diameter", self.nominal_mm, offered.nominal_mm),
            same("thickness", self.thickness_mm, offered.thickness_mm),
        )


def parse_circlip(text: str) -> Circlip:
    """``shaft 40x1.75`` or ``bore 90x3``. Raises `SpecificationError`."""
    found = re.fullmatch(f"(shaft|bore)\\s+{_NUMBER}{_X}{_NUMBER}", text.strip(), re.IGNORECASE)
    if not found:
        raise SpecificationError("specification", f"{text!r} is no circlip.", "Write it like shaft 40x1.75.")
    return Circlip(found[1].lower(), size(found[2], "nominal_mm"), size(found[3], "thickness_mm"))


@dataclass(frozen=True)
class Key(Specification):
    """Parallel key, width x height x length."""

    category: ClassVar[str] = "key"
    width_mm: Decimal
    height_mm: Decimal
    length_mm: Decimal

    def designation(self) -> str:
        return "x".join(plain(one) for one in (self.width_mm, self.height_mm, self.length_mm))

    def alike(self) -> tuple[Any, ...]:
        return self.width_mm, self.height_mm, self.length_mm

    def points(self, offered: Any) -> tuple[Point, ...]:
        return (
            same("width", self.width_mm, offered.width_mm),
            same("height", self.height_mm, offered.height_mm),
            same("length", self.length_mm, offered.length_mm),
        )


def parse_key(text: str) -> Key:
    """``10x8x40``. Raises `SpecificationError`."""
    found = re.fullmatch(f"{_NUMBER}{_X}{_NUMBER}{_X}{_NUMBER}", text.strip())
    if not found:
        raise SpecificationError("specification", f"{text!r} is no key.", "Write width x height x length: 10x8x40.")
    return Key(size(found[1], "width_mm"), size(found[2], "height_mm"), size(found[3], "length_mm"))


@dataclass(frozen=True)
class Fastener(Specification):
    """Metric thread x length, with the strength class after ISO 898-1 or ISO 3506-1."""

    category: ClassVar[str] = "fastener"
    thread: str
    length_mm: Decimal
    strength_class: str

    def designation(self) -> str:
        return f"{self.thread}x{plain(self.length_mm)} {self.strength_class}"

    def alike(self) -> tuple[Any, ...]:
        return self.thread, self.length_mm

    def points(self, offered: Any) -> tuple[Point, ...]:
        return (
            same("thread", self.thread, offered.thread),
            same("length", self.length_mm, offered.length_mm),
            same("strength class", self.strength_class, offered.strength_class),
        )


def parse_fastener(text: str) -> Fastener:
    """``M12x40 8.8``. Raises `SpecificationError`."""
    found = re.fullmatch(f"(M\\d+){_X}{_NUMBER}\\s+(\\d+\\.\\d|A[24]-\\d{{2}})", text.strip().upper().replace("×", "X"))
    if not found:
        raise SpecificationError("specification", f"{text!r} is no fastener.", "Write it like M12x40 8.8.")
    return Fastener(found[1], size(found[2], "length_mm"), found[3])


@dataclass(frozen=True)
class Other(Specification):
    """Free text; never equal to anything but by part number."""

    category: ClassVar[str] = "other"
    text: str

    def designation(self) -> str:
        return self.text

    def points(self, offered: Any) -> tuple[Point, ...]:
        return (Point("free text", self.text, offered.text, False),)
