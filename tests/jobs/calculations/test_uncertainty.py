"""Uncertainty budgets against the examples of the GUM, and against a general-purpose library for uncertain numbers."""

import statistics
from decimal import Decimal

import GTC
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.uncertainty import (
    Contribution,
    arcsine,
    budget,
    calibration,
    combine,
    coverage_factor,
    effective_degrees_of_freedom,
    rectangular,
    repeatability,
    resolution,
    standard_deviation_of_mean,
)

# JCGM 100:2008, 4.4.3 and table 1: twenty observations of a temperature in degrees Celsius.
OBSERVATIONS = [
    Decimal(text)
    for text in (
        "96.90", "98.18", "98.25", "98.61", "99.03", "99.49", "99.56", "99.74", "99.89", "100.07", "100.33", "100.42",
        "100.68", "100.95", "101.11", "101.20", "101.57", "101.84", "102.36", "102.72",
    )
]  # fmt: skip


def line(standard: str, degrees: str | None = None, sensitivity: str = "1") -> Contribution:
    known = None if degrees is None else Decimal(degrees)
    return Contribution("part", Decimal(standard), "nm", Decimal(sensitivity), known)


def test_the_mean_of_twenty_temperatures_is_uncertain_by_a_third_of_a_degree() -> None:
    # JCGM 100:2008, 4.4.3: mean 100.145, s = 1.489, s of the mean 0.333 degrees Celsius, 19 degrees of freedom.
    assert sum(OBSERVATIONS) / 20 == Decimal("100.145")
    found = repeatability(OBSERVATIONS, "degC")
    assert round(found.standard, 3) == Decimal("0.333")
    assert found.degrees_of_freedom == 19


def test_temperatures_between_two_bounds_are_uncertain_by_2_3_degrees() -> None:
    # JCGM 100:2008, 4.4.5: 96 to 104 degrees Celsius, rectangular: 4 / sqrt(3) = 2.3.
    assert round(rectangular("temperature", Decimal(4), "degC").standard, 1) == Decimal("2.3")


def test_a_digital_step_counts_with_0_29_of_its_width() -> None:
    # JCGM 100:2008, F.2.2.1: u = 0.29 of the resolution.
    assert round(resolution(Decimal(1), "mm").standard, 2) == Decimal("0.29")


def test_a_certificate_states_twice_the_standard_uncertainty() -> None:
    # JCGM 100:2008, 4.3.3 with k = 2.
    assert calibration(Decimal("0.002"), "mm").standard == Decimal("0.001")


def test_a_temperature_that_swings_by_half_a_kelvin_is_uncertain_by_0_35_kelvin() -> None:
    # JCGM 100:2008, H.1.3.4: amplitude 0.5 degrees Celsius, U-shaped: 0.35.
    assert round(arcsine(Decimal("0.5")), 2) == Decimal("0.35")


def test_three_resistors_in_a_product_have_nineteen_degrees_of_freedom() -> None:
    # JCGM 100:2008, G.4.1, example: 0.25, 0.57 and 0.82 % with 9, 4 and 14 give 1.03 % with 19.0; U95 = 2.2 %.
    lines = [line("0.25", "9"), line("0.57", "4"), line("0.82", "14")]
    assert round(combine(one.amount for one in lines), 2) == Decimal("1.03")
    degrees = effective_degrees_of_freedom(lines)
    assert degrees is not None
    assert abs(degrees - 19) < Decimal("0.1")
    assert coverage_factor(Decimal(19), 0.975) == Decimal("2.09")


