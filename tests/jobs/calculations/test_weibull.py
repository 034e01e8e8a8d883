"""How long pumps run before they have to be overhauled, survivors counted."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.stats import CensoredData, weibull_min

from jobs.calculations.life_families import fit_families
from jobs.calculations.running_lives import Lives
from jobs.calculations.weibull import draw, draw_scales, fit_scale, fit_weibull

# Nelson 1982, Applied Life Data Analysis, the fans of diesel generators (also Meeker, Escobar 1998, appendix C): hours
# to failure, and hours of those that still ran (value from memory, as is the printed fit: 1.058 and 26,297 h).
FAILED = [450, 1150, 1150, 1600, 2070, 2070, 2080, 3100, 3450, 4600, 6100, 8750]
STILL_RAN = {
    460: 1, 1560: 1, 1660: 1, 1850: 5, 2030: 3, 2200: 1, 3000: 4, 3200: 1, 3750: 2, 4150: 4, 4300: 4, 4850: 4, 5000: 3,
    6100: 3, 6300: 1, 6450: 2, 6700: 1, 7450: 1, 7800: 2, 8100: 2, 8200: 1, 8500: 3, 8750: 2, 9400: 1, 9900: 1,
    10100: 3, 11500: 1,
}  # fmt: skip
SURVIVED = [age for age, count in STILL_RAN.items() for _ in range(count)]
AGES, FLAGS = FAILED + SURVIVED, [True] * len(FAILED) + [False] * len(SURVIVED)


def test_the_generator_fans_of_nelson():
    fit = fit_weibull(AGES, FLAGS)
    assert (fit.failures, fit.censored) == (12, 58)
    assert fit.shape == pytest.approx(1.058, abs=5e-4)
    assert fit.scale == pytest.approx(26_297, abs=1)
    assert fit.mean == pytest.approx(25_716, abs=1)


def test_survivors_are_never_dropped():
    """Without them the fans would seem to last 3,067 hours instead of 25,716."""
    fit = fit_weibull(AGES, FLAGS)
    assert fit.shape != pytest.approx(1.415, abs=0.05)
    assert fit.mean > 5 * fit_weibull(FAILED, [True] * len(FAILED)).mean


def test_scipy_fits_the_same_to_censored_data():
    """scipy.stats.weibull_min.fit over scipy.stats.CensoredData, scipy 1.17."""
    shape, _, scale = weibull_min.fit(CensoredData.right_censored(AGES, ~np.array(FLAGS)), floc=0)
    fit = fit_weibull(AGES, FLAGS)
    assert (fit.shape, fit.scale) == (pytest.approx(shape, rel=1e-3), pytest.approx(scale, rel=1e-3))


lives = st.lists(st.tuples(st.floats(10, 50_000), st.booleans()), min_size=6, max_size=40)


@settings(max_examples=60, deadline=None)
@given(lives, st.floats(0.01, 100))
def test_the_unit_of_the_ages_only_moves_the_scale(rows, factor):
    ages, flags = np.array([one[0] for one in rows]), np.array([one[1] for one in rows])
    assume(flags.any())
    once, again = fit_weibull(ages, flags), fit_weibull(ages * factor, flags)
    assert again.shape == pytest.approx(once.shape, rel=1e-6)
    assert again.scale == pytest.approx(once.scale * factor, rel=1e-6)


@settings(max_examples=60, deadline=None)
@given(lives)
def test_nothing_near_is_likelier(rows):
    """Against the log-likelihood as scipy's own density and survival give it."""
    ages, flags = np.array([one[0] for one in rows]), np.array([one[1] for one in rows])
    assume(flags.any())
    fit = fit_weibull(ages, flags)
    assume(not fit.at_limit)

    def likelihood(shape, scale):
        law = weibull_min(shape, scale=scale)
        return law.logpdf(ages[flags]).sum() + law.logsf(ages[~flags]).sum()

    best = likelihood(fit.shape, fit.scale)
    for bend, stretch in ((1.02, 1), (0.98, 1), (1, 1.02), (1, 0.98), (1.02, 0.98)):
        assert likelihood(fit.shape * bend, fit.scale * stretch) <= best + 1e-9


def test_lives_that_are_all_alike_end_on_the_steepest_shape_and_say_so():
    fit = fit_weibull([1000.0] * 6, [True] * 6)
    assert fit.at_limit
    assert fit.scale == pytest.approx(1000)


