"""The rule of fit over a whole catalogue: every kit against every build class, in pieces that fit in memory."""

import datetime
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from kits.calculations.fit import OperatingConditions, judge_materials, worst_of
from kits.calculations.fit_arrays import AskedRows, OfferedRows, Pairs, Scopes, serve, tally, verdicts
from kits.calculations.fit_reasons import Brought
from kits.calculations.matching import Described, Ints, Matcher
from kits.calculations.material_suitability import SuitabilityTables
from kits.calculations.supersession import Supersessions

PATTERNS_AT_ONCE = 400


@dataclass(frozen=True)
class KitArrays:
    """Kits with their lines; ``offers`` are the distinct parts, ``brought`` each kit's materials."""

    lines: OfferedRows
    offers: Sequence[Described]
    scopes: Scopes
    brought: Sequence[tuple[Brought, ...]]


@dataclass(frozen=True)
class ClassArrays:
    """Build classes: the pattern of positions that applies to each, and the conditions it works under.

    ``asked`` comes ordered by pattern; ``pattern`` and ``condition`` have one entry a class.
    """

    asked: AskedRows
    sought: Sequence[Described]
    pattern: Ints
    condition: Ints
    conditions: Sequence[OperatingConditions]


@dataclass(frozen=True)
class Judged:
    """Verdicts of (build class, kit) pairs, by place; pairs without any fit are left out."""

    build_class: Ints
    kit: Ints
    verdict: Ints
    matched: Ints
    asked: Ints


def judge_catalogue(
    kits: KitArrays,
    classes: ClassArrays,
    *,
    supersessions: Supersessions[str],
    tables: SuitabilityTables,
    on: datetime.date,
) -> Iterator[tuple[Ints, Judged]]:
    """(classes looked at, their verdicts), piece by piece; each class is in exactly one piece."""
    matcher = Matcher(kits.offers, supersessions, on)
    sets = {one: place for place, one in enumerate(sorted(set(kits.brought)))}
    of_kit = np.array([sets[one] for one in kits.brought], dtype=np.int64)
    gravity = _gravity(list(sets), classes.conditions, tables)
    by_pattern = np.argsort(classes.pattern, kind="stable")
    ordered = classes.pattern[by_pattern]
    patterns = int(ordered[-1]) + 1 if len(ordered) else 0
    for start in range(0, patterns, PATTERNS_AT_ONCE):
        end = start + PATTERNS_AT_ONCE
        low, high = np.searchsorted(ordered, [start, end])
        looked_at = by_pattern[low:high]
        pairs = _pairs(kits, classes, matcher, start, end)
        first = np.searchsorted(ordered, pairs.pattern, side="left")
        count = np.searchsorted(ordered, pairs.pattern, side="right") - first
        row = np.repeat(np.arange(len(count)), count)
        place = np.arange(len(row)) + np.repeat(first - (np.cumsum(count) - count), count)
        one = by_pattern[place]
        kit, matched, asked = pairs.kit[row], pairs.matched[row], pairs.asked[row]
        material = gravity[of_kit[kit], classes.condition[one]] if len(kit) else kit
        yield looked_at, Judged(one, kit, verdicts(matched, asked, pairs.noted[row], material), matched, asked)


def _pairs(kits: KitArrays, classes: ClassArrays, matcher: Matcher, start: int, end: int) -> Pairs:
    """Pairs of the patterns from ``start`` up to ``end``."""
    every = classes.asked
    low, high = np.searchsorted(every.pattern, [start, end])
    sought, place = np.unique(every.sought[low:high], return_inverse=True)
    asked = AskedRows(
        pattern=every.pattern[low:high] - start,
        role=every.role[low:high],
        sought=place,
        quantity=every.quantity[low:high],
        mandatory=every.mandatory[low:high],
    )
    matches = matcher.match([classes.sought[one] for one in sought.tolist()])
    found = tally(asked, serve(asked, kits.lines, matches, kits.scopes), kits.scopes)
    return Pairs(found.pattern + start, found.kit, found.matched, found.asked, found.noted)


def _gravity(
    sets: Sequence[tuple[Brought, ...]], conditions: Sequence[OperatingConditions], tables: SuitabilityTables
) -> Ints:
    """How each set of materials counts under each of the conditions."""
    table = np.zeros((len(sets), len(conditions)), dtype=np.int64)
    materials = sorted({one for those in sets for one in those})
    for column, condition in enumerate(conditions):
        judged = judge_materials(materials, tables, condition)
        for row, those in enumerate(sets):
            table[row, column] = worst_of(judged[one] for one in those)
    return table
