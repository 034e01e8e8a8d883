"""The rule of fit once more, slow and plain: every kit against every pump, over values that anybody can read.

A second hand. It shares no code with the service: part numbers, serial numbers, chains of supersession,
specifications and materials are all looked at here in the simplest way, so that an agreement says something.

What the rule leaves open is settled here like this (common practice, no source):

* A line serves positions of its own role only. An optional line offers like any other.
* Quantities of lines that serve a position add up; of one alternative group only the best line counts: one that is
  enough by itself first, then the better grade, then the larger quantity. Each position is looked at for itself.
* A position is as good as the worst line that it needs, the best taken first, and *short* when they are too few.
* The scope says which positions count. Without a mandatory position that is at least partly served there is no fit.
* A position that need not be renewed never makes a kit incomplete; that it is not served is a note.
* Every elastomer and seal face on any line is held against the fluid and the temperatures. Above the last row of its
  ratings it is unsuitable; what fails by neither, and is not in both, is a note.
"""

import datetime
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import groupby
from typing import Any

Specification = dict[str, Any]
GRADES = ("exact", "superseded", "equivalent")


@dataclass(frozen=True)
class Part:
    number: str
    specification: Specification | None

    def __hash__(self) -> int:
        return hash(self.number)


@dataclass(frozen=True)
class Position:
    role: str
    quantity: Decimal
    mandatory: bool = True
    number: str = ""
    specification: Specification | None = None
    serial_from: str = ""
    serial_to: str = ""
    variant: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Line:
    role: str
    part: Part
    quantity: Decimal
    optional: bool = False
    group: str = ""


@dataclass(frozen=True)
class Covered:
    model: Any
    serial_from: str = ""
    serial_to: str = ""


@dataclass(frozen=True)
class Kit:
    key: Any
    scope: frozenset[str]
    lines: tuple[Line, ...]
    coverage: tuple[Covered, ...] = ()


@dataclass(frozen=True)
class Pump:
    model: Any
    serial: str
    variant: dict[str, str]
    family: str
    coldest: Decimal
    hottest: Decimal
    build_class: Any = None


@dataclass(frozen=True)
class Replacement:
    old: str
    new: str
    from_date: datetime.date
    both_ways: bool = False
    until: datetime.date | None = None


@dataclass(frozen=True)
class Rating:
    material: str
    family: str
    up_to: Decimal
    letter: str


@dataclass(frozen=True)
class Limit:
    material: str
    coldest: Decimal | None
    hottest: Decimal | None
    hottest_in_water: Decimal | None


@dataclass
class Catalogue:
    """All that fit depends on. ``models``: positions by model."""

    models: dict[Any, list[Position]]
    parts: list[Part]
    kits: list[Kit]
    pumps: list[Pump]
    replacements: list[Replacement]
    ratings: list[Rating]
    limits: list[Limit]
    water: frozenset[str]
    face_ratings: list[Rating] = field(default_factory=list)


@dataclass(frozen=True)
class Judgement:
    """``positions``: (role, result) of every position that counts; ``materials``: results by elastomer
    and by seal face."""

    verdict: str
    matched: int
    asked: int
    positions: tuple[tuple[str, str], ...]
    materials: dict[str, str]


def judge(catalogue: Catalogue, kit: Kit, pump: Pump, on: datetime.date) -> Judgement:
    """One kit for one pump on a day."""
    asked = [one for one in positions_of(catalogue, pump) if one.role in kit.scope]
    results = [look_at(catalogue, one, kit, on) for one in asked]
    brought = {one for line in kit.lines for one in elastomers(line.part.specification)}
    materials = {one: bears(catalogue, one, pump) for one in sorted(brought)}
    for letters in sorted({one for line in kit.lines for one in faces(line.part.specification)}):
        materials[f"face {letters}"] = face_bears(catalogue, letters, pump)
    mandatory = [result for one, result in zip(asked, results, strict=True) if one.mandatory]
    if all(result == "missing" for result in mandatory):
        verdict = "no-fit"
    elif "unsuitable" in materials.values():
        verdict = "unsuitable"
    elif "missing" in mandatory or "short" in mandatory:
        verdict = "incomplete"
    elif any(result != "exact" for result in results) or any(one != "suitable" for one in materials.values()):
        verdict = "fits-with-notes"
    else:
        verdict = "fits"
    matched = sum(1 for result in mandatory if result in GRADES)
    pairs = tuple((one.role, result) for one, result in zip(asked, results, strict=True))
    return Judgement(verdict, matched, len(mandatory), pairs, materials)


