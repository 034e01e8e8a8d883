"""History and installed pumps joined."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kits.calculations.demand_forecast import Forecast, forecast
from kits.calculations.forecast_blend import InstalledDemand, blend_forecast, weight_of_history
from kits.calculations.reorder_point import DAYS_OF_MONTH

errors = st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), max_size=12)


def test_whoever_was_less_wrong_counts_more():
    """The mean squared errors are 4 and 1, so the pumps count 4 parts of 5 (common practice, no source)."""
    assert weight_of_history([2, -2, 2, -2], [1, 1, -1, -1]) == pytest.approx(0.2)
    assert weight_of_history([1] * 8, [3] * 8) == pytest.approx(0.9)


def test_on_few_origins_neither_is_silenced():
    assert weight_of_history([0, 0], [9, 9]) == 0.8
    assert weight_of_history([9, 9], [0, 0]) == 0.2
    assert weight_of_history([], []) == 0.5


def test_both_are_judged_on_the_same_origins():
    with pytest.raises(ValueError, match="same origins"):
        weight_of_history([1], [])


@given(errors)
def test_the_weights_of_both_make_one_whole(rows):
    history, pumps = [one[0] for one in rows], [one[1] for one in rows]
    weight = weight_of_history(history, pumps)
    assert 0 <= weight <= 1
    assert weight + weight_of_history(pumps, history) == pytest.approx(1)
    assert len(rows) >= 8 or 0.2 <= weight <= 0.8


def test_means_are_blended_and_the_wider_variance_stays():
    history = Forecast("tsb", 3.0, 6.0, 0.3, 40, 24)
    found = blend_forecast(history, InstalledDemand(8.0, 5.0, 0.25), days=2 * DAYS_OF_MONTH)
    assert found.mean == pytest.approx(0.25 * 6 + 0.75 * 8)
    assert found.variance == pytest.approx(2 * 6 + 4 * 0.3)
    assert blend_forecast(history, InstalledDemand(8.0, 50.0, 0.25), days=61).variance == 50


def test_what_no_registered_pump_needed_stays_with_history():
    """All of history is walk-in: the pumps add theirs, and nothing of it is lost, whatever the weight."""
    history = forecast([2.0] * 24)
    found = blend_forecast(history, InstalledDemand(0.0, 0.0, 0.2, walk_in_mean=2.0), days=DAYS_OF_MONTH)
    assert found.mean == pytest.approx(2)
    assert found.history_mean == pytest.approx(0)


def test_where_history_alone_counts_the_mean_is_its_own():
    history = Forecast("tsb", 3.0, 6.0, 0.3, 40, 24)
    installed = InstalledDemand(80.0, 5.0, 1.0, walk_in_mean=1.0)
    assert blend_forecast(history, installed, days=DAYS_OF_MONTH).mean == pytest.approx(3)
