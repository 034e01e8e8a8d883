"""From readings to the value that is judged."""

import statistics
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.readings import ReadingsUnusable, value_of, written, written_values


def values(*texts: str) -> list[Decimal]:
    return [Decimal(text) for text in texts]


def test_run_out_is_the_full_swing_of_the_indicator() -> None:
    # ISO 1101:2017, circular run-out: largest less smallest reading in one turn.
    assert value_of(values("0.00", "0.02", "-0.01", "0.01"), "total-indicator-reading") == Decimal("0.03")


def test_a_swing_read_off_the_dial_stands_as_it_is() -> None:
    assert value_of(values("0.03"), "total-indicator-reading") == Decimal("0.03")


@pytest.mark.parametrize(
    ("rule", "expected"), [("max", "50.012"), ("min", "50.009"), ("range", "0.003"), ("mean", "50.010")]
)
def test_a_journal_measured_three_times(rule: str, expected: str) -> None:
    assert value_of(values("50.009", "50.012", "50.009"), rule) == Decimal(expected)


@pytest.mark.parametrize(
    ("readings", "rule"),
    [
        ([], "mean"),
        (["1", "2"], "single"),
        (["1"], "range"),
        (["-0.01"], "total-indicator-reading"),
        (["NaN"], "single"),
        (["Infinity", "1"], "max"),
        (["1"], "median"),
    ],
)
def test_readings_that_give_no_value_are_refused(readings: list[str], rule: str) -> None:
    with pytest.raises(ReadingsUnusable):
        value_of(values(*readings), rule)


sane = st.lists(st.decimals(min_value=-1000, max_value=1000, places=3), min_size=2, max_size=8)


@given(sane)
def test_the_mean_is_the_mean_of_the_statistics_module(readings: list[Decimal]) -> None:
    assert value_of(readings, "mean") == statistics.mean(readings)


@given(sane, st.decimals(min_value=-100, max_value=100, places=3))
def test_where_the_dial_was_zeroed_does_not_matter_to_the_swing(readings: list[Decimal], zero: Decimal) -> None:
    moved = [one + zero for one in readings]
    assert value_of(moved, "total-indicator-reading") == value_of(readings, "total-indicator-reading")


def test_readings_in_a_table_stand_apart_by_bars_and_by_group() -> None:
    assert written("0| 0,02 |-0.01") == values("0", "0.02", "-0.01")
    assert written("bore=90.52|90.53; shaft = 90,01") == {"bore": values("90.52", "90.53"), "shaft": values("90.01")}
    assert written_values("bore_temperature_c=20; sag_mm = -0,04") == {"bore_temperature_c": "20", "sag_mm": "-0.04"}
    assert written_values("") == {}


@pytest.mark.parametrize("text", ["", "1|", "1;2", "bore=1;2", "bore=1;bore=2", "bore=x", "1|NaN"])
def test_a_cell_that_cannot_be_read_is_refused(text: str) -> None:
    with pytest.raises(ReadingsUnusable):
        written(text)
