"""Lives of parts by the way they fail, with bounds and plain words."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize
from scipy.stats import norm, weibull_min

from jobs.calculations import part_lives
from jobs.calculations.part_lives import PartLife, bounds_of
from jobs.calculations.weibull import fit_weibull

# Lieblein, Zelen 1956, J. Res. Natl. Bur. Stand. 57:273-316: millions of revolutions of 23 deep-groove ball bearings,
# as surpyval 0.25 carries them (surpyval.datasets.load_bearing_failures).
BALL_BEARINGS = [
    17.88, 28.92, 33.00, 41.52, 42.12, 45.60, 48.40, 51.84, 51.96, 54.12, 55.56, 67.80, 68.64, 68.64, 68.88, 84.12,
    93.12, 98.64, 105.12, 105.84, 127.92, 128.04, 173.40,
]  # fmt: skip
# NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3: ten failures, ten units stopped at 500 h.
HANDBOOK = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]


def life_of_mode(*rows):
    return part_lives.life_of_mode(*rows)


def lives_of_parts(rows):
    return part_lives.lives_of_parts(rows)


def test_the_ball_bearings_of_lieblein_and_zelen():
    """surpyval 0.25 fits shape 2.102 and scale 81.875; reliability 0.9.0 (Fit_Weibull_2P) gives the bounds."""
    shape, scale, tenth = bounds_of(fit_weibull(BALL_BEARINGS, [True] * 23))
    assert (shape.value, scale.value) == (pytest.approx(2.102, abs=5e-4), pytest.approx(81.875, abs=5e-4))
    assert (shape.low, shape.high) == (pytest.approx(1.54704, rel=1e-4), pytest.approx(2.85562, rel=1e-4))
    assert (scale.low, scale.high) == (pytest.approx(66.6393, rel=1e-4), pytest.approx(100.593, rel=1e-4))
    assert tenth.value == pytest.approx(28.0651, rel=1e-4)
    assert (tenth.low, tenth.high) == (pytest.approx(18.0564, rel=1e-3), pytest.approx(43.6215, rel=1e-3))


def test_the_handbook_example_with_units_that_did_not_fail():
    """NIST/SEMATECH e-Handbook 8.4.1.3: shape 1.7208, scale 606.5280, mean 540.737; bounds by reliability 0.9.0."""
    ages, failed = np.array([*HANDBOOK, *[500] * 10], dtype=float), np.array([True] * 10 + [False] * 10)
    found = life_of_mode("seal", "", ages, failed)
    assert (found.failures, found.censored) == (10, 10)
    assert found.shape.value == pytest.approx(1.7208, abs=1e-4)
    assert found.scale.value == pytest.approx(606.528, abs=1e-3)
    assert found.mean == pytest.approx(540.737, abs=1e-2)
    assert (found.shape.low, found.shape.high) == (pytest.approx(0.971266, rel=1e-3), pytest.approx(3.04875, rel=1e-3))
    assert (found.scale.low, found.scale.high) == (pytest.approx(405.089, rel=1e-3), pytest.approx(908.135, rel=1e-3))
    assert (found.b10.low, found.b10.high) == (pytest.approx(83.8751, rel=1e-3), pytest.approx(320.755, rel=1e-3))


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.floats(100, 30_000), st.booleans()), min_size=8, max_size=30))
def test_the_bound_of_one_in_ten_is_that_of_the_information_read_from_scipy(rows):
    """The variance of ln B10 by differences of the log-likelihood of scipy.stats.weibull_min, scipy 1.17."""
    ages, failed = np.array([one[0] for one in rows]), np.array([one[1] for one in rows])
    if failed.sum() < 3:
        return
    fit = fit_weibull(ages, failed)
    if fit.at_limit or not 0.2 < fit.shape < 10:
        return

    def minus(logs):
        law = weibull_min(np.exp(logs[0]), scale=np.exp(logs[1]))
        return -(law.logpdf(ages[failed]).sum() + law.logsf(ages[~failed]).sum())

    best, step = np.log([fit.shape, fit.scale]), 1e-4
    curve = np.empty((2, 2))
    for a in range(2):
        for b in range(2):
            e, f = np.eye(2)[a] * step, np.eye(2)[b] * step
            curve[a, b] = (minus(best + e + f) - minus(best + e - f) - minus(best - e + f) + minus(best - e - f)) / (
                4 * step**2
            )
    way = np.array([-np.log(-np.log(0.9)) / fit.shape, 1.0])
    variance = way @ np.linalg.inv(curve) @ way
    tenth = bounds_of(fit)[2]
    assert np.log(tenth.high / tenth.value) == pytest.approx(norm.ppf(0.975) * np.sqrt(variance), rel=0.02)
    assert minimize(minus, best).fun >= minus(best) - 1e-4


def lives(*rows):
    return [PartLife("shaft-seal", hours, mode) for hours, mode in rows]


def test_two_failures_are_too_few_to_tell():
    (found,) = lives_of_parts(lives((4000, "ELP"), (6000, "ELP"), (9000, None)))[:1]
    assert found.reading == "too-few"
    assert found.b10 is None
    assert "Too few failures to tell" in found.words


def test_parts_that_still_run_never_make_a_life_shorter():
    failed = [(4200, "ELP"), (6100, "ELP"), (7800, "ELP"), (9500, "ELP"), (11200, "ELP")]
    whole = lives_of_parts(lives(*failed, (3000, None), (8000, None), (12000, None), (12000, None)))
    # Five failures and four that ran on: lifelines and reliability 0.9.0 give 2.8804, 11,238.6 and a B10 of 5,145.3.
    assert whole[0].shape.value == pytest.approx(2.8804, abs=1e-4)
    assert whole[0].scale.value == pytest.approx(11_238.6, abs=0.1)
    assert whole[0].b10.value == pytest.approx(5145.3, abs=0.1)
    assert whole[0].b10.low == pytest.approx(2820.56, rel=1e-3)
    assert whole[0].b10.high == pytest.approx(9386.08, rel=1e-3)
    assert whole[0].reading == "wear-out"


def test_a_seal_that_failed_in_another_way_only_lasted_longer_as_far_as_leaking_goes():
    rows = lives((4200, "ELP"), (6100, "ELP"), (7800, "ELP"), (9500, "VIB"), (11200, None))
    by_mode = {one.mode: (one.failures, one.censored) for one in lives_of_parts(rows)}
    assert by_mode == {"": (4, 1), "ELP": (3, 2), "VIB": (1, 4)}


def read(ages):
    return life_of_mode("seal", "", np.array(ages, dtype=float), np.ones(len(ages), bool)).reading


def quantiles(shape, count):
    return weibull_min(shape, scale=8000).ppf((np.arange(count) + 0.5) / count)


@pytest.mark.parametrize(
    ("shape", "count", "reading"),
    [(0.6, 60, "early"), (1.0, 40, "chance"), (3.0, 20, "wear-out"), (1.5, 4, "not-told")],
)
def test_the_shape_is_read_in_plain_words(shape, count, reading):
    """Ages at even chances of a Weibull law of that shape, scipy.stats.weibull_min."""
    assert read(quantiles(shape, count)) == reading


def test_failures_at_one_age_have_a_shape_without_bounds():
    assert read([5000.0] * 4) == "alike"


def test_what_nobody_coded_is_one_way_of_failing():
    (found,) = lives_of_parts(lives((4000, "not-coded"), (6000, "not-coded"), (9000, "not-coded"), (9500, None)))
    assert (found.mode, found.failures) == ("", 3)


def test_a_way_of_failing_is_told_in_words_and_code() -> None:
    told = life_of_mode("bearing-de", "VIB/2.6/5.1", np.array([100.0]), np.array([True])).words
    assert told.startswith("bearing, drive end, vibrates too much, fatigue, rolling contact fatigue (VIB/2.6/5.1): ")
    assert "shaft seal, hard and cracked: " in life_of_mode(
        "shaft-seal", "hard and cracked", np.array([1.0]), np.array([True])
    ).words  # fmt: skip
