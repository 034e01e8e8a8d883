"""Mechanical seals: EN 12756 designation and material code."""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from assets.calculations.specification_base import Point, Specification, SpecificationError, same

_TEXT = re.compile(
    r"(?P<length>[NK])(?P<balance>[UB])(?P<diameter>\d{3})(?P<rotation>[RLS])(?P<pin>[01])\s+(?P<code>.+)"
)
_LETTER = re.compile(r"[A-Z]\d?")
# EN 12756:2000 material key, letters value from memory: faces, secondary seals, springs and metal parts.
FACES = "ABCQUJVWXDEFGMNPRSYZ"
SECONDARY = {
    "P": "NBR", "E": "EPDM", "V": "FKM", "K": "FFKM", "N": "CR", "S": "VMQ", "B": "IIR", "X4": "HNBR",
    "T": None, "G": None, "M": None, "X": None, "Y": None,
}  # fmt: skip
METALS = "DEFGMNT"
_POSITIONS = ("rotating face", "stationary face", "secondary seals", "spring", "metal parts")
# EN 12756 nominal diameters, value from memory.
DIAMETERS = (
    10, 12, 14, 16, 18, 20, 22, 24, 25, 28, 30, 32, 33, 35, 38, 40, 43, 45, 48, 50, 53, 55, 58, 60, 63, 65, 68, 70, 75,
    80, 85, 90, 95, 100,
)  # fmt: skip


@dataclass(frozen=True)
class MechanicalSeal(Specification):
    """Length N or K, balance U or B, nominal shaft diameter, rotation R, L or S (either), pinned seat, materials."""

    category: ClassVar[str] = "mechanical-seal"
    length: str
    balance: str
    nominal_diameter_mm: Decimal
    rotation: str
    seat_pinned: bool
    materials: tuple[str, ...]

    def designation(self) -> str:
        pin = "1" if self.seat_pinned else "0"
        size = f"{int(self.nominal_diameter_mm):03d}"
        return f"{self.length}{self.balance}{size}{self.rotation}{pin} {' '.join(self.materials)}"

    def points(self, offered: Any) -> tuple[Point, ...]:
        turns = offered.rotation in {self.rotation, "S"}
        found = [
            same("length", self.length, offered.length),
            same("balance", self.balance, offered.balance),
            same("nominal diameter", self.nominal_diameter_mm, offered.nominal_diameter_mm),
            Point("rotation", self.rotation, offered.rotation, turns),
            same("seat pinned", self.seat_pinned, offered.seat_pinned),
        ]
        for name, asked, given in zip(_POSITIONS, self.materials, offered.materials, strict=True):
            found.append(Point(name, asked, given, given == asked or (len(asked) == 1 and given[:1] == asked)))
        return tuple(found)

    def faces(self) -> tuple[str, ...]:
        return tuple(sorted(set(self.materials[:2])))

    def alike(self) -> tuple[Any, ...]:
        return self.length, self.balance, self.nominal_diameter_mm, self.seat_pinned

    def elastomers(self) -> tuple[str, ...]:
        code = SECONDARY.get(self.materials[2], SECONDARY.get(self.materials[2][:1]))
        return (code,) if code else ()


def parse(text: str) -> MechanicalSeal:
    """``NU038S0 Q1 Q1 E G G`` (spaces between letters may be left out). Raises `SpecificationError`."""
    found = _TEXT.fullmatch(text.strip().upper())
    if not found:
        raise SpecificationError(
            "specification",
            f"{text!r} is no mechanical seal after EN 12756.",
            "Write designation and material code: NU038S0 Q1 Q1 E G G.",
        )
    letters = tuple(_LETTER.findall(found["code"].replace(" ", "")))
    if "".join(letters) != found["code"].replace(" ", "") or len(letters) != 5:
        raise SpecificationError("materials", "The material code has not five letters.", "Write it like Q1 Q1 E G G.")
    for index, letter in enumerate(letters):
        allowed = FACES if index < 2 else "".join(SECONDARY) if index == 2 else METALS
        if letter[0] not in allowed:
            raise SpecificationError(
                "materials", f"Letter {letter!r} is not known for the {_POSITIONS[index]}.", f"Known: {allowed}."
            )
    diameter = int(found["diameter"])
    if diameter not in DIAMETERS:
        raise SpecificationError(
            "nominal_diameter_mm",
            f"{diameter} mm is no nominal diameter of EN 12756.",
            f"Nearest: {min(DIAMETERS, key=lambda one: abs(one - diameter))} mm.",
        )
    return MechanicalSeal(
        found["length"], found["balance"], Decimal(diameter), found["rotation"], found["pin"] == "1", letters
    )