@pytest.mark.parametrize(
    ("degrees", "factor"),
    [
        ("1", "13.97"), ("2", "4.53"), ("3", "3.31"), ("4", "2.87"), ("5", "2.65"), ("6", "2.52"), ("7", "2.43"),
        ("8", "2.37"), ("9", "2.32"), ("10", "2.28"), ("12", "2.23"), ("16", "2.17"), ("20", "2.13"), ("30", "2.09"),
        ("50", "2.05"), ("4.9", "2.87"), (None, "2.00"),
    ],
)  # fmt: skip
def test_the_coverage_factor_is_students_for_a_share_of_95_45_per_cent(degrees: str | None, factor: str) -> None:
    # JCGM 100:2008, table G.2, column 95.45; cut to whole degrees of freedom, G.4.1 note 1.
    assert coverage_factor(None if degrees is None else Decimal(degrees)) == Decimal(factor)


def end_gauge() -> list[Contribution]:
    """JCGM 100:2008, H.1.3: calibration of an end gauge of 50 mm, standard uncertainties in nm and kelvins."""
    observed = [line("5.8", "24"), line("3.9", "5"), line("6.7", "8")]
    degrees = effective_degrees_of_freedom(observed)
    assert degrees is not None
    # 25.6 there, from 9.7 nm already rounded.
    assert abs(degrees - Decimal("25.6")) < Decimal("0.2")
    difference = combine(one.amount for one in observed)
    assert round(difference, 1) == Decimal("9.7")
    return [
        line("25", "18"),
        Contribution("difference", difference, "nm", degrees_of_freedom=degrees),
        # c = ls x theta = 50 mm x -0.1 K; half width 1e-6 / K, 50 degrees of freedom.
        Contribution(
            "expansion", rectangular("", Decimal("1e-6"), "1/K").standard, "1/K", Decimal(-5_000_000) * -1, Decimal(50)
        ),
        # c = -ls x alpha = -50 mm x 11.5e-6 / K; half width 0.05 K, 2 degrees of freedom.
        Contribution("warmth", rectangular("", Decimal("0.05"), "K").standard, "K", Decimal(-575), Decimal(2)),
    ]


def test_an_end_gauge_is_known_to_32_nanometres() -> None:
    # JCGM 100:2008, H.1.4: 25, 9.7, 2.9 and 16.6 nm combine to 32 nm.
    lines = end_gauge()
    assert [round(one.amount, 1) for one in lines] == [Decimal("25.0"), Decimal("9.7"), Decimal("2.9"), Decimal("16.6")]
    assert round(budget(lines).combined) == 32


def test_its_length_is_expanded_with_sixteen_degrees_of_freedom() -> None:
    # JCGM 100:2008, H.1.6: effective degrees of freedom 16.7, cut to 16; t99(16) = 2.92; U99 = 93 nm.
    found = budget(end_gauge())
    assert found.degrees_of_freedom is not None
    assert int(found.degrees_of_freedom) == 16
    factor = coverage_factor(found.degrees_of_freedom, 0.995)
    assert factor == Decimal("2.92")
    assert round(factor * round(found.combined)) == 93


def test_the_products_of_its_temperatures_raise_it_to_34_nanometres() -> None:
    # JCGM 100:2008, H.1.7: second-order terms of 11.7 and 1.7 nm, then 34 nm.
    length = Decimal(50_000_623)
    expansion = rectangular("", Decimal("2e-6"), "1/K").standard
    change = rectangular("", Decimal("1e-6"), "1/K").standard
    warmth = rectangular("", Decimal("0.05"), "K").standard
    swing = combine([arcsine(Decimal("0.5")), Decimal("0.2")])
    second = [length * change * swing, length * expansion * warmth]
    assert [round(one, 1) for one in second] == [Decimal("11.7"), Decimal("1.7")]
    assert round(combine([budget(end_gauge()).combined, *second])) == 34


