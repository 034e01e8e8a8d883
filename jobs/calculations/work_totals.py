"""Minutes booked on a job, added up by section, step and person."""

from collections.abc import Iterable
from dataclasses import dataclass

# Section, step where there is one, person, minutes.
Booked = tuple[str, int | None, str, int]


@dataclass(frozen=True)
class WorkTotals:
    """Minutes in all, and by each."""

    minutes: int
    by_section: dict[str, int]
    by_step: dict[int, int]
    by_person: dict[str, int]


def work_totals(rows: Iterable[Booked]) -> WorkTotals:
    """Sums over bookings that count (corrected ones are left out by the caller). Without a section: ``whole job``."""
    sections: dict[str, int] = {}
    steps: dict[int, int] = {}
    people: dict[str, int] = {}
    for section, step, person, minutes in rows:
        name = section or "whole-job"
        sections[name] = sections.get(name, 0) + minutes
        people[person] = people.get(person, 0) + minutes
        if step is not None:
            steps[step] = steps.get(step, 0) + minutes
    return WorkTotals(sum(people.values()), sections, dict(sorted(steps.items())), dict(sorted(people.items())))
