"""Mechanical seals: EN 12756 designation and material code."""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from assets.calculations.seal_materials import (
    ELASTOMER_OF,
    FACE_WORDS,
    METAL_WORDS,
    PLACES,
    SECONDARY_WORDS,
    known_letters,
    meaning,
)
from assets.calculations.specification_base import (
    POLYMERS,
    Point,
    Property,
    Reading,
    Specification,
    SpecificationError,
    same,
)
from assets.calculations.written_numbers import plain
from assets.calculations.written_sizes import tidy

_EXAMPLE = "NU038S0 Q1 Q1 E G G"
_TEXT = re.compile(
    r"(?:EN ?12756(?::\d{4})?[ -]+)?(?P<length>[NK]) ?(?P<balance>[UB]) ?(?P<diameter>\d{2,3}) ?(?P<rotation>[RLS]) ?"
    r"(?P<pin>[01])(?P<code>.*)"
)
_LETTER = re.compile(r"[A-Z]\d?")
FACES = "".join(FACE_WORDS)
SECONDARY: dict[str, str | None] = {
    **{letter: ELASTOMER_OF.get(letter) for letter in SECONDARY_WORDS},
    "X4": "HNBR",
}
METALS = "".join(METAL_WORDS)
# EN 12756:2000 nominal diameters in mm (value from memory).
DIAMETERS = (
    10, 12, 14, 16, 18, 20, 22, 24, 25, 28, 30, 32, 33, 35, 38, 40, 43, 45, 48, 50, 53, 55, 58, 60, 63, 65, 68, 70, 75,
    80, 85, 90, 95, 100,
)  # fmt: skip
LENGTHS = {"N": "normal", "K": "short"}
BALANCES = {"U": "unbalanced", "B": "balanced"}
ROTATIONS = {"R": "right-hand (clockwise)", "L": "left-hand (counterclockwise)", "S": "either way"}


@dataclass(frozen=True)
class MechanicalSeal(Specification):
    """Length N or K, balance U or B, nominal shaft diameter, rotation R, L or S (either), pinned seat, materials."""

    category: ClassVar[str] = "mechanical-seal"
    title: ClassVar[str] = "Mechanical seal"
    standard: ClassVar[str] = "EN 12756 designation and material code"
    example: ClassVar[str] = _EXAMPLE
    compared: ClassVar[tuple[str, ...]] = (
        "length", "balance", "nominal diameter", "rotation", "seat pinned", *PLACES,
    )  # fmt: skip
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
            Point("seat pinned", _yes(self.seat_pinned), _yes(offered.seat_pinned), _same_pin(self, offered)),
        ]
        for name, asked, given in zip(PLACES, self.materials, offered.materials, strict=True):
            found.append(Point(name, asked, given, given == asked or (len(asked) == 1 and given[:1] == asked)))
        return tuple(found)

    def faces(self) -> tuple[str, ...]:
        return tuple(sorted(set(self.materials[:2])))

    def alike(self) -> tuple[Any, ...]:
        letters = tuple(one[:1] for one in self.materials)
        return self.length, self.balance, self.nominal_diameter_mm, self.seat_pinned, letters

    def elastomers(self) -> tuple[str, ...]:
        code = SECONDARY.get(self.materials[2], SECONDARY.get(self.materials[2][:1]))
        return (code,) if code else ()

    def properties(self) -> tuple[Property, ...]:
        source = "EN 12756"
        pin = "with anti-rotation pin" if self.seat_pinned else "without anti-rotation pin"
        found = [
            Property("length", LENGTHS[self.length], "", source),
            Property("balance", BALANCES[self.balance], "", source),
            Property("nominal diameter", plain(self.nominal_diameter_mm), "mm", source),
            Property("rotation", ROTATIONS[self.rotation], "", source),
            Property("stationary seat", pin, "", source),
        ]
        for place, (name, code) in enumerate(zip(PLACES, self.materials, strict=True)):
            said = meaning(place, code)
            words = said.words if said.narrowed else f"{said.words} ({code}: as its maker defines the digit)"
            if place == 2 and said.words in POLYMERS:
                words = words.replace(said.words, f"{said.words}, {POLYMERS[said.words]}", 1)
            found.append(Property(name, words, "", source))
        return tuple(found)


def _yes(pinned: bool) -> str:
    return "yes" if pinned else "no"


def _same_pin(asked: MechanicalSeal, offered: MechanicalSeal) -> bool:
    return asked.seat_pinned == offered.seat_pinned


def parse(text: str) -> Reading:
    """``NU038S0 Q1 Q1 E G G``; spaces, dashes and strokes between letters may be left out or stand. Raises
    `SpecificationError`."""
    found = _TEXT.fullmatch(tidy(text).upper())
    if not found:
        raise SpecificationError(
            "specification",
            f"{text!r} is no mechanical seal after EN 12756.",
            f"Write designation and material code: {_EXAMPLE}.",
        )
    letters = _letters(found["code"])
    diameter = int(found["diameter"])
    if diameter not in DIAMETERS:
        raise SpecificationError(
            "nominal_diameter_mm",
            f"{diameter} mm is no nominal diameter of EN 12756.",
            f"Nearest: {min(DIAMETERS, key=lambda one: abs(one - diameter))} mm.",
        )
    seal = MechanicalSeal(
        found["length"], found["balance"], Decimal(diameter), found["rotation"], found["pin"] == "1", letters
    )
    notes = tuple(
        f"{code}: what its digit adds is not in the key known here; {meaning(place, code).words} is sure."
        for place, code in enumerate(letters)
        if not meaning(place, code).narrowed
    )
    return Reading(seal, notes)


def _letters(code: str) -> tuple[str, ...]:
    bare = re.sub(r"[ /,.-]+", "", code)
    letters = tuple(_LETTER.findall(bare))
    if "".join(letters) != bare or len(letters) != len(PLACES):
        count = "no" if not letters else str(len(letters))
        raise SpecificationError(
            "materials", f"The material code has {count} letters, not five.", "Write it like Q1 Q1 E G G."
        )
    for place, letter in enumerate(letters):
        allowed = known_letters(place)
        if letter[0] not in allowed:
            raise SpecificationError(
                "materials",
                f"Letter {letter!r} is not known for the {PLACES[place]}.",
                f"Known there: {', '.join(f'{one} {words}' for one, words in allowed.items())}.",
            )
    return letters
