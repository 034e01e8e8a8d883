"""Small random catalogues in which every branch of the rule of fit is common: parts that are nearly alike, links that
begin around the day, choices and optional lines, temperatures on and beside every limit.

Everything is drawn from one `random.Random`. Where that comes from Hypothesis a failure shrinks: the first of a list is
the plainest choice.
"""

import datetime
from decimal import Decimal
from random import Random
from typing import Any

from tests.kits.fit.brute_force import (
    Catalogue,
    Covered,
    Kit,
    Limit,
    Line,
    Part,
    Position,
    Pump,
    Rating,
    Replacement,
    Specification,
)

TODAY = datetime.date(2026, 6, 1)
ROLES = ("casing-o-ring", "bearing-de", "shaft-seal", "cover-gasket", "circlip", "deflector", "wear-ring-casing")
SCOPES = {
    "gasket": frozenset({"casing-o-ring", "cover-gasket"}),
    "bearing": frozenset({"bearing-de", "circlip", "deflector"}),
    "shaft-seal": frozenset({"shaft-seal", "casing-o-ring", "cover-gasket"}),
    "full-overhaul": frozenset(ROLES) - {"deflector"},
}
FAMILIES = ("warm-water", "thin-oil", "brine")
WATER = frozenset({"warm-water", "brine"})
MATERIALS = ("EPDM", "NBR", "FKM", "HNBR", "CR")
SERIALS = ("A9", "A10", "A10B", "A11", "A 12", "B1", "100", "a9-2", "A2000")
RANGES = (("", ""), ("", ""), ("A10", ""), ("", "A10"), ("A9", "A11"), ("A10B", "B1"), ("100", "A9"))
DEGREES = tuple(Decimal(one) for one in ("20", "60", "80", "100"))
HOTTEST = tuple(Decimal(one) for one in ("100", "80", "150"))
BESIDE = tuple(Decimal(one) for one in ("0", "0.01", "-0.01", "7", "-7"))
PARTS_OF_A_ROLE = 4
QUANTITIES = tuple(Decimal(one) for one in ("1", "2", "0.5", "3"))


def random_catalogue(rng: Random, *, on: datetime.date = TODAY, kits: int = 6, pumps: int = 6) -> Catalogue:
    """A whole catalogue with kits made for its models, and others that fit by chance."""
    parts = {role: random_parts(rng, role) for role in ROLES}
    positions = [random_position(rng, parts) for _ in range(rng.randint(3, 9))]
    models = {"M0": distinct(positions[:6]), "M1": distinct(positions[2:])}
    replacements = random_replacements(rng, parts, on)
    return Catalogue(
        models=models,
        parts=[one for role in ROLES for one in parts[role]],
        kits=[random_kit(rng, f"K{at}", models, parts, replacements) for at in range(kits)],
        pumps=[random_pump(rng, at, list(models)) for at in range(pumps)],
        replacements=replacements,
        ratings=random_ratings(rng),
        limits=random_limits(rng),
        water=WATER,
        face_ratings=random_face_ratings(rng),
    )


def random_parts(rng: Random, role: str) -> list[Part]:
    """Four parts for a role: the first, and others that are the same, nearly the same, or something else."""
    first = random_specification(rng, role)
    others = [
        rng.choice((first, nearly(rng, first, role), random_specification(rng, role)))
        for _ in range(PARTS_OF_A_ROLE - 1)
    ]
    return [Part(f"{role[:2].upper()}-{at}.0", one) for at, one in enumerate([first, *others])]


def distinct(positions: list[Position]) -> list[Position]:
    """No two positions described alike."""
    kept = {
        (one.role, one.serial_from, one.serial_to, str(one.variant), one.number): one
        for one in positions
        if one.number or one.specification
    }
    return list(kept.values())