def positions_of(catalogue: Catalogue, pump: Pump) -> list[Position]:
    """The positions of its model that this very pump has."""
    return [
        one
        for one in catalogue.models[pump.model]
        if in_range(pump.serial, one.serial_from, one.serial_to)
        and all(pump.variant.get(name, "").upper() == wanted.upper() for name, wanted in one.variant.items())
    ]


def is_declared(kit: Kit, pump: Pump) -> bool:
    """Whether the maker says that the kit is for this pump."""
    return any(
        one.model == pump.model and in_range(pump.serial, one.serial_from, one.serial_to) for one in kit.coverage
    )


def in_range(serial: str, start: str, end: str) -> bool:
    """Both ends belong to a range; an empty end is open."""
    return (not start or runs(start) <= runs(serial)) and (not end or runs(serial) <= runs(end))


def runs(serial: str) -> list[tuple[bool, int, str]]:
    """Digits as numbers, all else as text, numbers before text."""
    pieces = ["".join(run) for _, run in groupby(serial.upper().replace(" ", ""), key=_kind)]
    return [(False, int(one), "") if one.isdigit() else (True, 0, one) for one in pieces]


def _kind(sign: str) -> str:
    return "digit" if sign.isdigit() else "letter" if sign.isalpha() else "other"


def look_at(catalogue: Catalogue, position: Position, kit: Kit, on: datetime.date) -> str:
    """What a kit has for one position: a grade, *missing* or *short*."""
    serving: list[tuple[bool, int, Decimal, str]] = []
    standing = may_stand_for(catalogue, plain(position.number), on) if position.number else set()
    for line in kit.lines:
        grade = grade_of(position, line.part, standing)
        if line.role == position.role and grade is not None:
            too_few = bool(line.group) and line.quantity < position.quantity
            serving.append((too_few, GRADES.index(grade), line.quantity, line.group))
    if not serving:
        return "missing"
    counted = [one for one in serving if not one[3]]
    groups = [[one for one in serving if one[3] == group] for group in {one[3] for one in serving if one[3]}]
    counted += [min(group, key=lambda one: (one[0], one[1], -one[2])) for group in groups]
    taken, worst = Decimal(0), 0
    for _, grade_at, quantity, _ in sorted(counted, key=lambda one: (one[0], one[1], -one[2])):
        if taken < position.quantity:
            taken, worst = taken + quantity, max(worst, grade_at)
    return GRADES[worst] if taken >= position.quantity else "short"


def grade_of(position: Position, part: Part, standing: set[str]) -> str | None:
    """The grade at which a part serves, if it does; ``standing``: numbers that stand for the one asked for."""
    asked, offered = plain(position.number), plain(part.number)
    if asked and asked == offered:
        return "exact"
    if asked and offered in standing:
        return "superseded"
    if position.specification and part.specification and equal(position.specification, part.specification):
        return "equivalent"
    return None


def plain(number: str) -> str:
    """Only what matters of a part number: no spaces, dashes, dots, strokes, and capitals throughout."""
    return "".join(sign for sign in number.upper() if not sign.isspace() and sign not in "-./_")


def may_stand_for(catalogue: Catalogue, number: str, on: datetime.date) -> set[str]:
    """Whatever stands for a number on a day: its successors, and over links both ways its predecessors."""
    found = {number}
    while True:
        more = set(found)
        for one in catalogue.replacements:
            old, new = plain(one.old), plain(one.new)
            holds = one.from_date <= on and (one.until is None or on <= one.until)
            if holds and old in found:
                more.add(new)
            if holds and one.both_ways and new in found:
                more.add(old)
        if more == found:
            return found
        found = more


