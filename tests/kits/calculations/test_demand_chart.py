"""Pictures of demand: figures of the pattern against scipy, bars against their own sum."""

import datetime
from decimal import Decimal

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from kits.calculations.demand_chart import figures_of_pattern, monthly_chart, pattern_picture
from kits.calculations.demand_history import pattern
from kits.calculations.order_cycles import order_cycle_days

JANUARY = datetime.date(2026, 1, 1)
SERIES = st.lists(st.integers(0, 9), min_size=1, max_size=36).filter(any)


def decimals(values):
    return [Decimal(one) for one in values]


@given(series=SERIES)
@settings(deadline=None)
def test_the_figures_of_a_pattern_are_those_of_scipy(series):
    interval, variation = figures_of_pattern(decimals(series)) or (0, 0)
    sizes = [float(one) for one in series if one]
    assert interval == pytest.approx(len(series) / len(sizes))
    assert variation == pytest.approx(stats.variation(sizes) ** 2, abs=1e-12)


@given(series=SERIES)
@settings(deadline=None)
def test_the_point_stands_on_the_side_of_the_borders_that_its_class_says(series):
    """The class is worked out in whole numbers elsewhere; points within a hair of a border are left out."""
    picture = pattern_picture(decimals(series))
    assert picture is not None
    assume(abs(picture.interval - 1.32) > 0.02)
    assume(abs(picture.variation - 0.49) > 0.02)
    right, above = picture.x > picture.border_x, picture.y < picture.border_y
    named = {(False, False): "smooth", (True, False): "intermittent", (False, True): "erratic", (True, True): "lumpy"}
    assert pattern(decimals(series)) == named[right, above]


def test_what_lies_beyond_the_picture_stands_on_its_edge():
    picture = pattern_picture(decimals([1] + [0] * 11))
    assert picture is not None
    assert picture.beyond
    assert picture.x == 164


def test_bars_stand_on_one_line_and_their_heights_are_in_proportion():
    chart = monthly_chart(JANUARY, decimals([0, 1, 3, 2]), mean=1.5)
    assert chart is not None
    assert [one.y + one.height for one in chart.bars] == pytest.approx([chart.base_y] * 4)
    assert [one.height / chart.bars[1].height for one in chart.bars] == pytest.approx([0, 1, 3, 2], abs=0.01)
    assert chart.mean_y == pytest.approx(chart.base_y - 1.5 * chart.bars[1].height, abs=0.05)
    assert [label for _, label in chart.levels] == ["0", "2", "4"]


def test_months_follow_each_other_over_the_year():
    chart = monthly_chart(datetime.date(2025, 11, 1), decimals([1] * 16))
    assert chart is not None
    assert [one.month for one in chart.bars][2] == JANUARY
    assert [year for _, year in chart.years] == ["2025", "2026", "2027"]


def test_years_that_would_lie_on_each_other_are_not_both_written():
    chart = monthly_chart(datetime.date(2023, 12, 1), decimals([1] * 36))
    assert chart is not None
    assert [year for _, year in chart.years] == ["2024", "2025", "2026"]


def test_a_month_of_more_returned_than_used_shows_none():
    chart = monthly_chart(JANUARY, decimals([-2, 4]))
    assert chart is not None
    assert chart.bars[0].height == 0


def test_without_demand_there_is_no_picture():
    assert monthly_chart(JANUARY, []) is None
    assert pattern_picture(decimals([0, 0])) is None


@pytest.mark.parametrize(("highest", "top"), [(1, "2"), (3, "4"), (5, "10"), (11, "20"), (39, "40"), (150, "200")])
def test_the_scale_ends_at_a_round_amount_of_which_half_is_whole(highest, top):
    chart = monthly_chart(JANUARY, decimals([highest]))
    assert chart is not None
    assert chart.levels[-1][1] == top


def test_how_often_a_supplier_is_ordered_from():
    first = datetime.datetime(2026, 1, 1, tzinfo=datetime.UTC)
    assert order_cycle_days(5, first, first + datetime.timedelta(days=80)) == 20
    assert order_cycle_days(2, first, first + datetime.timedelta(days=80)) == 30
    assert order_cycle_days(4, first, first) == 1
