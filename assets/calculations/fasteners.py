"""Screws, studs and bolts: metric thread (ISO 261), length, strength after ISO 898-1 or ISO 3506-1."""

import math
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

# ISO 261:1998 coarse pitches in mm by nominal diameter in mm (value from memory).
COARSE: dict[Decimal, Decimal] = {
    Decimal(diameter): Decimal(pitch)
    for diameter, pitch in (
        ("1.6", "0.35"), ("2", "0.4"), ("2.5", "0.45"), ("3", "0.5"), ("3.5", "0.6"), ("4", "0.7"), ("5", "0.8"),
        ("6", "1"), ("7", "1"), ("8", "1.25"), ("10", "1.5"), ("12", "1.75"), ("14", "2"), ("16", "2"), ("18", "2.5"),
        ("20", "2.5"), ("22", "2.5"), ("24", "3"), ("27", "3"), ("30", "3.5"), ("33", "3.5"), ("36", "4"), ("39", "4"),
        ("42", "4.5"), ("45", "4.5"), ("48", "5"), ("52", "5"), ("56", "5.5"), ("60", "5.5"), ("64", "6"),
    )
}  # fmt: skip
# Pitches that fine threads have.
_FINE = frozenset(map(Decimal, ("0.2", "0.25", "0.35", "0.5", "0.75", "1", "1.25", "1.5", "2", "3", "4")))
# ISO 898-1:2013, tables 1 and 3: least tensile strength and proof strength in MPa, up to M16 and above; class 9.8 ends
# with M16 (value from memory).
CARBON: dict[str, tuple[tuple[int, int], tuple[int, int] | None]] = {
    "4.6": ((400, 225), (400, 225)), "4.8": ((420, 310), (420, 310)), "5.6": ((500, 280), (500, 280)),
    "5.8": ((520, 380), (520, 380)), "6.8": ((600, 440), (600, 440)), "8.8": ((800, 580), (830, 600)),
    "9.8": ((900, 650), None), "10.9": ((1040, 830), (1040, 830)), "12.9": ((1220, 970), (1220, 970)),
}  # fmt: skip
# ISO 3506-1:2020, austenitic steels: least tensile strength and stress at 0.2 % in MPa (value from memory).
STAINLESS = {"50": (500, 210), "70": (700, 450), "80": (800, 600), "100": (1000, 800)}
_EXAMPLE = "M12x40 8.8"
_TEXT = re.compile(
    r"(?:(?P<standard>(?:DIN EN ISO|EN ISO|ISO|DIN|EN) ?\d{2,5}(?:-\d)?)[ ,:-]+)?"
    r"M ?(?P<thread>\d{1,2}(?:[.,]\d)?)(?P<rest>.*)",
    re.IGNORECASE,
)
_STEEL = re.compile(r"A([1-5])[ -](50|70|80|100)")


@dataclass(frozen=True)
class Fastener(Specification):
    """Metric thread (``M12``, or ``M12x1.25`` with a fine pitch) x length in mm, strength class; the product standard
    where written."""

    category: ClassVar[str] = "fastener"
    title: ClassVar[str] = "Fastener"
    standard: ClassVar[str] = "ISO 261 thread, strength after ISO 898-1 or ISO 3506-1"
    example: ClassVar[str] = _EXAMPLE
    compared: ClassVar[tuple[str, ...]] = ("thread", "length", "strength class")
    compared_where_asked: ClassVar[tuple[str, ...]] = ("product standard",)
    thread: str
    length_mm: Decimal
    strength_class: str
    product_standard: str = ""

    @property
    def diameter_mm(self) -> Decimal:
        return Decimal(self.thread[1:].split("x")[0])

    @property
    def pitch_mm(self) -> Decimal | None:
        """Pitch as written, else the coarse one; None where the diameter is not in the table."""
        _, _, fine = self.thread.partition("x")
        return Decimal(fine) if fine else COARSE.get(self.diameter_mm)

    @property
    def stress_area_mm2(self) -> Decimal | None:
        """A_s = pi/4 (d - 0.9382 P)^2 after ISO 898-1, to three figures as the standard's tables have it."""
        if self.pitch_mm is None:
            return None
        area = math.pi / 4 * float(self.diameter_mm - Decimal("0.9382") * self.pitch_mm) ** 2
        return Decimal(f"{area:.3g}")

    @property
    def strengths_mpa(self) -> tuple[int, int] | None:
        """Least tensile strength; proof strength (ISO 898-1) or stress at 0.2 % (ISO 3506-1). None where the class is
        not in the tables."""
        if self.strength_class in CARBON:
            return CARBON[self.strength_class][self.diameter_mm > 16]
        return STAINLESS.get(self.strength_class.rpartition("-")[2])

    def designation(self) -> str:
        said = f"{self.thread}x{plain(self.length_mm)} {self.strength_class}"
        return f"{self.product_standard} {said}" if self.product_standard else said

    def alike(self) -> tuple[Any, ...]:
        return self.thread, self.length_mm, self.strength_class

    def points(self, offered: Any) -> tuple[Point, ...]:
        found = [
            same("thread", self.thread, offered.thread),
            same("length", self.length_mm, offered.length_mm),
            same("strength class", self.strength_class, offered.strength_class),
        ]
        if self.product_standard:
            found.append(written("product standard", self.product_standard, offered.product_standard))
        return tuple(found)

    def properties(self) -> tuple[Property, ...]:
        found = [Property("thread", self.thread, "", "ISO 261")]
        if self.pitch_mm is not None:
            found.append(Property("pitch", plain(self.pitch_mm), "mm", "ISO 261"))
        found.append(Property("length", plain(self.length_mm), "mm", "as written"))
        carbon = self.strength_class in CARBON
        source = "ISO 898-1" if carbon else "ISO 3506-1"
        found.append(Property("strength class", self.strength_class, "", source))
        area, strengths = self.stress_area_mm2, self.strengths_mpa
        if strengths:
            found += [
                Property("tensile strength, at least", str(strengths[0]), "MPa", source),
                Property(
                    "proof strength" if carbon else "stress at 0.2 % strain, at least", str(strengths[1]), "MPa", source
                ),
            ]
        if area is not None:
            found.append(Property("stress area", plain(area), "mm²", "ISO 898-1"))
        if area is not None and strengths and carbon:
            load = area * strengths[1] / 1000
            found.append(Property("proof load", f"{load:.3g}", "kN", "ISO 898-1, stress area x proof strength"))
        if self.product_standard:
            found.append(Property("product standard", self.product_standard, "", "as written"))
        return tuple(found)


