"""Which measurement counts as found, which as left, and on which part (common practice, no source)."""

import datetime

import pytest

from jobs.calculations.wear_points import Renewal, Taken, wear_points

NEW = datetime.datetime(2020, 1, 1, 8, tzinfo=datetime.UTC)


def on(day):
    return NEW + datetime.timedelta(days=day)


def taken(job, day, value, *, section="clean-and-inspect", attempt=1, verdict="accept"):
    return Taken(job, on(day), 24.0 * day, section, attempt, value, 0.01, None, 0.3, "mm", verdict)


def renewed(job, day):
    return Renewal(job, on(day), 24.0 * day)


def points_of(rows, renewals=()):
    segments, points = wear_points(rows, renewals, new=NEW, born=0.0)
    return [one.because for one in segments], [
        (one.segment, round(one.age), one.state, one.taken.value) for one in points
    ]


def test_a_shaft_that_is_never_renewed_ages_with_its_pump():
    because, points = points_of([taken("J1", 100, 0.02), taken("J2", 300, 0.03)])
    assert because == ["new"]
    assert points == [(0, 2400, "as-found-and-left", 0.02), (0, 7200, "as-found-and-left", 0.03)]


def test_a_new_ring_begins_a_new_segment_and_ages_from_then():
    rows = [
        taken("J1", 100, 0.28),
        taken("J1", 101, 0.15, section="assemble"),
        taken("J2", 300, 0.24),
    ]
    because, points = points_of(rows, [renewed("J1", 101)])
    assert because == ["new", "renewed"]
    assert points == [(0, 2400, "as-found", 0.28), (1, 0, "as-left", 0.15), (1, 24 * 199, "as-found-and-left", 0.24)]


def test_a_ring_measured_twice_in_one_step_was_found_first_and_left_last():
    rows = [taken("J1", 100, 0.33, verdict="reject"), taken("J1", 101, 0.15, attempt=2)]
    because, points = points_of(rows, [renewed("J1", 101)])
    assert because == ["new", "renewed"]
    assert points == [(0, 2400, "as-found", 0.33), (1, 0, "as-left", 0.15)]


def test_a_shaft_that_was_straightened_is_another_surface():
    rows = [taken("J1", 100, 0.08, verdict="reject"), taken("J1", 101, 0.02, attempt=2)]
    because, points = points_of(rows)
    assert because == ["new", "reworked"]
    assert points == [(0, 2400, "as-found", 0.08), (1, 0, "as-left", 0.02)]


def test_a_value_that_was_only_measured_again_counts_once():
    rows = [taken("J1", 100, 0.045, verdict="not-proved"), taken("J1", 100, 0.043, attempt=2)]
    assert points_of(rows) == (["new"], [(0, 2400, "as-found-and-left", 0.043)])


def test_a_ring_renewed_without_a_value_resets_the_age_all_the_same():
    because, points = points_of([taken("J1", 100, 0.2), taken("J3", 500, 0.18)], [renewed("J2", 300)])
    assert because == ["new", "renewed"]
    assert points == [(0, 2400, "as-found-and-left", 0.2), (1, 4800, "as-found-and-left", 0.18)]


@pytest.mark.parametrize("order", [1, -1])
def test_records_that_came_late_are_read_by_when_they_were_taken(order):
    rows = [taken("J1", 100, 0.2), taken("J2", 300, 0.22), taken("J3", 500, 0.25)][::order]
    assert [value for *_, value in points_of(rows)[1]] == [0.2, 0.22, 0.25]
