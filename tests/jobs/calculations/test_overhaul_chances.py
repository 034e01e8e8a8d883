"""How likely overhauls are, and how many there will be."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import poisson, poisson_binom, weibull_min

from jobs.calculations.life_families import FamilyFit
from jobs.calculations.overhaul_chances import (
    chance_of_overhaul,
    chances_by_period,
    poisson_binomial,
    quantile,
    quantiles_of_draws,
)
from jobs.calculations.overhaul_forecast import KitUsed, SitePumps, Uses, forecast_site, shares_of_kits
from jobs.calculations.weibull import WeibullFit

SHAPE, SCALE, AHEAD = 3, 16_000, 2_000
AGES = [500, 3000, 6000, 9000, 11_000, 13_000, 14_000, 15_000, 17_000, 19_000]


def test_the_chance_grows_with_age_where_the_shape_is_above_one():
    """Against scipy.stats.weibull_min: 1 - sf(t + h) / sf(t), scipy 1.17."""
    ages = np.array([0, 8000, 14_000, 20_000])
    law = weibull_min(SHAPE, scale=SCALE)
    expected = 1 - np.exp(law.logsf(ages + AHEAD) - law.logsf(ages))
    assert chance_of_overhaul(ages, AHEAD, SHAPE, SCALE) == pytest.approx(expected, rel=1e-9)
    assert expected == pytest.approx([0.001951, 0.112317, 0.281132, 0.476116], abs=1e-6)


def test_it_holds_where_both_survivals_are_nothing():
    assert chance_of_overhaul(200_000, AHEAD, SHAPE, SCALE) == 1
    assert chance_of_overhaul(8000, 0, SHAPE, SCALE) == 0


def test_with_shape_one_age_means_nothing():
    assert chance_of_overhaul([0, 8000, 200_000], AHEAD, 1, SCALE) == pytest.approx([0.117503] * 3, abs=1e-6)


chances = st.lists(st.floats(0, 1), min_size=1, max_size=30)


def test_ten_pumps_of_different_ages():
    """Against scipy.stats.poisson_binom, scipy 1.17; Poisson demand of the same mean would ask for one more."""
    each = chance_of_overhaul(AGES, AHEAD, SHAPE, SCALE)
    found = poisson_binomial(each)
    assert found == pytest.approx(poisson_binom(each).pmf(np.arange(11)), abs=1e-12)
    assert found[:6] == pytest.approx([0.0810198, 0.249738, 0.321529, 0.225558, 0.0941953, 0.02398], abs=1e-6)
    assert each.sum() == pytest.approx(2.09037, abs=1e-5)
    assert (each * (1 - each)).sum() == pytest.approx(1.45056, abs=1e-5)
    assert quantile(found) == 4
    assert poisson.ppf(0.95, each.sum()) == 5
    assert np.abs(found[:11] - poisson.pmf(np.arange(11), each.sum())).sum() / 2 <= (each**2).sum()


def test_a_kit_that_seven_of_ten_overhauls_use():
    each = 0.7 * chance_of_overhaul(AGES, AHEAD, SHAPE, SCALE)
    assert each.sum() == pytest.approx(1.46326, abs=1e-5)
    assert poisson_binomial(each)[0] == pytest.approx(0.191793, abs=1e-6)
    assert poisson_binom(each).pmf(0) == pytest.approx(0.191793, abs=1e-6)


@settings(max_examples=80, deadline=None)
@given(chances)
def test_any_pumps_are_counted_as_scipy_counts_them(each):
    found = poisson_binomial(each)
    assert found == pytest.approx(poisson_binom(each).pmf(np.arange(len(each) + 1)), abs=1e-9)
    assert found.sum() == pytest.approx(1)
    assert (found * np.arange(len(found))).sum() == pytest.approx(sum(each))


@settings(max_examples=80, deadline=None)
@given(chances)
def test_two_moments_come_within_one_of_the_exact_quantile(each):
    each = np.array(each)
    exact = quantile(poisson_binomial(each))
    moments = np.array([[each.sum()]]), np.array([[(each * (1 - each)).sum()]])
    (near,) = quantiles_of_draws(*moments, np.array([len(each)]))
    assert abs(near - exact) <= 1


def test_a_mixture_of_draws_is_no_mean_of_their_quantiles():
    """Half the draws say 1 and half say 9, as good as Poisson: against the mixture of scipy.stats.poisson."""
    means = np.array([[1.0], [9.0]])
    reached = (poisson.cdf(np.arange(40), 1) + poisson.cdf(np.arange(40), 9)) / 2
    assert quantiles_of_draws(means, means, np.array([10_000])) == [np.searchsorted(reached, 0.95)]


@settings(max_examples=50, deadline=None)
@given(st.floats(0, 50_000), st.lists(st.floats(0, 5000), min_size=1, max_size=8), st.floats(0.5, 5))
def test_the_chances_of_the_months_add_up_to_that_of_all(age, steps, shape):
    ends = np.cumsum(steps)[None, :]
    within, until = chances_by_period(np.array([age]), ends, shape, SCALE)
    assert np.cumsum(within, axis=1) == pytest.approx(until, abs=1e-12)
    assert until[0, -1] == pytest.approx(chance_of_overhaul(age, ends[0, -1], shape, SCALE), abs=1e-12)


def known(shape=SHAPE, scale=SCALE, spread=0.0, draws=200):
    generator = np.random.default_rng(3)
    steps = np.exp(spread * generator.standard_normal((draws, 2)))
    fit = WeibullFit(shape, scale, 12, 40, (0.0, 0.0, 0.0))
    return FamilyFit(fit, 12, 40, "own", "", np.array([[shape, scale]]) * steps)


def site(planned=(), days=(20.0, 100.0), **life):
    """The ten pumps at 20 hours a day, so that 100 days are 2,000 hours; those planned have a job today."""
    ages = np.array([0.0 if place in planned else age for place, age in enumerate(AGES)])
    pumps = SitePumps(["a"] * 10, ages, np.full(10, 20.0), np.zeros(10))
    uses = Uses(np.arange(10), np.zeros(10, dtype=int), np.ones(10))
    certain = np.zeros((1, len(days)), dtype=int)
    certain[0, 0] = len(planned)
    return forecast_site(pumps, uses, {"a": known(**life)}, np.array(days), certain)[0].periods[-1]


def test_a_planned_pump_counts_as_one_and_leaves_the_chances():
    """Two certain and 95 % of the other eight: 5; both among the ten would be 6, and without any plan 4."""
    assert site().q95_until == 4
    planned = site(planned=(8, 9))
    assert planned.q95_until == 5
    rest = chance_of_overhaul(AGES[:8], AHEAD, SHAPE, SCALE)
    second = chance_of_overhaul(0, AHEAD, SHAPE, SCALE)
    assert planned.mean_until == pytest.approx(rest.sum() + 2 * second)
    assert 2 + quantile(poisson_binom([*rest, second, second]).pmf(np.arange(11))) == 5
    assert 2 + quantile(poisson_binomial(chance_of_overhaul(AGES, AHEAD, SHAPE, SCALE))) == 6


def test_a_second_life_begins_on_the_day_of_the_job():
    pumps = SitePumps(["a"], np.array([0.0]), np.array([20.0]), np.array([50.0]))
    uses = Uses(np.array([0]), np.array([0]), np.array([1.0]))
    found = forecast_site(pumps, uses, {"a": known()}, np.array([50.0, 100.0]), np.zeros((1, 2), dtype=int))[0]
    assert found.periods[0].mean == 0
    assert found.periods[1].mean == pytest.approx(0.000244, abs=1e-6)


def test_the_chance_before_a_job_is_its_timing_risk():
    assert chance_of_overhaul(17_000, 1000, SHAPE, SCALE) == pytest.approx(0.201, abs=5e-4)


def test_an_uncertain_fit_asks_for_no_less():
    assert site(spread=0.4).q95_until > site().q95_until == site(spread=0.4).q95_at_best_fit


def test_pumps_that_stand_and_families_without_a_fit_need_nothing():
    pumps = SitePumps(["a", "b"], np.array([9000.0, 9000.0]), np.array([0.0, 20.0]), np.zeros(2))
    uses = Uses(np.array([0, 1]), np.array([0, 0]), np.array([1.0, 1.0]))
    found = forecast_site(pumps, uses, {"a": known()}, np.array([100.0]), np.zeros((1, 1), dtype=int))[0]
    assert (found.pumps, found.periods[0].mean, found.periods[0].none) == (1, 0, 1)


def test_a_pump_of_unknown_age_has_the_chance_of_any_age():
    pumps = SitePumps(["a"], np.array([np.nan]), np.array([20.0]), np.zeros(1))
    uses = Uses(np.array([0]), np.array([0]), np.array([1.0]))
    found = forecast_site(pumps, uses, {"a": known()}, np.array([1.0]), np.zeros((1, 1), dtype=int))[0]
    mean_life = weibull_min(SHAPE, scale=SCALE).mean()
    assert found.periods[0].mean == pytest.approx(1 - np.exp(-20 / mean_life))


def test_kits_share_as_past_jobs_used_them_else_equally():
    offered = [("1", "K-1"), ("2", "K-2"), ("3", "K-2")]
    assert shares_of_kits(offered, []) == [1 / 3] * 3
    used = [KitUsed("1", "K-1", 3), KitUsed("0", "K-2", 1), KitUsed("9", "K-9", 40)]
    assert shares_of_kits(offered, used) == [0.75, 0, 0.25]
