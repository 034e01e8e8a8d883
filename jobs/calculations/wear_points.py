"""From measurements of a characteristic to points over the running hours of the part they were taken on.

A part that is fitted begins a new segment: its age counts from then. So does a rejected value that was put right in the
same job: what was reworked is another surface. Before the first part that is recorded, and where a characteristic
belongs to no position that is renewed, the age counts from when the pump was new. Within a job the first value is as
found and the last as left; where nothing was renewed or put right between them, the last one alone counts.
"""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

State = Literal["as-found", "as-left", "as-found-and-left"]

# Sections of a job in which a part that is renewed in it still is the old one.
BEFORE_RENEWAL = ("make-safe", "dismantle", "clean-and-inspect")


@dataclass(frozen=True)
class Taken:
    """One measurement: ``ran`` is the running time of the pump in hours when it was taken, ``unit`` that of value and
    limits, ``attempt`` counts within the job."""

    job: str
    at: datetime.datetime
    ran: float
    section: str
    attempt: int
    value: float
    uncertainty: float
    lower: float | None
    upper: float | None
    unit: str
    verdict: str


@dataclass(frozen=True)
class Renewal:
    """A part fitted in the position that the characteristic belongs to."""

    job: str
    at: datetime.datetime
    ran: float


@dataclass(frozen=True)
class WearPoint:
    """A value at an age: running hours since the part was fitted. Limits and verdict as they stood."""

    segment: int
    age: float
    state: State
    taken: Taken


@dataclass(frozen=True)
class Segment:
    """The time of one part: numbered from 0; ``began`` is None where nobody recorded when it was fitted."""

    number: int
    began: datetime.datetime | None
    ran: float
    because: Literal["new", "renewed", "reworked"]


def wear_points(
    taken: Sequence[Taken], renewals: Sequence[Renewal], *, new: datetime.datetime | None, born: float
) -> tuple[list[Segment], list[WearPoint]]:
    """(segments, points) in the order of time. ``taken`` are measurements of one characteristic of one pump in one
    unit, ``renewals`` parts fitted in its position, both in any order; ``born`` the running time at which the pump was
    new (`RunningTime.born`), on the day ``new``."""
    by_job: dict[str, list[Taken]] = {}
    for one in sorted(taken, key=lambda one: (one.at, one.attempt)):
        by_job.setdefault(one.job, []).append(one)
    renewed = {one.job: one for one in sorted(renewals, key=lambda one: one.at)}
    moments = [(rows[-1].at, job) for job, rows in by_job.items()]
    moments += [(one.at, job) for job, one in renewed.items() if job not in by_job]
    segments, points = [Segment(0, new, born, "new")], list[WearPoint]()

    def add(one: Taken, state: State, age: float | None = None) -> None:
        here = segments[-1]
        points.append(WearPoint(here.number, max(one.ran - here.ran, 0.0) if age is None else age, state, one))

    for _, job in sorted(moments):
        rows, fresh = by_job.get(job, []), renewed.get(job)
        found = [one for one in rows if one.section in BEFORE_RENEWAL] if fresh else rows
        left = [one for one in rows if one.section not in BEFORE_RENEWAL] if fresh else []
        if fresh and not left and len(found) > 1:
            found, left = found[:1], found[-1:]
        put_right = not fresh and len(rows) > 1 and rows[0].verdict == "reject" and rows[-1].verdict != "reject"
        if put_right:
            found, left = rows[:1], rows[-1:]
        if found:
            add(found[-1], "as-found" if fresh or put_right else "as-found-and-left")
        if fresh:
            segments.append(Segment(len(segments), fresh.at, fresh.ran, "renewed"))
        elif put_right:
            segments.append(Segment(len(segments), rows[-1].at, rows[-1].ran, "reworked"))
        if left:
            add(left[-1], "as-left", 0.0)
    return segments, points