def random_specification(rng: Random, role: str) -> Specification | None:
    """Of the category usual for a role, in few sizes; now and then nothing, or free text."""
    pick = rng.choice
    odd = rng.randint(0, 11)
    if odd == 10:
        return {"category": "other", "text": pick(("ring as drawn", "as sample"))}
    if odd == 11:
        return None
    if role == "casing-o-ring":
        return {
            "category": "o-ring",
            "inside_diameter_mm": pick(("50.39", "50.390", "63.09")),
            "section_mm": pick(("3.53", "5.33")),
            "material": pick(MATERIALS),
            "hardness_irhd": pick((None, 70, 80)),
        }
    if role == "bearing-de":
        return {
            "category": "rolling-bearing",
            "designation_code": pick(("6308", "6309")),
            "clearance": pick(("CN", "C3")),
            "sealing": pick(("open", "2Z")),
        }
    if role == "shaft-seal":
        return {
            "category": "mechanical-seal",
            "length": pick(("N", "N", "K")),
            "balance": pick(("U", "U", "B")),
            "nominal_diameter_mm": pick(("38", "38.0", "43")),
            "rotation": pick(("S", "R", "L")),
            "seat_pinned": pick((False, False, True)),
            "materials": [pick(("Q1", "Q")), pick(("Q1", "Q", "B")), pick(("E", "P", "V", "X4", "T", "E1")), "G", "G"],
        }
    if role == "circlip":
        return {
            "category": "circlip",
            "place": pick(("shaft", "bore")),
            "nominal_mm": pick(("40", "42")),
            "thickness_mm": pick(("1.75", "1.750")),
        }
    if role == "deflector":
        return {"category": "packing", "section_mm": pick(("10", "8")), "material": pick(("NBR", "PTFE"))}
    category = pick(("flat-gasket", "lip-seal")) if role == "cover-gasket" else "wear-ring"
    sizes = (pick(("180", "180.0")), "150")
    first, second = sizes if category == "flat-gasket" else sizes[::-1]
    return {
        "category": category,
        "first_mm": first,
        "second_mm": second,
        "third_mm": pick(("0.5", "1")),
        "material": pick(("FIBRE", "EPDM", "NBR", "BRONZE")),
    }


def nearly(rng: Random, specification: Specification | None, role: str) -> Specification | None:
    """The same, or with one field from another of its kind."""
    other = random_specification(rng, role)
    if specification is None or other is None or other["category"] != specification["category"]:
        return specification
    name = rng.choice(sorted(specification))
    if name == "materials":
        at = rng.randint(0, 2)
        letters = [
            other["materials"][at] if place == at else one for place, one in enumerate(specification["materials"])
        ]
        return specification | {"materials": letters}
    return specification | {name: other[name]}


def leaving_open(rng: Random, specification: Specification | None) -> Specification | None:
    """What a position asks for that does not mind the hardness of a ring, or the grades of a seal's materials."""
    if specification is not None and specification["category"] == "o-ring" and rng.randint(0, 1):
        return specification | {"hardness_irhd": None}
    if specification is not None and specification["category"] == "mechanical-seal" and rng.randint(0, 1):
        return specification | {"materials": [one[0] for one in specification["materials"]], "rotation": "R"}
    return specification


def random_position(rng: Random, parts: dict[str, list[Part]]) -> Position:
    role = rng.choice(ROLES)
    part = rng.choice(parts[role])
    start, end = random_range(rng)
    asks = rng.choice(("both", "both", "number", "specification"))
    wanted = rng.choice((part.specification, nearly(rng, part.specification, role)))
    wanted = None if asks == "number" else leaving_open(rng, wanted)
    return Position(
        role=role,
        quantity=rng.choice(QUANTITIES),
        mandatory=rng.randint(0, 3) != 3,
        number=spelt(rng, part.number) if asks != "specification" or wanted is None else "",
        specification=wanted,
        serial_from=start,
        serial_to=end,
        variant=rng.choice(
            ({}, {}, {"elastomer": "EPDM"}, {"elastomer": "NBR"}, {"impeller": "200", "elastomer": "EPDM"})
        ),
    )


def random_range(rng: Random) -> tuple[str, str]:
    """A range of serial numbers, mostly open, never empty."""
    return rng.choice(RANGES)


def spelt(rng: Random, number: str) -> str:
    """A number as people write it."""
    return rng.choice((number, number.lower(), number.replace("-", " "), number.replace("-", "/")))


def random_replacements(rng: Random, parts: dict[str, list[Part]], on: datetime.date) -> list[Replacement]:
    """Chains within a role, now and then from one role's parts to the next one's; no circles."""
    every = [one for role in ROLES for one in parts[role]]
    found = {}
    for _ in range(rng.randint(0, 24)):
        old = rng.randint(0, len(every) - 2)
        new = min(old + rng.choice((1, 1, 2)), len(every) - 1)
        day = on + datetime.timedelta(days=rng.choice((0, -1, -400, -2, 1)))
        until = rng.choice((None, None, None, max(day, on), max(day, on - datetime.timedelta(days=1))))
        found[old, new] = Replacement(every[old].number, every[new].number, day, rng.randint(0, 2) == 2, until)
    return list(found.values())


