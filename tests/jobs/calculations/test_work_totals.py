"""Sums of booked minutes, beside sums by a general-purpose counter (collections.Counter)."""

from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.work_totals import work_totals

rows = st.lists(
    st.tuples(
        st.sampled_from(["", "dismantle", "assemble"]),
        st.one_of(st.none(), st.integers(1, 9)),
        st.sampled_from(["Ida", "Jon"]),
        st.integers(0, 1440),
    )
)


@given(rows)
def test_totals_agree_with_another_way_of_counting(booked):
    sections: Counter[str] = Counter()
    people: Counter[str] = Counter()
    steps: Counter[int] = Counter()
    for section, step, person, minutes in booked:
        sections[section or "whole-job"] += minutes
        people[person] += minutes
        if step is not None:
            steps[step] += minutes
    found = work_totals(booked)
    assert found.by_section == dict(sections)
    assert found.by_person == dict(people)
    assert found.by_step == dict(steps)
    assert found.minutes == sum(people.values())
