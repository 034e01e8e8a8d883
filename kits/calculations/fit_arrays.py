"""The rule of fit over arrays: many kits against many pumps at once, or a few.

A *pattern* is a set of wear positions that applies to some pumps. Quantities are thousandths of a piece, so that sums
stay exact. What serves a position is judged for (pattern, kit) pairs; material and the rest of a verdict join later,
since pumps of one pattern differ in fluid and temperature.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kits.calculations.matching import EQUIVALENT, SHORT, Ints, Matches

Bools = NDArray[np.bool_]

FITS, NOTED, INCOMPLETE, UNSUITABLE, NO_FIT = 0, 1, 2, 3, 4
VERDICTS = ("fits", "fits-with-notes", "incomplete", "unsuitable", "no-fit")
SUITABLE, TO_NOTE, FAILS = 0, 1, 2


@dataclass(frozen=True)
class AskedRows:
    """Wear positions: of which pattern, in which role, what is sought, how many, whether it must be renewed."""

    pattern: Ints
    role: Ints
    sought: Ints
    quantity: Ints
    mandatory: Bools


@dataclass(frozen=True)
class OfferedRows:
    """Lines of kits: ``group`` is -1 where a line is no alternative, ``rank`` the place of its part by number."""

    kit: Ints
    role: Ints
    offer: Ints
    quantity: Ints
    group: Ints
    rank: Ints


@dataclass(frozen=True)
class Scopes:
    """Which roles count: the scope of each kit, and for each (scope, role) whether it is in."""

    of_kit: Ints
    holds: Bools


@dataclass(frozen=True)
class Served:
    """One row for each asked row that some line of a kit serves: how (short where too few), the line that decides it,
    and how many the lines hold together. Ordered by asked row, then kit."""

    asked: Ints
    kit: Ints
    code: Ints
    line: Ints
    total: Ints


@dataclass(frozen=True)
class Pairs:
    """(pattern, kit) of which some mandatory position is served: how many of how many match, and whether some
    position has to be noted."""

    pattern: Ints
    kit: Ints
    matched: Ints
    asked: Ints
    noted: Bools


def serve(asked: AskedRows, offered: OfferedRows, matches: Matches, scopes: Scopes) -> Served:
    """What serves each position. Quantities of a role add up; of each alternative group only its best line counts: one
    that is enough by itself, then the better grade, then the larger quantity, then the lower part number. A position
    is as good as the worst line that it needs, the best taken first."""
    rows, line, grade = _lines_for(asked, offered, matches, scopes)
    kits = max(len(scopes.of_kit), 1)
    place = rows * kits + offered.kit[line]
    order = np.argsort(place, kind="stable")
    place, rows, line, grade = place[order], rows[order], line[order], grade[order]
    first = np.ones(len(place), dtype=bool)
    first[1:] = place[1:] != place[:-1]
    several = ~(first & np.append(first[1:], True))
    if several.any():
        at = np.flatnonzero(several)
        quantity = offered.quantity[line[at]]
        too_few = (offered.group[line[at]] >= 0) & (quantity < asked.quantity[rows[at]])
        better = np.lexsort((offered.rank[line[at]], -quantity, grade[at], too_few, place[at]))
        line[at], grade[at] = line[at[better]], grade[at[better]]
    counted = offered.quantity[line].copy()
    counted[_other_choices(place, offered.group[line])] = 0
    begin = np.flatnonzero(first)
    if not len(begin):
        return Served(rows, line, grade, line, counted)
    total = np.add.reduceat(counted, begin)
    before = np.cumsum(counted) - counted
    before -= np.repeat(before[begin], np.diff(np.append(begin, len(place))))
    needed = (counted > 0) & (before < asked.quantity[rows])
    worst = np.maximum.reduceat(np.where(needed, grade, 0), begin)
    spread = np.repeat(worst, np.diff(np.append(begin, len(place))))
    decisive = np.where(needed & (grade == spread), np.arange(len(place)), len(place))
    deciding = np.minimum(np.minimum.reduceat(decisive, begin), len(place) - 1)
    short = total < asked.quantity[rows[begin]]
    return Served(
        asked=rows[begin],
        kit=offered.kit[line[begin]],
        code=np.where(short, SHORT, worst),
        line=line[np.where(short, begin, deciding)],
        total=total,
    )


def _lines_for(asked: AskedRows, offered: OfferedRows, matches: Matches, scopes: Scopes) -> tuple[Ints, Ints, Ints]:
    """(asked row, line, grade) wherever a line of the position's role, within its kit's scope, matches."""
    roles = scopes.holds.shape[1]
    by_offer = np.argsort(offered.offer, kind="stable")
    which, at = _joined(matches.offer, offered.offer[by_offer])
    line = by_offer[at]
    inside = scopes.holds[scopes.of_kit[offered.kit[line]], offered.role[line]]
    which, line = which[inside], line[inside]
    wanted = matches.sought[which] * roles + offered.role[line]
    order = np.argsort(wanted, kind="stable")
    rows, at = _joined(asked.sought * roles + asked.role, wanted[order])
    found = order[at]
    return rows, line[found], matches.grade[which[found]]


def _joined(left: Ints, right: Ints) -> tuple[Ints, Ints]:
    """(index into left, index into right) of equal values; ``right`` rises."""
    low = np.searchsorted(right, left, side="left")
    count = np.searchsorted(right, left, side="right") - low
    rows = np.repeat(np.arange(len(left)), count)
    start = np.repeat(low - (np.cumsum(count) - count), count)
    return rows, np.arange(len(rows)) + start


def _other_choices(place: Ints, group: Ints) -> Ints:
    """Rows of an alternative group beyond the best of it; rows come ordered by place, the best first."""
    grouped = np.flatnonzero(group >= 0)
    if not len(grouped):
        return grouped
    order = np.lexsort((grouped, group[grouped], place[grouped]))
    at = grouped[order]
    again = np.zeros(len(at), dtype=bool)
    again[1:] = (place[at][1:] == place[at][:-1]) & (group[at][1:] == group[at][:-1])
    return at[again]


def tally(asked: AskedRows, served: Served, scopes: Scopes) -> Pairs:
    """Served positions counted by pattern and kit. Pairs without any served mandatory position are left out."""
    kits = max(len(scopes.of_kit), 1)
    patterns = int(asked.pattern.max()) + 1 if len(asked.pattern) else 0
    counts = np.zeros((2, patterns, len(scopes.holds)), dtype=np.int64)
    for wanted in (0, 1):
        rows = np.flatnonzero(asked.mandatory == bool(wanted))
        for scope in range(len(scopes.holds)):
            inside = scopes.holds[scope][asked.role[rows]]
            counts[wanted, :, scope] = np.bincount(asked.pattern[rows[inside]], minlength=patterns)
    pair, member = np.unique(asked.pattern[served.asked] * kits + served.kit, return_inverse=True)
    mandatory = asked.mandatory[served.asked]

    def count(chosen: Bools) -> Ints:
        return np.bincount(member[chosen], minlength=len(pair)).astype(np.int64)

    pattern, kit = pair // kits, pair % kits
    scope_of = scopes.of_kit[kit] if len(kit) else kit
    noted = count(served.code > 0) > 0
    noted |= count(~mandatory) < counts[0][pattern, scope_of]
    kept = count(mandatory) > 0
    return Pairs(
        pattern=pattern[kept],
        kit=kit[kept],
        matched=count(mandatory & (served.code <= EQUIVALENT))[kept],
        asked=counts[1][pattern, scope_of][kept],
        noted=noted[kept],
    )


def verdicts(matched: Ints, asked: Ints, noted: Bools, material: Ints) -> Ints:
    """The verdict of pairs of which something is served: a material that will fail outranks completeness."""
    return np.where(
        material == FAILS,
        UNSUITABLE,
        np.where(matched < asked, INCOMPLETE, np.where(noted | (material == TO_NOTE), NOTED, FITS)),
    )