def parse(text: str) -> Reading:
    """``M12x40 8.8``, ``M12x1.25x40 10.9``, ``M10x30 A2-70``, ``ISO 4762 M8x25 8.8``. Raises `SpecificationError`."""
    found = _TEXT.fullmatch(tidy(text))
    if not found:
        raise SpecificationError(
            "thread", f"{text!r} is no fastener with a metric thread.", f"Write thread x length, class: {_EXAMPLE}."
        )
    diameter = Decimal(found["thread"].replace(",", "."))
    if diameter not in COARSE:
        raise SpecificationError(
            "thread", f"M{plain(diameter)} is no thread of ISO 261 known here.", f"Known: {_known()}."
        )
    rest = re.sub(r"^ ?x ?", "", found["rest"], flags=re.IGNORECASE)
    if rest == found["rest"]:
        raise SpecificationError("length_mm", "The length is not written.", f"Write thread x length: {_EXAMPLE}.")
    has_pitch = re.match(r"[\d.,]+ ?(?:mm)? ?x", rest, re.IGNORECASE)
    fields = ("pitch_mm", "length_mm") if has_pitch else ("length_mm",)
    sizes = read_sizes(rest, fields, "fastener", _EXAMPLE)
    thread, notes = f"M{plain(diameter)}", list(sizes.notes)
    if has_pitch:
        thread += _fine(diameter, sizes.values[0], notes)
    standard = re.sub(r"(?<=[A-Z]) ?(?=\d)", " ", " ".join((found["standard"] or "").upper().split()))
    return Reading(Fastener(thread, sizes.values[-1], _strength(sizes.rest), standard), tuple(notes))


def _known() -> str:
    return ", ".join(f"M{plain(one)}" for one in COARSE)


def _fine(diameter: Decimal, pitch: Decimal, notes: list[str]) -> str:
    coarse = COARSE[diameter]
    if pitch == coarse:
        notes.append(f"{plain(pitch)} mm is the coarse pitch of M{plain(diameter)} and is left out.")
        return ""
    if pitch not in _FINE or pitch > coarse:
        raise SpecificationError(
            "pitch_mm",
            f"{plain(pitch)} mm is no pitch of M{plain(diameter)}.",
            f"Coarse is {plain(coarse)}; fine pitches are below it, such as M12x1.25x40.",
        )
    return f"x{plain(pitch)}"


def _strength(text: str) -> str:
    said = text.upper().replace(",", ".").strip()
    steel = _STEEL.fullmatch(said)
    if steel:
        return f"A{steel[1]}-{steel[2]}"
    if said in CARBON:
        return said
    raise SpecificationError(
        "strength_class",
        f"{text!r} is no strength class." if text else "The strength class is not written.",
        f"Write one of ISO 898-1 ({', '.join(CARBON)}) or of ISO 3506-1, such as A2-70 or A4-80.",
    )
