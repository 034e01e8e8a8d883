"""Rotary shaft lip seals: sizes after ISO 6194-1, type and dust lip where written."""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from assets.calculations.plain_rings import Ring, made
from assets.calculations.specification_base import Point, Property, Reading, SpecificationError, material, renamed
from assets.calculations.written_numbers import plain
from assets.calculations.written_sizes import read_sizes, tidy

# ISO 6194-1:2007 types: 4 to 6 are 1 to 3 with a minor (dust) lip (value from memory).
TYPES = {
    "1": "rubber covered", "2": "metal cased", "3": "built up, metal cased with an inner case",
    "4": "rubber covered, with dust lip", "5": "metal cased, with dust lip",
    "6": "built up, metal cased with an inner case, with dust lip",
}  # fmt: skip
WITH_DUST_LIP = frozenset({"4", "5", "6"})
# Letters of DIN 3760 for the same (value from memory).
_LETTERS = {"A": "1", "B": "2", "C": "3", "AS": "4", "BS": "5", "CS": "6"}
# ISO 6194-1:2007 housing bores in mm by shaft diameter in mm (value from memory).
HOUSINGS: dict[int, tuple[int, ...]] = {
    6: (16, 22), 7: (22,), 8: (22, 24), 9: (22,), 10: (22, 25), 12: (24, 25, 30), 15: (26, 30, 35), 16: (30,),
    18: (30, 35), 20: (35, 40), 22: (35, 40, 47), 25: (40, 47, 52), 28: (40, 47, 52), 30: (42, 47, 52),
    32: (45, 47, 52), 35: (50, 52, 55), 38: (55, 58, 62), 40: (55, 62), 42: (55, 62), 45: (62, 65), 50: (68, 72),
    55: (72, 80), 60: (80, 85), 65: (85, 90), 70: (90, 95), 75: (95, 100), 80: (100, 110), 85: (110, 120), 90: (120,),
    95: (120,), 100: (125,), 110: (140,), 120: (150,),
}  # fmt: skip
_PAIRS = frozenset((Decimal(shaft), Decimal(bore)) for shaft, bores in HOUSINGS.items() for bore in bores)
_TYPE = re.compile(r"\bTYPE ?([1-6])\b")
_DUST = re.compile(r"\b(?:WITH ?)?(?:DUST|MINOR) ?LIP\b")
_DASHED = re.compile(r"([\d.,]+)-([\d.,]+)-([\d.,]+)(?![\d/])")
_FRONT = re.compile(r"(AS|BS|CS|A|B|C)[ -]+(?=[\d.,])", re.IGNORECASE)


@dataclass(frozen=True)
class LipSeal(Ring):
    """Shaft, housing bore and width in mm, material; type of ISO 6194-1 or a dust lip where written."""

    category: ClassVar[str] = "lip-seal"
    title: ClassVar[str] = "Lip seal"
    standard: ClassVar[str] = "ISO 6194-1 sizes and types"
    names: ClassVar[tuple[str, str, str]] = ("shaft", "housing", "width")
    compared: ClassVar[tuple[str, ...]] = (*names, "material")
    compared_where_asked: ClassVar[tuple[str, ...]] = ("type", "dust lip")
    example: ClassVar[str] = "35x52x7 NBR"
    seal_type: str = ""
    dust_lip: bool = False

    def designation(self) -> str:
        tail = f" type {self.seal_type}" if self.seal_type else " dust lip" if self.dust_lip else ""
        return super().designation() + tail

    def points(self, offered: Any) -> tuple[Point, ...]:
        found = list(super().points(offered))
        if self.seal_type:
            found.append(
                Point("type", self.seal_type, offered.seal_type or "not stated", self.seal_type == offered.seal_type)
            )
        elif self.dust_lip:
            found.append(Point("dust lip", "yes", "yes" if offered.dust_lip else "not stated", offered.dust_lip))
        return tuple(found)

    @property
    def is_standard(self) -> bool:
        """Whether shaft and housing are a pair of ISO 6194-1 that is known here."""
        return (self.first_mm, self.second_mm) in _PAIRS

    def properties(self) -> tuple[Property, ...]:
        found = list(super().properties())
        if self.is_standard:
            found.append(Property("sizes", "shaft and housing are a pair of the standard", "", "ISO 6194-1"))
        if self.seal_type:
            found.append(Property("type", f"{self.seal_type}, {TYPES[self.seal_type]}", "", "ISO 6194-1"))
        elif self.dust_lip:
            found.append(Property("dust lip", "yes", "", "as written"))
        return tuple(found)


def parse(text: str) -> Reading:
    """``35x52x7 NBR``, ``35-52-7 NBR``, ``35x52x7 NBR type 4``, ``AS 35x52x7 NBR``, ``35x52x7 NBR dust lip``. Raises
    `SpecificationError`."""
    body, seal_type = tidy(text), ""
    notes: list[str] = []
    front = _FRONT.match(body)
    if front:
        body, seal_type = body[front.end() :], _LETTERS[front[1].upper()]
        notes.append(f"{front[1].upper()} of DIN 3760 is type {seal_type} of ISO 6194-1.")
    sizes = read_sizes(_DASHED.sub(r"\1x\2x\3", body, count=1), LipSeal.names, "lip seal", LipSeal.example)
    rest = sizes.rest.upper()
    typed = _TYPE.search(rest)
    if typed:
        if seal_type and typed[1] != seal_type:
            raise SpecificationError("type", "Two types are written.", "Keep one.")
        seal_type, rest = typed[1], _TYPE.sub(" ", rest)
    dusty = bool(_DUST.search(rest))
    rest = _DUST.sub(" ", rest)
    if dusty and seal_type and seal_type not in WITH_DUST_LIP:
        raise SpecificationError(
            "type", f"Type {seal_type} has no dust lip.", f"With one it is type {int(seal_type) + 3}."
        )
    of = material(rest, LipSeal.example)
    if " " in of:
        raise SpecificationError("material", f"{of!r} is no one material.", "Write NBR type 4, or NBR dust lip.")
    seal = made(LipSeal, sizes.values, of, seal_type=seal_type, dust_lip=dusty or seal_type in WITH_DUST_LIP)
    if not seal.is_standard:
        pair = f"{plain(seal.first_mm)} and {plain(seal.second_mm)} mm"
        notes.append(f"Shaft and housing {pair} are no pair of ISO 6194-1 known here; taken as written.")
    return Reading(seal, (*sizes.notes, *notes, *renamed(rest)))
