"""Wear rates with their intervals, and the age at which a limit is reached."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.stats import linregress
from scipy.stats import t as student

from jobs.calculations import wear_trend
from jobs.calculations.wear_trend import chance_reached, standing, value_at

# NIST Statistical Reference Datasets, linear regression, Norris: 36 values (value from memory; that the certified
# figures below come out of them to nine digits tells that they are right).
NORRIS = [
    (0.1, 0.2), (338.8, 337.4), (118.1, 118.2), (888.0, 884.6), (9.2, 10.1), (228.1, 226.5), (668.5, 666.3),
    (998.5, 996.3), (449.1, 448.6), (778.9, 777.0), (559.2, 558.2), (0.3, 0.4), (0.1, 0.6), (778.1, 775.5),
    (668.8, 666.9), (339.3, 338.0), (448.9, 447.5), (10.8, 11.6), (557.7, 556.0), (228.3, 228.1), (998.0, 995.8),
    (888.8, 887.6), (119.6, 120.2), (0.3, 0.3), (0.6, 0.3), (557.6, 556.8), (339.3, 339.1), (888.0, 887.2),
    (998.5, 999.0), (778.9, 779.0), (10.2, 11.1), (117.6, 118.3), (228.9, 229.2), (668.4, 669.1), (449.2, 448.9),
    (0.2, 0.5),
]  # fmt: skip
# Gaps at a wear ring in mm over running hours, as a workshop might find them; invented.
HOURS = [0, 4000, 8000, 12000, 16000]
GAPS = [0.150, 0.172, 0.189, 0.214, 0.231]


def fit_wear(*rows):
    return wear_trend.fit_wear(*rows)


def age_at(fit, limit, **options):
    return wear_trend.age_at(fit, limit, **options)


def one_part(ages, values):
    return fit_wear(ages, values, [0.0] * len(ages), 0)


def test_the_norris_line_of_nist():
    """NIST StRD, Norris, certified: slope 1.00211681802045 with standard deviation 0.429796848199937e-3, intercept
    -0.262323073774029, residual standard deviation 0.884796396144373, 34 degrees of freedom."""
    fit = one_part([x for _, x in NORRIS], [y for y, _ in NORRIS])
    assert fit.method == "least-squares"
    assert fit.rate == pytest.approx(1.00211681802045, rel=1e-12)
    assert fit.level == pytest.approx(-0.262323073774029, rel=1e-9)
    assert fit.spread == pytest.approx(0.884796396144373, rel=1e-10)
    half = student.ppf(0.975, 34) * 0.429796848199937e-3
    assert (fit.rate_high - fit.rate_low) / 2 == pytest.approx(half, rel=1e-9)
    assert fit.freedom == 34


def test_scipy_fits_the_same_line_to_the_gaps():
    """scipy.stats.linregress, scipy 1.17."""
    fit, other = one_part(HOURS, GAPS), linregress(HOURS, GAPS)
    assert fit.rate == pytest.approx(other.slope)
    assert fit.level == pytest.approx(other.intercept)
    assert fit.rate - fit.rate_low == pytest.approx(student.ppf(0.975, 3) * other.stderr)


def band(fit_of, age, confidence):
    """The prediction band as any handbook of regression writes it, from scipy's line."""
    x, y = (np.array(one, dtype=float) for one in fit_of)
    line = linregress(x, y)
    rest = y - line.intercept - line.slope * x
    spread = math.sqrt((rest @ rest) / (len(x) - 2))
    width = ((x - x.mean()) ** 2).sum()
    half = (
        student.ppf((1 + confidence) / 2, len(x) - 2)
        * spread
        * math.sqrt(1 + 1 / len(x) + (age - x.mean()) ** 2 / width)
    )
    return line.intercept + line.slope * age + half * np.array([-1, 0, 1])


@pytest.mark.parametrize("confidence", [0.8, 0.95])
def test_the_limit_is_reached_where_the_band_of_a_further_value_meets_it(confidence):
    """Against the zeros of the band that scipy.optimize.brentq finds; the band from scipy.stats.linregress."""
    fit, known = one_part(HOURS, GAPS), (HOURS, GAPS)
    found = age_at(fit, 0.30, confidence=confidence)
    low, expected, high = (
        brentq(lambda age, place=place: band(known, age, confidence)[place] - 0.30, 0, 1e6) for place in (2, 1, 0)
    )
    assert found.earliest == pytest.approx(low)
    assert found.age == pytest.approx(expected)
    assert found.latest == pytest.approx(high)
    assert value_at(fit, 20000)[1] == pytest.approx(band(known, 20000, 0.95)[0])


def test_a_part_that_wears_towards_its_lower_limit_is_read_the_same_way():
    up, down = one_part(HOURS, GAPS), one_part(HOURS, [-one for one in GAPS])
    assert age_at(down, -0.30) == age_at(up, 0.30)


def test_where_the_rate_may_be_nought_the_limit_may_never_be_reached():
    fit = one_part([0, 4000, 8000], [0.15, 0.21, 0.19])
    assert not fit.moves
    assert age_at(fit, 0.30).latest is None


