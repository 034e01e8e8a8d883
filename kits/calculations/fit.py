"""Does this kit fit this pump: the rule, once, with its reasons.

For every wear position in the kit's scope: the same part number, else a supersession in an allowed direction, else a
typed specification equal in all that matters, else missing; too few is short. Every elastomer the kit offers is held
against fluid and temperature. A material that will fail outranks completeness.
"""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from assets.calculations.part_numbers import normalise_number
from assets.calculations.part_specifications import Point, Specification, compare, elastomers_of
from kits.calculations.material_suitability import SuitabilityTables
from kits.calculations.supersession import Supersessions

Verdict = Literal["fits", "fits-with-notes", "incomplete", "unsuitable", "no-fit"]
Result = Literal["exact", "superseded", "equivalent", "missing", "short", "limited", "unsuitable", "not-known"]
VERDICT_ORDER: dict[str, int] = {"fits": 0, "fits-with-notes": 1, "incomplete": 2, "unsuitable": 3, "no-fit": 4}


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


@dataclass(frozen=True)
class OperatingConditions:
    fluid_family: str
    temperature_min_c: Decimal
    temperature_max_c: Decimal


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
class Fit:
    """``matched`` of ``asked`` mandatory positions are served."""

    verdict: Verdict
    reasons: tuple[Reason, ...]
    matched: int
    asked: int


def judge_fit(
    *,
    positions: Sequence[AskedPosition],
    lines: Sequence[OfferedLine],
    scope_roles: frozenset[str],
    supersessions: Supersessions[str],
    tables: SuitabilityTables,
    conditions: OperatingConditions,
    on: datetime.date,
) -> Fit:
    """The verdict of a kit for a pump with its reasons; ``supersessions`` link normalised part numbers."""
    asked = [one for one in positions if one.role in scope_roles]
    reasons = [_position_reason(one, lines, supersessions, on) for one in asked]
    reasons += _material_reasons(lines, tables, conditions)
    mandatory = [found for one, found in zip(asked, reasons, strict=False) if one.mandatory]
    matched = sum(1 for one in mandatory if one.code in {"exact", "superseded", "equivalent"})
    served = any(one.code != "missing" for one in mandatory)
    codes = {one.code for one in reasons}
    verdict: Verdict
    if not served:
        verdict = "no-fit"
    elif "unsuitable" in codes:
        verdict = "unsuitable"
    elif matched < len(mandatory):
        verdict = "incomplete"
    elif codes & {"limited", "superseded", "equivalent", "not-known", "missing", "short"}:
        verdict = "fits-with-notes"
    else:
        verdict = "fits"
    return Fit(verdict, tuple(reasons), matched, len(mandatory))


_GRADE = {"exact": 0, "superseded": 1, "equivalent": 2, "missing": 3}


def _position_reason(
    asked: AskedPosition, lines: Sequence[OfferedLine], supersessions: Supersessions[str], on: datetime.date
) -> Reason:
    found = [(line, *_match(asked, line, supersessions, on)) for line in lines if line.role == asked.role]
    serving = [one for one in found if one[1] != "missing"]
    if not serving:
        return _missing(asked, found)
    total, best = _quantity(serving)
    line, code, points, path = best
    if total < asked.quantity:
        sentence = (
            f"{_role(asked.role)}: {_count(asked.quantity)} asked for, the kit holds {_count(total)} of "
            f"{line.part_number}."
        )
        return Reason("short", asked.role, _asked(asked), line.part_number, points, sentence)
    if code == "exact":
        sentence = f"{_role(asked.role)}: {line.part_number}, as asked for."
    elif code == "superseded":
        sentence = (
            f"{_role(asked.role)}: {line.part_number} stands for {asked.part_number} by supersession "
            f"({' → '.join(path)})."
        )
    else:
        sentence = (
            f"{_role(asked.role)}: {line.part_number} is equal in {_and([one.name for one in points])} to what is "
            f"asked for ({_asked(asked)})."
        )
    return Reason(code, asked.role, _asked(asked), line.part_number, points, sentence)


_Match = tuple[OfferedLine, Result, tuple[Point, ...], tuple[str, ...]]


def _match(
    asked: AskedPosition, line: OfferedLine, supersessions: Supersessions[str], on: datetime.date
) -> tuple[Result, tuple[Point, ...], tuple[str, ...]]:
    if asked.part_number:
        wanted, given = normalise_number(asked.part_number), normalise_number(line.part_number)
        if wanted == given:
            return "exact", (), ()
        path = supersessions.serves(wanted, given, on)
        if path is not None:
            return "superseded", (), path
    if asked.specification is None or line.specification is None:
        return "missing", (), ()
    compared = compare(asked.specification, line.specification)
    if compared.equal and compared.comparable:
        return "equivalent", compared.points, ()
    return "missing", compared.points, ()


def _quantity(serving: list[_Match]) -> tuple[Decimal, _Match]:
    """Quantities of a role add up; of each alternative group only its best line counts."""
    groups: dict[str, _Match] = {}
    counted: list[_Match] = []
    for one in serving:
        group = one[0].alternative_group
        if not group:
            counted.append(one)
        elif group not in groups or _preference(one) < _preference(groups[group]):
            groups[group] = one
    counted.extend(groups.values())
    best = min(counted, key=_preference)
    return sum((one[0].quantity for one in counted), Decimal(0)), best


def _preference(one: _Match) -> tuple[int, Decimal, str]:
    return _GRADE[one[1]], -one[0].quantity, one[0].part_number


def _missing(asked: AskedPosition, found: Sequence[_Match]) -> Reason:
    word = "missing" if asked.mandatory else "not in the kit (optional here)"
    if not found:
        sentence = f"{_role(asked.role)}: {word}; asked for {_asked(asked)}."
        return Reason("missing", asked.role, _asked(asked), "", (), sentence)
    line, _, points, _ = min(found, key=lambda one: (sum(not each.same for each in one[2]), one[0].part_number))
    different = [one for one in points if not one.same]
    why = (
        "; ".join(f"{one.name} {one.offered} instead of {one.asked}" for one in different)
        if different
        else "another part number, and nothing to compare it by"
    )
    sentence = f"{_role(asked.role)}: {word}; the kit brings {line.part_number}, but {why}."
    return Reason("missing", asked.role, _asked(asked), line.part_number, points, sentence)


def _material_reasons(
    lines: Sequence[OfferedLine], tables: SuitabilityTables, conditions: OperatingConditions
) -> list[Reason]:
    brought: dict[str, list[OfferedLine]] = {}
    for line in lines:
        if line.specification is not None:
            for material in elastomers_of(line.specification):
                brought.setdefault(material, []).append(line)
    reasons = []
    for material, those in sorted(brought.items()):
        judged = tables.judge(
            material, conditions.fluid_family, conditions.temperature_min_c, conditions.temperature_max_c
        )
        if judged.result == "suitable":
            continue
        roles = _and(sorted({_role(one.role) for one in those}))
        sentence = f"{material} ({roles}): {' '.join(judged.sentences)}"
        offered = ", ".join(sorted({one.part_number for one in those}))
        reasons.append(Reason(judged.result, those[0].role, conditions.fluid_family, offered, (), sentence))
    return reasons


def _asked(asked: AskedPosition) -> str:
    spec = asked.specification.designation() if asked.specification is not None else ""
    return f"{asked.part_number} ({spec})" if asked.part_number and spec else asked.part_number or spec


def _count(quantity: Decimal) -> str:
    return format(quantity.normalize(), "f")


_ENDS = {"nde": "non-drive end", "de": "drive end"}


def _role(role: str) -> str:
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