def random_kit(
    rng: Random,
    key: str,
    models: dict[str, list[Position]],
    parts: dict[str, list[Part]],
    replacements: list[Replacement],
) -> Kit:
    """A kit made for one of the models, with its lapses: parts beside those asked for, too few, none at all."""
    lines: list[Line] = []
    careful = rng.randint(0, 2) != 2
    for position in models[rng.choice(sorted(models))]:
        named = [one for one in parts[position.role] if asks_for(position, one)]
        linked = [
            one
            for link in replacements
            for one in parts[position.role]
            if any(one.number in (link.old, link.new) and each.number in (link.old, link.new) for each in named)
        ]
        for _ in range(1 if careful else rng.choice((1, 1, 2, 3, 0))):
            role = position.role if rng.randint(0, 14) != 14 else rng.choice(ROLES)
            part = rng.choice(rng.choice((named, linked, linked, parts[position.role])) or parts[position.role])
            quantity = position.quantity if careful or rng.randint(0, 1) else rng.choice(QUANTITIES)
            lines.append(Line(role, part, quantity, rng.randint(0, 4) == 4, rng.choice(("", "", "a", "b"))))
    if not lines or rng.randint(0, 5) == 5:
        role = rng.choice(ROLES)
        lines.append(Line(role, rng.choice(parts[role]), rng.choice(QUANTITIES)))
    scope = rng.choice(("full-overhaul", "full-overhaul", *sorted(SCOPES)))
    return Kit(key, SCOPES[scope], tuple(lines), random_coverage(rng, sorted(models)))


def asks_for(position: Position, part: Part) -> bool:
    return "".join(filter(str.isalnum, position.number)).upper() == "".join(filter(str.isalnum, part.number))


def random_coverage(rng: Random, models: list[str]) -> tuple[Covered, ...]:
    wanted = {Covered(rng.choice(models), *random_range(rng)) for _ in range(rng.randint(0, 2))}
    return tuple(sorted(wanted, key=str))


def random_pump(rng: Random, at: int, models: list[str]) -> Pump:
    low, high = sorted((random_degrees(rng), random_degrees(rng)))
    variant: Any = rng.choice(
        ({"elastomer": "EPDM"}, {"elastomer": "NBR"}, {}, {"elastomer": "EPDM", "impeller": "200"})
    )
    return Pump(rng.choice(models), rng.choice(SERIALS), variant, rng.choice(FAMILIES), low, high)


def random_degrees(rng: Random) -> Decimal:
    return rng.choice(DEGREES) + rng.choice(BESIDE)


def random_ratings(rng: Random) -> list[Rating]:
    """Ratings in up to four steps, or of a material in a family none at all."""
    return [
        Rating(material, family, up_to, rng.choice("AAAAAABBCX"))
        for material in MATERIALS
        for family in FAMILIES
        if rng.randint(0, 7) != 7
        for up_to in DEGREES
        if rng.randint(0, 2) == 0 or up_to == DEGREES[-1]
    ]


def random_face_ratings(rng: Random) -> list[Rating]:
    """Of most faces in most families, mostly suitable; of one only under its bare letter."""
    return [
        Rating(letters, family, up_to, rng.choice("AAAAAAAABX"))
        for letters in ("Q", "Q1", "B")
        for family in FAMILIES
        if rng.randint(0, 5) != 5
        for up_to in DEGREES[-2:]
        if rng.randint(0, 1) == 0 or up_to == DEGREES[-1]
    ]


def random_limits(rng: Random) -> list[Limit]:
    """Of most materials, in air, in hot water, or both."""
    return [random_limit(rng, one) for one in MATERIALS if rng.randint(0, 7) != 7]


def random_limit(rng: Random, material: str) -> Limit:
    in_air, in_water = rng.choice((None, *HOTTEST)), rng.choice((*DEGREES[:0:-1], None))
    coldest = rng.choice((None, None, Decimal(20))) if in_air or in_water else Decimal(20)
    return Limit(material, coldest, in_air, in_water)
