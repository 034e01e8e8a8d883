"""Levels of many items at once are those of each item's proposal: reorder point and usual order."""

import datetime
from decimal import Decimal

import numpy as np
import pytest
from scipy import stats

from kits.calculations.demand_history import MonthlyDemand
from kits.calculations.kept_levels import BuyingTerms, kept_levels

TERMS = BuyingTerms(42.0, 9.0, 2.0, 2.0, 184.5, 35.0)


def history(*amounts):
    return MonthlyDemand(datetime.date(2024, 1, 1), tuple(Decimal(one) for one in amounts))


def fill(mean, variance, level, quantity):
    """Mean of P(D <= j) over j = r .. r + Q - 1 (Axsaeter, Inventory Control, 3rd ed., ch. 5; value from memory)."""
    reference = stats.nbinom(mean**2 / (variance - mean), mean / variance)
    return float(np.mean([reference.cdf(one) for one in range(level, level + quantity)]))


def test_the_level_is_the_lowest_point_that_reaches_the_target_and_an_order_above_it():
    """0 in 24 months: a gamma-Poisson rate 0.5 / 24 a month, negative binomial demand by scipy.stats.nbinom; the
    economic quantity sqrt(2 x 35 x 0.25 / 36.9) is below the supplier's minimum 2."""
    found = kept_levels([history(*[0] * 24)], [TERMS], [0.95])[0]
    rate, months = 0.5 / 24, 43 / 30.4375
    variance = rate * months + rate**2 * (9 / 30.4375) ** 2 + rate / 24 * months**2
    point = found.level - 2
    assert found.monthly_use == pytest.approx(rate)
    assert fill(rate * months, variance, point, 2) >= 0.95
    assert point == -1 or fill(rate * months, variance, point - 1, 2) < 0.95


def test_more_use_and_a_higher_target_keep_more():
    busy = history(*[1, 2, 0, 3] * 6)
    quiet, used, safer = kept_levels([history(*[0] * 24), busy, busy], [TERMS] * 3, [0.95, 0.90, 0.99])
    assert quiet.level < used.level < safer.level


def test_what_was_not_kept_for_a_whole_month_has_no_known_use():
    assert kept_levels([history()], [BuyingTerms()], [0.95])[0].monthly_use is None


def test_thousands_a_month_are_not_counted_piece_by_piece():
    """Above a quarter of what could be kept: three deviations above the mean of a normal distribution."""
    found = kept_levels([history(*[9000, 9500, 8800] * 8)], [BuyingTerms()], [0.95])[0]
    assert found.level > 9000 * 61 / 30.4375
    assert kept_levels([], [], []) == []
