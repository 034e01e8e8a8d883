"""Does this kit fit this pump: the rule, once, with its reasons.

For every wear position in the kit's scope: the same part number, else a supersession in an allowed direction, else a
typed specification equal in all that matters, else missing; too few is short. Every elastomer and seal face the kit
offers is held against fluid and temperature. A material that will fail outranks completeness.

What serves is judged over arrays (`kits.calculations.fit_arrays`), a handful of kits or a whole catalogue alike; here
the answer for one pump gets its reasons.
"""

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal, cast

import numpy as np

from assets.calculations.part_numbers import normalise_number
from kits.calculations.fit_arrays import (
    FAILS,
    NO_FIT,
    SUITABLE,
    TO_NOTE,
    VERDICTS,
    AskedRows,
    OfferedRows,
    Scopes,
    serve,
    tally,
    verdicts,
)
from kits.calculations.fit_reasons import (
    AskedPosition,
    Brought,
    OfferedLine,
    Reason,
    Serving,
    brought_by,
    material_reasons,
    missing_reason,
    serving_reason,
)
from kits.calculations.matching import CODES, Described, Ints, Matcher
from kits.calculations.material_suitability import MaterialVerdict, SuitabilityTables
from kits.calculations.supersession import Supersessions

Verdict = Literal["fits", "fits-with-notes", "incomplete", "unsuitable", "no-fit"]
VERDICT_ORDER: dict[str, int] = {word: place for place, word in enumerate(VERDICTS)}
THOUSANDTHS = 1000


@dataclass(frozen=True)
class OperatingConditions:
    fluid_family: str
    temperature_min_c: Decimal
    temperature_max_c: Decimal


@dataclass(frozen=True)
class OfferedKit:
    """A kit as the rule sees it: the roles its scope counts, and its lines."""

    scope_roles: frozenset[str]
    lines: tuple[OfferedLine, ...]


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
    kit = OfferedKit(scope_roles, tuple(lines))
    return judge_kits(
        positions=positions, kits=[kit], supersessions=supersessions, tables=tables, conditions=conditions, on=on
    )[0]


def judge_kits(
    *,
    positions: Sequence[AskedPosition],
    kits: Sequence[OfferedKit],
    supersessions: Supersessions[str],
    tables: SuitabilityTables,
    conditions: OperatingConditions,
    on: datetime.date,
) -> list[Fit]:
    """The verdicts of several kits for one pump with their reasons, in the order of the kits."""
    roles = {role: place for place, role in enumerate(sorted(_roles_of(positions, kits)))}
    lines = [(place, one) for place, kit in enumerate(kits) for one in kit.lines]
    asked = AskedRows(
        pattern=np.zeros(len(positions), dtype=np.int64),
        role=_ints(roles[one.role] for one in positions),
        sought=np.arange(len(positions)),
        quantity=_ints(thousandths(one.quantity) for one in positions),
        mandatory=np.array([one.mandatory for one in positions], dtype=bool),
    )
    scopes = Scopes(
        of_kit=np.arange(len(kits)),
        holds=np.array([[role in kit.scope_roles for role in roles] for kit in kits], dtype=bool).reshape(
            len(kits), len(roles)
        ),
    )
    matcher = Matcher([described(one) for _, one in lines], supersessions, on)
    served = serve(asked, offered_rows(lines, roles), matcher.match([described(one) for one in positions]), scopes)
    pairs = tally(asked, served, scopes)
    brought = [materials_brought(kit.lines) for kit in kits]
    judged = judge_materials({one for those in brought for one in those}, tables, conditions)
    worst = [worst_of(judged[one] for one in those) for those in brought]
    verdict = np.full(len(kits), NO_FIT)
    matched = np.zeros(len(kits), dtype=np.int64)
    verdict[pairs.kit] = verdicts(pairs.matched, pairs.asked, pairs.noted, _ints(worst)[pairs.kit])
    matched[pairs.kit] = pairs.matched
    by_place = {
        (row, kit): Serving(CODES[code], lines[line][1], Decimal(total) / THOUSANDTHS)
        for row, kit, code, line, total in zip(
            served.asked.tolist(), served.kit.tolist(), served.code.tolist(), served.line.tolist(),
            served.total.tolist(), strict=True,
        )
    }  # fmt: skip
    found = []
    for place, kit in enumerate(kits):
        inside = [row for row, one in enumerate(positions) if one.role in kit.scope_roles]
        reasons = [
            serving_reason(positions[row], by_place[row, place], supersessions, on)
            if (row, place) in by_place
            else missing_reason(positions[row], kit.lines)
            for row in inside
        ]
        reasons += material_reasons(kit.lines, judged, conditions.fluid_family)
        found.append(
            Fit(
                verdict=cast("Verdict", VERDICTS[verdict[place]]),
                reasons=tuple(reasons),
                matched=int(matched[place]),
                asked=sum(1 for row in inside if positions[row].mandatory),
            )
        )
    return found


def _roles_of(positions: Iterable[AskedPosition], kits: Iterable[OfferedKit]) -> set[str]:
    return {one.role for one in positions} | {one.role for kit in kits for one in kit.lines}


def _ints(values: Iterable[int]) -> Ints:
    return np.fromiter(values, dtype=np.int64)


def thousandths(quantity: Decimal) -> int:
    """A quantity in thousandths of its unit: as finely as quantities are kept."""
    return int(quantity * THOUSANDTHS)


def described(one: AskedPosition | OfferedLine) -> Described:
    """What is compared of a position or a line."""
    return Described(normalise_number(one.part_number), one.specification)


def offered_rows(lines: Sequence[tuple[int, OfferedLine]], roles: dict[str, int]) -> OfferedRows:
    """(kit, line) pairs as arrays; each line is an offer of its own."""
    groups: dict[tuple[int, str], int] = {}
    numbers = {number: place for place, number in enumerate(sorted({one.part_number for _, one in lines}))}
    return OfferedRows(
        kit=_ints(kit for kit, _ in lines),
        role=_ints(roles[one.role] for _, one in lines),
        offer=np.arange(len(lines)),
        quantity=_ints(thousandths(one.quantity) for _, one in lines),
        group=_ints(
            groups.setdefault((kit, one.alternative_group), len(groups)) if one.alternative_group else -1
            for kit, one in lines
        ),
        rank=_ints(numbers[one.part_number] for _, one in lines),
    )


def materials_brought(lines: Iterable[OfferedLine]) -> tuple[Brought, ...]:
    """The elastomers and seal faces that some lines bring, each once, in order."""
    return tuple(sorted({one for line in lines for one in brought_by(line.specification)}))


def judge_materials(
    materials: Iterable[Brought], tables: SuitabilityTables, conditions: OperatingConditions
) -> dict[Brought, MaterialVerdict]:
    """Each material's verdict under the conditions."""
    reach = conditions.fluid_family, conditions.temperature_min_c, conditions.temperature_max_c
    return {
        one: tables.judge_face(one.code, *reach) if one.is_face else tables.judge(one.code, *reach) for one in materials
    }


_GRAVITY = {"suitable": SUITABLE, "limited": TO_NOTE, "not-known": TO_NOTE, "unsuitable": FAILS}


def worst_of(judged: Iterable[MaterialVerdict]) -> int:
    """How the gravest of some materials counts in a kit's verdict."""
    return max((_GRAVITY[one.result] for one in judged), default=SUITABLE)


__all__ = [
    "VERDICT_ORDER", "AskedPosition", "Fit", "OfferedKit", "OfferedLine", "OperatingConditions", "Reason",
    "judge_fit", "judge_kits",
]  # fmt: skip
