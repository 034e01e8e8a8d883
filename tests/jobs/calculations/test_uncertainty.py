"""Uncertainty budgets against the examples of the GUM."""

import statistics
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.uncertainty import combine, instrument_budget, standard_deviation_of_mean

# JCGM 100:2008, 4.4.3 and table 1: twenty observations of a temperature in degrees Celsius.
OBSERVATIONS = [
    Decimal(text)
    for text in (
        "96.90", "98.18", "98.25", "98.61", "99.03", "99.49", "99.56", "99.74", "99.89", "100.07", "100.33", "100.42",
        "100.68", "100.95", "101.11", "101.20", "101.57", "101.84", "102.36", "102.72",
    )
]  # fmt: skip


def test_the_mean_of_twenty_temperatures_is_uncertain_by_a_third_of_a_degree() -> None:
    # JCGM 100:2008, 4.4.3: mean 100.145, s = 1.489, s of the mean 0.333 degrees Celsius.
    assert sum(OBSERVATIONS) / 20 == Decimal("100.145")
    assert round(standard_deviation_of_mean(OBSERVATIONS), 3) == Decimal("0.333")


def test_the_parts_of_a_gauge_block_calibration_combine_to_32_nm() -> None:
    # JCGM 100:2008, H.1.4 and table H.1: 25, 9.7, 2.9 and 16.6 nm combine to 32 nm.
    assert round(combine([Decimal(25), Decimal("9.7"), Decimal("2.9"), Decimal("16.6")])) == 32


def test_a_digital_step_counts_with_0_29_of_its_width() -> None:
    # JCGM 100:2008, F.2.2.1: u = 0.29 of the resolution.
    found = instrument_budget(expanded_uncertainty_certificate=Decimal(0), resolution=Decimal(1), readings=[])
    assert round(found.combined, 2) == Decimal("0.29")


def test_a_certificate_states_twice_the_standard_uncertainty() -> None:
    # JCGM 100:2008, 4.3.3 with k = 2.
    found = instrument_budget(expanded_uncertainty_certificate=Decimal("0.002"), resolution=Decimal(0), readings=[])
    assert [(one.name, one.standard) for one in found.parts] == [("calibration", Decimal("0.001")), ("resolution", 0)]
    assert found.expanded == Decimal("0.002")


def test_a_micrometer_at_the_bench() -> None:
    # Root sum of squares, JCGM 100:2008, 5.1.2: 0.33, 0.29 and 0.25 um give 0.51 um, expanded 1.0 um.
    combined = combine([Decimal("0.00033"), Decimal("0.00029"), Decimal("0.00025")])
    assert round(combined, 5) == Decimal("0.00051")
    assert round(2 * combined, 4) == Decimal("0.0010")


def test_one_reading_says_nothing_of_repeatability() -> None:
    found = instrument_budget(
        expanded_uncertainty_certificate=Decimal("0.002"), resolution=Decimal("0.001"), readings=[Decimal(50)]
    )
    assert [one.name for one in found.parts] == ["calibration", "resolution"]


def test_figures_below_zero_are_refused() -> None:
    with pytest.raises(ValueError, match="below zero"):
        instrument_budget(expanded_uncertainty_certificate=Decimal(-1), resolution=Decimal(1), readings=[])


@given(st.lists(st.decimals(min_value=-1000, max_value=1000, places=3), min_size=2, max_size=10))
def test_repeatability_is_the_standard_error_of_the_statistics_module(readings: list[Decimal]) -> None:
    # Python's statistics.stdev over sqrt(n), JCGM 100:2008, 4.2.3.
    expected = statistics.stdev(readings) / Decimal(len(readings)).sqrt()
    assert float(standard_deviation_of_mean(readings)) == pytest.approx(float(expected), abs=1e-9)


@given(
    certificate=st.decimals(min_value=0, max_value=1, places=4),
    resolution=st.decimals(min_value=0, max_value=1, places=4),
    readings=st.lists(st.decimals(min_value=-10, max_value=10, places=3), max_size=5),
)
def test_no_part_makes_a_value_more_certain(certificate: Decimal, resolution: Decimal, readings: list[Decimal]) -> None:
    found = instrument_budget(expanded_uncertainty_certificate=certificate, resolution=resolution, readings=readings)
    assert found.expanded >= certificate - Decimal("1e-20")
    assert all(found.combined >= one.standard - Decimal("1e-8") for one in found.parts)
