"""Lives in running hours, from meters and overhauls."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.calculations.running_lives import Overhauls, Readings, RunningTime, lives_of

NAN = np.nan


def meters(*rows):
    """(pump, day, hours, whether a new meter)."""
    pump, day, hours, new = zip(*rows, strict=True) if rows else ((), (), (), ())
    return Readings(
        np.array(pump, dtype=np.int64), np.array(day, dtype=float), np.array(hours, dtype=float), np.array(new, bool)
    )


def overhauls(*rows):
    pump, day, foreseen = zip(*rows, strict=True) if rows else ((), (), ())
    return Overhauls(np.array(pump, dtype=np.int64), np.array(day, dtype=float), np.array(foreseen, bool))


def ran(time, pump, day):
    return float(time.at(np.array([pump]), np.array([float(day)]))[0])


def test_between_readings_it_runs_evenly_and_after_them_as_before():
    time = RunningTime(1, meters((0, 100, 1000, False), (0, 200, 2000, False)), np.array([NAN]))
    assert time.per_day == pytest.approx([10])
    assert [ran(time, 0, day) for day in (150, 200, 210)] == pytest.approx([1500, 2000, 2100])


def test_a_new_meter_goes_on_where_the_old_one_ended():
    rows = meters((0, 0, 0, False), (0, 100, 1000, False), (0, 110, 0, True), (0, 210, 800, False))
    time = RunningTime(1, rows, np.array([NAN]))
    assert [ran(time, 0, day) for day in (100, 110, 210)] == pytest.approx([1000, 1000, 1800])


def test_a_pump_that_is_not_read_runs_as_the_mean_of_those_that_are():
    rows = meters((0, 0, 0, False), (0, 100, 1000, False), (1, 0, 0, False), (1, 100, 2000, False))
    time = RunningTime(3, rows, np.array([NAN, NAN, 50.0]))
    assert list(time.read) == [True, True, False]
    assert time.per_day == pytest.approx([10, 20, 15])
    assert list(RunningTime(1, meters(), np.array([NAN])).per_day) == [24]


def test_one_reading_and_the_day_of_installation_tell_how_it_runs():
    time = RunningTime(1, meters((0, 300, 2000, False)), np.array([100.0]))
    assert time.per_day == pytest.approx([10])
    assert bool(time.read[0])


def test_a_planned_overhaul_and_a_running_pump_are_lives_longer_than_told():
    rows = meters((0, 0, 0, False), (0, 1000, 10_000, False))
    time = RunningTime(1, rows, np.array([0.0]))
    lives, ages = lives_of(time, overhauls((0, 300, False), (0, 700, True)), np.array([1000.0]), np.array([True]))
    assert lives.hours == pytest.approx([3000, 4000, 3000])
    assert list(lives.failed) == [True, False, False]
    assert ages == pytest.approx([3000])


def test_what_comes_later_is_not_known_yet():
    time = RunningTime(1, meters((0, 0, 0, False), (0, 1000, 10_000, False)), np.array([0.0]))
    lives, ages = lives_of(time, overhauls((0, 700, False)), np.array([600.0]), np.array([True]))
    assert (lives.hours, list(lives.failed), ages) == (pytest.approx([6000]), [False], pytest.approx([6000]))


def test_an_overhaul_in_the_course_of_the_day_counts_where_that_day_is_asked_for():
    time = RunningTime(1, meters((0, 0, 0, False), (0, 1000, 10_000, False)), np.array([0.0]))
    done, day, runs = overhauls((0, 700.6, False), (0, 701.0, False)), np.array([700.0]), np.array([True])
    lives, ages = lives_of(time, done, day, runs, of_that_day=True)
    assert (lives.hours, list(lives.failed), ages) == (pytest.approx([7006]), [True], pytest.approx([0]))
    lives, ages = lives_of(time, done, day, runs)
    assert (lives.hours, list(lives.failed), ages) == (pytest.approx([7000]), [False], pytest.approx([7000]))


def test_where_nothing_tells_when_a_pump_began_only_what_follows_its_first_overhaul_counts():
    time = RunningTime(2, meters(), np.array([NAN, NAN]))
    lives, ages = lives_of(time, overhauls((0, 100, False)), np.array([200.0, 200.0]), np.array([True, True]))
    assert lives.hours == pytest.approx([2400])
    assert list(lives.failed) == [False]
    assert ages[0] == pytest.approx(2400)
    assert np.isnan(ages[1])


def test_a_pump_that_stands_grows_no_older_than_its_last_reading():
    time = RunningTime(1, meters((0, 0, 0, False), (0, 100, 1000, False)), np.array([0.0]))
    _, ages = lives_of(time, overhauls(), np.array([500.0]), np.array([False]))
    assert ages == pytest.approx([1000])


def test_an_overhaul_on_the_heels_of_another_is_the_same_one():
    time = RunningTime(1, meters((0, 0, 0, False), (0, 1000, 10_000, False)), np.array([0.0]))
    lives, _ = lives_of(time, overhauls((0, 300, False), (0, 301, False)), np.array([1000.0]), np.array([True]))
    assert lives.hours == pytest.approx([3000, 6990])


pumps_read = st.lists(
    st.lists(
        st.tuples(st.integers(0, 3000), st.floats(0, 24), st.booleans()), max_size=6, unique_by=lambda one: one[0]
    ),
    min_size=1,
    max_size=4,
)


@settings(max_examples=80, deadline=None)
@given(pumps_read, st.lists(st.integers(0, 3000), min_size=2, max_size=6))
def test_time_never_runs_backwards_for_any_pump_read_in_any_way(read, days):
    rows = []
    for pump, each in enumerate(read):
        hours, before = 0.0, 0
        for day, rate, new in sorted(each):
            hours = 0.0 if new else hours + rate * (day - before)
            before = day
            rows.append((pump, day, hours, new))
    time = RunningTime(len(read), meters(*rows), np.full(len(read), NAN))
    for pump in range(len(read)):
        told = [ran(time, pump, day) for day in sorted(days)]
        assert told == sorted(told)
    assert ((time.per_day >= 0) & (time.per_day <= 24)).all()