# What matters by category; hardness, rotation and material letters have a way of their own.
MATTERS = {
    "o-ring": ("inside_diameter_mm", "section_mm", "material"),
    "rolling-bearing": ("designation_code", "clearance", "sealing"),
    "mechanical-seal": ("length", "balance", "nominal_diameter_mm", "seat_pinned"),
    "flat-gasket": ("first_mm", "second_mm", "third_mm", "material"),
    "lip-seal": ("first_mm", "second_mm", "third_mm", "material"),
    "wear-ring": ("first_mm", "second_mm", "third_mm", "material"),
    "packing": ("section_mm", "material"),
    "circlip": ("place", "nominal_mm", "thickness_mm"),
}


def equal(asked: Specification, offered: Specification) -> bool:
    """Whether what is offered serves where something is asked for."""
    category = asked["category"]
    if category != offered["category"] or category not in MATTERS:
        return False
    for name in MATTERS[category]:
        one, other = asked[name], offered[name]
        if (Decimal(one) != Decimal(other)) if name.endswith("_mm") else (one != other):
            return False
    if category == "o-ring" and asked["hardness_irhd"] is not None:
        return bool(asked["hardness_irhd"] == offered["hardness_irhd"])
    if category == "mechanical-seal":
        turns = offered["rotation"] == "S" or offered["rotation"] == asked["rotation"]
        pairs = zip(asked["materials"], offered["materials"], strict=True)
        # A letter without a figure leaves the grade open: Q takes Q1 and Q2, Q1 takes Q1 only.
        return turns and all(wanted in (given, given[0]) for wanted, given in pairs)
    return True


RUBBERS = ("NBR", "HNBR", "EPDM", "FKM", "FFKM", "CR", "VMQ", "IIR", "AU", "NR", "SBR")
# EN 12756, third letter, value from memory.
SECONDARY_SEALS = {
    "P": "NBR", "E": "EPDM", "V": "FKM", "K": "FFKM", "N": "CR", "S": "VMQ", "B": "IIR", "X4": "HNBR",
}  # fmt: skip


def elastomers(specification: Specification | None) -> set[str]:
    """The rubbers that a part brings."""
    if specification is None:
        return set()
    if specification["category"] == "mechanical-seal":
        letter = specification["materials"][2]
        found = SECONDARY_SEALS.get(letter) or SECONDARY_SEALS.get(letter[0])
        return {found} if found else set()
    material = specification.get("material")
    return {material} if material in RUBBERS else set()


def faces(specification: Specification | None) -> set[str]:
    """The letters of the seal faces that a part brings."""
    is_seal = specification is not None and specification["category"] == "mechanical-seal"
    return set(specification["materials"][:2]) if specification is not None and is_seal else set()


def face_bears(catalogue: Catalogue, letters: str, pump: Pump) -> str:
    """Whether a seal face bears the fluid at its hottest; rated under its letters, or else under the first of them."""
    for name in (letters, letters[0]):
        rows = [one for one in catalogue.face_ratings if (one.material, one.family) == (name, pump.family)]
        if rows:
            hotter = [one for one in rows if one.up_to >= pump.hottest]
            if not hotter:
                return "unsuitable"
            return {"A": "suitable", "B": "limited"}.get(min(hotter, key=lambda one: one.up_to).letter, "unsuitable")
    return "not-known"


def bears(catalogue: Catalogue, material: str, pump: Pump) -> str:
    """Whether an elastomer bears the fluid from the coldest to the hottest."""
    rows = [one for one in catalogue.ratings if (one.material, one.family) == (material, pump.family)]
    limits = [one for one in catalogue.limits if one.material == material]
    for one in limits:
        too_cold = one.coldest is not None and pump.coldest < one.coldest
        too_hot = one.hottest is not None and pump.hottest > one.hottest
        boils = pump.family in catalogue.water and one.hottest_in_water is not None
        if too_cold or too_hot or (boils and pump.hottest > (one.hottest_in_water or 0)):
            return "unsuitable"
    hotter = [one for one in rows if one.up_to >= pump.hottest]
    if rows and not hotter:
        return "unsuitable"
    letter = min(hotter, key=lambda one: one.up_to).letter if hotter else ""
    if letter in {"C", "X"}:
        return "unsuitable"
    if not rows or not limits:
        return "not-known"
    return "limited" if letter == "B" else "suitable"
