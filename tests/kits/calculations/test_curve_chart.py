"""Where the points and words of the chart of cost against waiting go."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kits.calculations.curve_chart import HEIGHT, WIDTH, curve_chart

FALLING = [(0.0, 8.1), (350.0, 7.05), (5000.0, 2.0), (12000.0, 0.4), (20000.0, 0.1)]


def test_the_axes_begin_at_nought_and_reach_beyond_every_point():
    chart = curve_chart(FALLING, plan=(12000.0, 0.4), now=(32018.0, 0.53))
    assert [one.words for one in chart.across] == ["0", "10000", "20000", "30000", "40000"]
    assert [one.words for one in chart.down] == ["0", "2", "4", "6", "8", "10"]


def test_small_figures_have_their_own_steps():
    chart = curve_chart([(0.0, 0.31), (0.004, 0.02)], plan=(0.0, 0.31), now=(0.0, 0.0))
    assert [one.words for one in chart.down] == ["0", "0.1", "0.2", "0.3", "0.4"]
    assert chart.across[-1].words == "0.004"


def test_more_money_lies_further_right_and_less_waiting_further_down():
    chart = curve_chart(FALLING, plan=(350.0, 7.05), now=(0.0, 8.1))
    assert list(chart.dots) == sorted(chart.dots)
    assert [y for _, y in chart.dots] == sorted(y for _, y in chart.dots)
    assert (chart.plan.x, chart.plan.y) == chart.dots[1]


def test_two_words_that_are_close_do_not_cover_each_other():
    apart = curve_chart(FALLING, plan=(12000.0, 0.4), now=(12100.0, 0.41))
    assert abs(apart.plan.word_y - apart.now.word_y) > 11


@given(
    st.lists(st.tuples(st.floats(0, 1e9), st.floats(0, 1e5)), min_size=1, max_size=5),
    st.tuples(st.floats(0, 1e9), st.floats(0, 1e5)),
)
def test_everything_lies_inside_the_drawing(points, now):
    chart = curve_chart(points, plan=points[0], now=now)
    every = [*chart.dots, (chart.now.x, chart.now.y), (chart.now.word_x, chart.now.word_y), *_ends(chart)]
    assert all(0 <= x <= WIDTH for x, _ in every)
    assert all(0 <= y <= HEIGHT for _, y in every)
    assert 2 <= len(chart.across) <= 7


def _ends(chart):
    return [(one.at, HEIGHT) for one in chart.across] + [(0, one.at) for one in chart.down]


def test_without_a_point_there_is_no_chart():
    with pytest.raises(ValueError, match="at least one point"):
        curve_chart([], plan=(0.0, 0.0), now=(0.0, 0.0))
