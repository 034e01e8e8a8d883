"""What wear does to the overhauls that a site expects: of two chances the larger one, never both together."""

import numpy as np
import pytest
from scipy.stats import poisson_binom

from jobs.calculations.life_families import FamilyFit
from jobs.calculations.overhaul_chances import chance_of_overhaul
from jobs.calculations.overhaul_forecast import SitePumps, Uses, forecast_site
from jobs.calculations.weibull import WeibullFit

SHAPE, SCALE = 3.0, 16_000.0
AGES = np.array([500.0, 9000.0, 14_000.0])
ENDS = np.array([50.0, 100.0, 150.0])
FIT = FamilyFit(
    WeibullFit(SHAPE, SCALE, 12, 40, (0.0, 0.0, 0.0)), 12, 40, "own", "", np.array([[SHAPE, SCALE]] * 20)
)  # fmt: skip


def forecast(worn):
    pumps = SitePumps(["a"] * 3, AGES, np.full(3, 20.0), np.zeros(3), worn)
    uses = Uses(np.arange(3), np.zeros(3, dtype=int), np.ones(3))
    return forecast_site(pumps, uses, {"a": FIT}, ENDS, np.zeros((1, 3), dtype=int))[0]


def life():
    return np.array([chance_of_overhaul(age, 20 * ENDS, SHAPE, SCALE) for age in AGES])


def test_a_ring_near_its_limit_brings_its_pump_forward():
    """Against scipy.stats.poisson_binom of the larger chance of each pump, scipy 1.17."""
    worn = np.array([[0.0, 0.0, 0.0], [0.30, 0.60, 0.95], [0.0, 0.0, 0.01]])
    found, chances = forecast(worn), np.maximum(life(), worn)
    for place, period in enumerate(found.periods):
        assert period.mean_until == pytest.approx(chances[:, place].sum())
        law = poisson_binom(np.diff(chances, axis=1, prepend=0.0)[:, place])
        assert period.none == pytest.approx(law.pmf(0))
    assert found.periods[2].q95_until == poisson_binom(chances[:, 2]).ppf(0.95)
    assert [[pump for pump, *_ in one] for one in found.sooner] == [[1], [1], [1]]
    assert found.sooner[2][0][1:] == pytest.approx((life()[1, 2], 0.95))


def test_wear_that_comes_later_than_the_life_changes_nothing():
    calm, worn = forecast(None), forecast(life() / 2)
    assert [one.mean for one in worn.periods] == pytest.approx([one.mean for one in calm.periods])
    assert worn.sooner == [[], [], []]