def test_new_rings_begin_anew_and_wear_at_one_rate():
    """numpy.linalg.lstsq with a dummy column for each part: Draper, Smith 1998, chapter 14."""
    ages = np.array([0, 9000, 0, 11000, 0, 5000.0])
    values = np.array([0.15, 0.21, 0.17, 0.24, 0.14, 0.18])
    parts = np.array([0, 0, 1, 1, 2, 2.0])
    table = np.column_stack([ages, *(parts == one for one in (0, 1, 2))]).astype(float)
    coefficients, rest, *_ = np.linalg.lstsq(table, values)
    fit = fit_wear(ages, values, parts, 2)
    assert fit.rate == pytest.approx(coefficients[0])
    assert fit.level == pytest.approx(coefficients[3])
    assert fit.freedom == 2
    assert fit.spread == pytest.approx(math.sqrt(rest[0] / 2))
    error = math.sqrt(np.linalg.inv(table.T @ table)[0, 0] * rest[0] / 2)
    assert fit.rate_high - fit.rate == pytest.approx(student.ppf(0.975, 2) * error)
    row = np.array([12000.0, 0, 0, 1])
    further = math.sqrt((1 + row @ np.linalg.inv(table.T @ table) @ row) * rest[0] / 2)
    assert value_at(fit, 12000)[2] - value_at(fit, 12000)[0] == pytest.approx(student.ppf(0.975, 2) * further)


def test_a_ring_just_fitted_takes_its_rate_from_those_before_it():
    fit = fit_wear([0, 8000, 0, 8000, 0], [0.15, 0.21, 0.16, 0.23, 0.14], [0, 0, 1, 1, 2], 2)
    assert (fit.points, fit.segments, fit.here, fit.freedom) == (5, 3, 1, 1)
    assert fit.level == pytest.approx(0.14)
    assert fit.rate == pytest.approx((0.06 + 0.07) / 2 / 8000)


@pytest.mark.parametrize(
    ("ages", "values", "parts", "present"),
    [
        ([0, 8000], [0.15, 0.21], [0, 0], 0),
        ([0, 8000, 0], [0.15, 0.21, 0.15], [0, 0, 1], 1),
        ([4000, 4000, 4000], [0.15, 0.16, 0.15], [0, 0, 0], 0),
        ([0, 4000, 8000], [0.15, 0.16, 0.17], [0, 0, 0], 1),
        ([0, 0, 0, 0], [0.15, 0.16, 0.17, 0.1], [0, 1, 2, 3], 3),
    ],
    ids=["two values", "a renewal between few", "all of one age", "nothing on the present part", "each alone"],
)
def test_too_little_tells_nothing(ages, values, parts, present):
    assert fit_wear(ages, values, parts, present) is None


def test_one_bad_reading_does_not_move_the_line():
    """The median of all pairs' slopes by a second hand: Theil 1950."""
    ages = np.arange(0, 28000, 4000.0)
    values = 0.15 + 5e-6 * ages + np.array([1, -1, 2, 0, -2, 1, 0]) * 1e-3
    values[3] = 0.60
    fit = one_part(ages, values)
    slopes = [(values[b] - values[a]) / (ages[b] - ages[a]) for a in range(len(ages)) for b in range(a + 1, len(ages))]
    assert fit.method == "median-of-slopes"
    assert fit.rate == pytest.approx(np.median(slopes))
    assert fit.rate == pytest.approx(5e-6, rel=0.1)
    found = age_at(fit, 0.30)
    assert found.earliest < found.age < found.latest
    assert found.age == pytest.approx(30000, rel=0.1)


def test_values_without_one_that_lies_far_off_are_fitted_by_least_squares():
    assert one_part(HOURS, GAPS).method == "least-squares"


def test_the_chance_that_the_limit_is_reached_is_that_of_the_band():
    """scipy.stats.t: at the earliest age of a band of 80 % the chance is 10 %, at the expected age one half."""
    fit = one_part(HOURS, GAPS)
    found = age_at(fit, 0.30, confidence=0.8)
    chances = chance_reached(fit, 0.30, [found.earliest, found.age, found.latest])
    assert list(chances) == pytest.approx([0.1, 0.5, 0.9])


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.floats(-0.02, 0.02), min_size=3, max_size=8),
    st.floats(1e-6, 1e-4),
    st.floats(0.2, 2.0),
    st.floats(0.5, 500),
)
def test_the_unit_of_the_hours_only_moves_the_ages(noise, rate, limit, factor):
    ages = np.arange(len(noise)) * 4000.0
    values = 0.15 + rate * ages + np.array(noise)
    once, again = one_part(ages, values), one_part(ages * factor, values)
    assert again.rate * factor == pytest.approx(once.rate, rel=1e-6, abs=1e-15)
    if once.rate > 1e-9 and once.moves == again.moves and once.moves:
        first, second = age_at(once, limit), age_at(again, limit)
        assert second.age == pytest.approx(first.age * factor, rel=1e-6)
        assert second.earliest == pytest.approx(first.earliest * factor, rel=1e-5, abs=1e-3)
        assert first.earliest <= first.age
        assert first.latest is None or first.latest >= first.age


def test_values_on_one_line_have_no_spread_and_one_age_at_the_limit():
    fit = one_part([0, 1000, 2000, 3000], [0.1, 0.2, 0.3, 0.4])
    found = age_at(fit, 0.5)
    assert (found.earliest, found.age, found.latest) == pytest.approx((4000, 4000, 4000), rel=1e-6)


def test_a_model_has_quartiles_of_rates_and_one_rate_of_all_values_together():
    """numpy.quantile by its usual method, linear between neighbours."""
    found = wear_trend.rates_of_model([1e-6, 2e-6, 3e-6, 4e-6, 9e-6], one_part(HOURS, GAPS))
    assert found is not None
    assert (found.pumps, found.lower_quartile, found.median, found.upper_quartile) == (5, 2e-6, 3e-6, 4e-6)
    assert found.pooled == pytest.approx(linregress(HOURS, GAPS).slope)
    assert wear_trend.rates_of_model([], None) is None


def test_a_pump_stands_among_its_model_by_how_many_wear_less():
    """scipy.stats.percentileofscore of the kind mean gives 70 for the fourth of five."""
    assert standing(4.0, [1.0, 2.0, 3.0, 4.0, 9.0]) == pytest.approx(0.7)
    assert standing(4.0, [4.0]) is None
