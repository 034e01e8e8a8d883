"""History and installed pumps asked again as of earlier days."""

import datetime

import numpy as np
import pytest

from jobs.calculations.overhaul_backtest import Fleet, judge_history, months_between
from jobs.calculations.running_lives import Overhauls, Readings
from kits.calculations.demand_history import months_after, months_before

AS_OF = datetime.date(2026, 11, 15)


def fleet(overhauls, *, pumps=60, start=datetime.date(2021, 1, 1), classes=None):
    """Pumps started one a week, each running 24 hours a day. ``overhauls``: (pump, day, whether foreseen, kit)."""
    installed = np.array([float(start.toordinal() + 7 * one) for one in range(pumps)])
    pump, day, foreseen, kit = (
        (np.array(one) for one in zip(*overhauls, strict=True)) if overhauls else ([], [], [], [])
    )
    nothing = Readings(np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0), np.zeros(0, dtype=bool))
    return Fleet(
        ["a"] * pumps,
        classes or {"a": "in-line"},
        nothing,
        installed,
        np.ones(pumps, dtype=bool),
        Overhauls(np.array(pump, dtype=np.int64), np.array(day, dtype=float), np.array(foreseen, dtype=bool)),
        np.array(kit, dtype=np.int64),
    )


def wave(seed=5):
    """Lives of 3 and a half years with little spread: the pumps of 2021 come of age together in 2025 and 2026, after
    forerunners told how long they last. No published case: the fleet is made up."""
    generator = np.random.default_rng(seed)
    found = []
    for pump in range(60):
        born = datetime.date(2021, 1, 1).toordinal() + 7 * pump
        life = 365 * 4.8 * generator.weibull(9)
        while pump % 6 == 0 and life > 365 * 3.8:
            life = 365 * 4.8 * generator.weibull(9)
        if born + life < AS_OF.toordinal():
            found.append((pump, born + life, False, 0))
    return found


def test_where_pumps_come_of_age_together_history_is_late_and_counts_less():
    judged = judge_history(fleet(wave()), [0], AS_OF)[0]
    assert judged.origins == 4
    history = sum(one * one for one in judged.history_errors)
    pumps = sum(one * one for one in judged.installed_errors)
    assert pumps < history
    assert judged.weight_of_history == pytest.approx(max(pumps / (pumps + history), 0.2))


def test_an_origin_knows_nothing_of_what_came_after_it():
    """The windows end on the firsts of March, June, September and so on: what comes in the last of them moves only its
    own error, which is one overhaul less wrong."""
    last = months_before(AS_OF, 1).toordinal() + 3.0
    once = judge_history(fleet(wave()), [0], AS_OF)[0]
    again = judge_history(fleet([*wave(), (59, last, False, 0)]), [0], AS_OF)[0]
    assert once.history_errors[:3] == pytest.approx(again.history_errors[:3])
    assert once.installed_errors[:3] == pytest.approx(again.installed_errors[:3])
    assert again.history_errors[3] == pytest.approx(once.history_errors[3] - 1)


def test_a_foreseen_overhaul_is_no_error_of_either():
    day = months_before(AS_OF, 1).toordinal() + 3.0
    quiet = [one for one in wave() if one[1] < day - 200]
    once = judge_history(fleet(quiet), [0], AS_OF)[0]
    again = judge_history(fleet([*quiet, (59, day, True, 0)]), [0], AS_OF)[0]
    assert again.history_errors == pytest.approx(once.history_errors)
    assert again.installed_errors[3] <= once.installed_errors[3]


@pytest.mark.parametrize("overhauls", [[], [(0, AS_OF.toordinal() - 40.0, False, 0)]])
def test_records_that_have_just_begun_judge_nobody(overhauls):
    judged = judge_history(fleet(overhauls), [0], AS_OF)[0]
    assert (judged.origins, judged.weight_of_history) == (0, 0.5)


def test_months_are_counted_over_the_turn_of_a_year():
    assert months_after(datetime.date(2026, 11, 1), 3) == datetime.date(2027, 2, 1)
    assert months_before(datetime.date(2026, 1, 31), 1) == datetime.date(2025, 12, 1)
    assert months_between(datetime.date(2025, 12, 31), datetime.date(2026, 2, 1)) == 2