def test_the_end_gauge_agrees_with_a_library_for_uncertain_numbers() -> None:
    # GTC (Measurement Standards Laboratory of New Zealand), the inputs of JCGM 100:2008, H.1.
    length = GTC.ureal(50_000_623, 25, 18)
    difference = GTC.ureal(215, 5.8, 24) + GTC.ureal(0, 3.9, 5) + GTC.ureal(0, 6.7, 8)
    change = GTC.ureal(0, float(rectangular("", Decimal("1e-6"), "").standard), 50)
    warmth = GTC.ureal(0, float(rectangular("", Decimal("0.05"), "").standard), 2)
    gauge = length + difference - length * (change * -0.1 + 11.5e-6 * warmth)
    found = budget(end_gauge())
    assert float(found.combined) == pytest.approx(gauge.u, rel=1e-4)
    assert found.degrees_of_freedom is not None
    assert float(found.degrees_of_freedom) == pytest.approx(gauge.df, rel=1e-3)


def test_a_micrometer_at_the_bench() -> None:
    # Root sum of squares, JCGM 100:2008, 5.1.2: 0.33, 0.29 and 0.25 um give 0.51 um, expanded 1.0 um.
    found = budget([line("0.00033"), line("0.00029"), line("0.00025")])
    assert round(found.combined, 5) == Decimal("0.00051")
    assert round(found.expanded, 4) == Decimal("0.0010")
    assert (found.degrees_of_freedom, found.coverage_factor) == (None, 2)


def test_a_part_that_hardly_weighs_leaves_the_factor_at_two() -> None:
    found = budget([line("1"), line("0.01", "2")])
    assert (found.degrees_of_freedom, found.coverage_factor) == (None, 2)


def test_figures_below_zero_are_refused() -> None:
    with pytest.raises(ValueError, match="below zero"):
        calibration(Decimal(-1), "mm")
    with pytest.raises(ValueError, match="below zero"):
        resolution(Decimal(-1), "mm")


numbers = st.decimals(min_value=-1000, max_value=1000, places=3)


@given(st.lists(numbers, min_size=2, max_size=10))
def test_repeatability_is_the_standard_error_of_the_statistics_module(readings: list[Decimal]) -> None:
    # Python's statistics.stdev over sqrt(n), JCGM 100:2008, 4.2.3.
    expected = statistics.stdev(readings) / Decimal(len(readings)).sqrt()
    assert float(standard_deviation_of_mean(readings)) == pytest.approx(float(expected), abs=1e-9)


amounts = st.decimals(min_value="0.01", max_value=10, places=2)
some_lines = st.lists(
    st.builds(
        lambda standard, sensitivity, degrees: Contribution("part", standard, "mm", sensitivity, degrees),
        amounts,
        st.decimals(min_value=-3, max_value=3, places=2),
        st.none() | st.integers(min_value=1, max_value=30).map(Decimal),
    ),
    min_size=1,
    max_size=6,
)


@given(some_lines)
def test_any_budget_agrees_with_a_library_for_uncertain_numbers(lines: list[Contribution]) -> None:
    # GTC: sum of independent uncertain numbers, combined and with effective degrees of freedom.
    numbers = [
        GTC.ureal(
            0, float(one.standard), float("inf") if one.degrees_of_freedom is None else int(one.degrees_of_freedom)
        )
        * float(one.sensitivity)
        for one in lines
    ]
    total = sum(numbers[1:], numbers[0])
    found = budget(lines)
    assert float(found.combined) == pytest.approx(total.u, rel=1e-9)
    if found.degrees_of_freedom is not None and total.df < 9000:
        assert float(found.degrees_of_freedom) == pytest.approx(total.df, rel=1e-6)


@given(some_lines)
def test_no_part_makes_a_value_more_certain(lines: list[Contribution]) -> None:
    found = budget(lines)
    assert found.coverage_factor >= 2
    assert all(found.combined >= one.amount - Decimal("1e-12") for one in lines)


@given(some_lines, st.decimals(min_value="0.01", max_value=100, places=2))
def test_a_budget_in_another_unit_is_as_large(lines: list[Contribution], factor: Decimal) -> None:
    found, scaled = budget(lines), budget([one.scaled(factor) for one in lines])
    assert float(scaled.combined) == pytest.approx(float(found.combined * factor), rel=1e-12)
