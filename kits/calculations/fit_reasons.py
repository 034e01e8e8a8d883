"""Why a kit fits or does not, position by position, in codes for programs and sentences for fitters."""

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from assets.calculations.part_numbers import normalise_number
from assets.calculations.part_specifications import Point, Specification, compare
from assets.calculations.written_numbers import plain
from kits.calculations.material_suitability import MaterialVerdict
from kits.calculations.supersession import Supersessions

Result = Literal["exact", "superseded", "equivalent", "missing", "short", "limited", "unsuitable", "not-known"]


@dataclass(frozen=True)
class AskedPosition:
    """A wear position of the pump: its role, how many, and what it asks for."""

    role: str
    quantity: Decimal
    mandatory: bool
    part_number: str = ""
    specification: Specification | None = None


@dataclass(frozen=True)
class OfferedLine:
    """A line of the kit. Lines of one alternative group are choices: the best of them counts."""

    role: str
    part_number: str
    specification: Specification | None
    quantity: Decimal
    optional: bool = False
    alternative_group: str = ""


@dataclass(frozen=True, order=True)
class Brought:
    """A material that a kit brings: an elastomer by its ISO 1629 code, or a seal face by its letters after EN 12756."""

    code: str
    is_face: bool = False


def brought_by(specification: Specification | None) -> list[Brought]:
    """The elastomers and seal faces of a part."""
    if specification is None:
        return []
    return [*map(Brought, specification.elastomers()), *(Brought(one, True) for one in specification.faces())]


@dataclass(frozen=True)
class Reason:
    """One finding: a code, the position, what was asked and offered, on what they were compared, in words."""

    code: Result
    role: str
    asked: str
    offered: str
    compared: tuple[Point, ...]
    sentence: str


@dataclass(frozen=True)
class Serving:
    """How a position is served: by which line best, and how many the lines that serve it hold together."""

    code: str
    line: OfferedLine
    total: Decimal


def serving_reason(
    asked: AskedPosition, serving: Serving, supersessions: Supersessions[str], on: datetime.date
) -> Reason:
    """The reason of a position that some line serves, wholly or not."""
    line = serving.line
    wanted, given = normalise_number(asked.part_number), normalise_number(line.part_number)
    path = supersessions.serves(wanted, given, on) if wanted and wanted != given else None
    points: tuple[Point, ...] = ()
    if path is None and wanted != given and asked.specification is not None and line.specification is not None:
        points = compare(asked.specification, line.specification).points
    if serving.code == "short":
        sentence = (
            f"{role_in_words(asked.role)}: {plain(asked.quantity)} asked for, the kit holds "
            f"{plain(serving.total)} of {line.part_number}."
        )
        return Reason("short", asked.role, asked_in_words(asked), line.part_number, points, sentence)
    if serving.code == "exact":
        sentence = f"{role_in_words(asked.role)}: {line.part_number}, as asked for."
        return Reason("exact", asked.role, asked_in_words(asked), line.part_number, points, sentence)
    if path is not None:
        between = [asked.part_number, *path[1:-1], line.part_number]
        sentence = (
            f"{role_in_words(asked.role)}: {line.part_number} stands for {asked.part_number} by supersession "
            f"({' → '.join(between)})."
        )
        return Reason("superseded", asked.role, asked_in_words(asked), line.part_number, points, sentence)
    sentence = (
        f"{role_in_words(asked.role)}: {line.part_number} is equal in {_and([one.name for one in points])} to what is "
        f"asked for ({asked_in_words(asked)})."
    )
    return Reason("equivalent", asked.role, asked_in_words(asked), line.part_number, points, sentence)


def missing_reason(asked: AskedPosition, lines: Iterable[OfferedLine]) -> Reason:
    """The reason of a position that nothing serves: the nearest of the kit's lines in its role, and why it does not."""
    word = "missing" if asked.mandatory else "not in the kit (optional here)"
    near = [(line, _points(asked, line)) for line in lines if line.role == asked.role]
    if not near:
        sentence = f"{role_in_words(asked.role)}: {word}; asked for {asked_in_words(asked)}."
        return Reason("missing", asked.role, asked_in_words(asked), "", (), sentence)
    line, points = min(near, key=lambda one: (sum(not each.same for each in one[1]), one[0].part_number))
    different = [one for one in points if not one.same]
    why = (
        "; ".join(f"{one.name} {one.offered} instead of {one.asked}" for one in different)
        if different
        else "another part number, and nothing to compare it by"
    )
    sentence = f"{role_in_words(asked.role)}: {word}; the kit brings {line.part_number}, but {why}."
    return Reason("missing", asked.role, asked_in_words(asked), line.part_number, points, sentence)


def _points(asked: AskedPosition, line: OfferedLine) -> tuple[Point, ...]:
    if asked.specification is None or line.specification is None:
        return ()
    return compare(asked.specification, line.specification).points


def material_reasons(
    lines: Sequence[OfferedLine], judged: Mapping[Brought, MaterialVerdict], fluid_family: str
) -> list[Reason]:
    """A reason for each material that is not simply suitable, with the positions that bring it."""
    brought: dict[Brought, list[OfferedLine]] = {}
    for line in lines:
        for material in brought_by(line.specification):
            brought.setdefault(material, []).append(line)
    reasons = []
    for material, those in sorted(brought.items()):
        verdict = judged[material]
        if verdict.result == "suitable":
            continue
        roles = _and(sorted({role_in_words(one.role) for one in those}))
        named = f"Seal face {material.code}" if material.is_face else material.code
        sentence = f"{named} ({roles}): {' '.join(verdict.sentences)}"
        offered = ", ".join(sorted({one.part_number for one in those}))
        reasons.append(Reason(verdict.result, those[0].role, fluid_family, offered, (), sentence))
    return reasons


def asked_in_words(asked: AskedPosition) -> str:
    """What a position asks for: the number, the specification, or both."""
    spec = asked.specification.designation() if asked.specification is not None else ""
    return f"{asked.part_number} ({spec})" if asked.part_number and spec else asked.part_number or spec


_ENDS = {"nde": "non-drive end", "de": "drive end"}


def role_in_words(role: str) -> str:
    """A position's role in words: ``bearing-nde`` is *Bearing non-drive end*, ``casing-o-ring`` *Casing O-ring*,
    ``wear-ring-casing`` *Casing wear ring*."""
    head, _, tail = role.rpartition("-")
    if tail in _ENDS:
        words = f"{head.replace('-', ' ')} {_ENDS[tail]}"
    elif head == "wear-ring":
        words = f"{tail} wear ring"
    else:
        words = role.replace("-o-ring", " O-ring").replace("-", " ").replace("O ring", "O-ring")
    return words[:1].upper() + words[1:]


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""