@pytest.mark.parametrize(
    ("ages", "flags"), [([100.0], [False]), ([0.0, 5.0], [True, True]), ([np.nan], [True]), ([1.0], [True, False])]
)
def test_what_cannot_be_fitted_is_refused(ages, flags):
    with pytest.raises(ValueError, match=r"\w"):
        fit_weibull(ages, flags)


def test_with_a_shape_from_elsewhere_the_scale_is_the_mean_of_powers():
    """Shape 1 is the exponential life: hours run by failures (Meeker, Escobar 1998, section 7.2)."""
    assert fit_scale(AGES, FLAGS, 1.0).scale == pytest.approx(sum(AGES) / 12)
    assert fit_scale(AGES, FLAGS, fit_weibull(AGES, FLAGS).shape).scale == pytest.approx(26_297, abs=1)


def test_the_covariance_is_that_of_the_likelihood():
    """Against second differences of scipy's log-likelihood in the logarithms of shape and scale."""
    fit, flags, ages = fit_weibull(AGES, FLAGS), np.array(FLAGS), np.array(AGES)

    def likelihood(a, m):
        law = weibull_min(np.exp(a), scale=np.exp(m))
        return law.logpdf(ages[flags]).sum() + law.logsf(ages[~flags]).sum()

    at, step = np.log([fit.shape, fit.scale]), 1e-4
    steps = np.eye(2) * step
    bends = [
        [
            likelihood(*(at + one + other)) - likelihood(*(at + one - other))
            - likelihood(*(at - one + other)) + likelihood(*(at - one - other))
            for other in steps
        ]
        for one in steps
    ]  # fmt: skip
    expected = np.linalg.inv(-np.array(bends) / (4 * step * step))
    vss, vse, vee = fit.covariance
    assert np.array([[vss, vse], [vse, vee]]) == pytest.approx(expected, rel=1e-3)
    drawn = np.log(draw(fit, np.random.default_rng(1), 20_000))
    assert np.cov(drawn.T) == pytest.approx(expected, rel=0.05)


def test_drawn_scales_keep_to_the_shape_they_were_drawn_with():
    drawn = draw_scales(AGES, FLAGS, np.full(4000, 1.0), np.random.default_rng(1))
    assert np.log(drawn[:, 1]).mean() == pytest.approx(np.log(sum(AGES) / 12), abs=0.02)
    assert np.log(drawn[:, 1]).std() == pytest.approx(12**-0.5, rel=0.05)


def families(*counts):
    """One pump a life: of each family so many failures, and as many that still run."""
    generator = np.random.default_rng(7)
    names, hours, flags = [], [], []
    for place, count in enumerate(counts):
        ages = generator.weibull(2.5, 2 * max(count, 2)) * 10_000 * (1 + place)
        names += [f"f{place}"] * len(ages)
        hours += list(ages)
        flags += [True] * count + [False] * (len(ages) - count)
    found = Lives(np.arange(len(hours)), np.array(hours), np.array(flags))
    return found, names


def test_a_family_with_few_overhauls_takes_its_shape_from_its_class_and_with_none_both():
    found, names = families(30, 4, 0)
    fits = fit_families(found, names, {"f0": "in-line", "f1": "in-line", "f2": "in-line"})
    assert [fits[one].basis for one in ("f0", "f1", "f2")] == ["own", "shape-pooled", "pooled"]
    assert fits["f1"].fit.shape == fits["f2"].fit.shape != fits["f0"].fit.shape
    assert fits["f1"].fit.scale != fits["f2"].fit.scale
    assert (fits["f2"].failures, fits["f2"].censored) == (0, 4)


def test_a_class_with_few_overhauls_takes_them_from_all_pumps():
    found, names = families(30, 4, 0)
    fits = fit_families(found, names, {"f0": "in-line", "f1": "close-coupled", "f2": "close-coupled"})
    assert fits["f1"].pool == fits["f2"].pool == "all pumps"


def test_where_no_pump_was_ever_overhauled_nothing_is_fitted():
    found, names = families(0)
    assert fit_families(found, names, {"f0": "in-line"}) == {}


def test_the_same_lives_give_the_same_draws():
    found, names = families(30, 4, 0)
    classes = dict.fromkeys(("f0", "f1", "f2"), "in-line")
    once, again = fit_families(found, names, classes), fit_families(found, names, classes)
    assert all((once[one].draws == again[one].draws).all() for one in classes)
