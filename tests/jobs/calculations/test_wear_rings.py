"""Clearance of wear rings."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.wear_rings import RingUnknown, least_clearance, ring_clearance


@pytest.mark.parametrize(
    ("diameter", "clearance"),
    [
        # API 610 / ISO 13709:2009 table 6; above 649.99 mm 1 um for each further mm or part (value from memory).
        ("49.99", "0.25"),
        ("50", "0.28"),
        ("95", "0.35"),
        ("125", "0.43"),
        ("649.99", "0.95"),
        ("700", "1.001"),
        # The steps of 25 mm between (value from memory).
        ("430", "0.73"),
        ("580", "0.88"),
    ],
)
def test_a_new_ring_has_at_least_the_clearance_of_the_table(diameter: str, clearance: str) -> None:
    assert least_clearance(Decimal(diameter)) == Decimal(clearance)


def test_galling_materials_and_heat_ask_for_an_eighth_more() -> None:
    # API 610 / ISO 13709:2009, 6.7.4: 0.125 mm more (value from memory).
    assert least_clearance(Decimal(95), galls_or_hot=True) == Decimal("0.475")


def test_a_ring_of_95_mm_at_0_72_mm_is_renewed() -> None:
    # Twice the clearance as new (common practice, no source): 2 x 0.35 = 0.70 mm.
    found = ring_clearance(diameter_mm=Decimal(95), measured_mm=Decimal("0.72"))
    assert (found.renew_above_mm, found.finding) == (Decimal("0.70"), "renew")


def test_the_pumps_own_value_as_new_comes_before_the_table() -> None:
    # Common practice, no source: a water pump follows its maker's value, often larger.
    found = ring_clearance(diameter_mm=Decimal(95), measured_mm=Decimal("0.72"), as_new_mm=Decimal("0.60"))
    assert (found.finding, found.renew_above_mm) == ("keep", Decimal("1.20"))
    assert "1.20 times this pump's own value" in found.words


def test_where_efficiency_counts_rings_are_renewed_earlier() -> None:
    # Common practice, no source: at 1.5 times.
    found = ring_clearance(
        diameter_mm=Decimal(95), measured_mm=Decimal("0.60"), as_new_mm=Decimal("0.35"), factor=Decimal("1.5")
    )
    assert (found.finding, found.renew_above_mm) == ("renew", Decimal("0.525"))


def test_rings_that_would_touch_are_told() -> None:
    assert ring_clearance(diameter_mm=Decimal(95), measured_mm=Decimal("0.20")).finding == "too tight"


def test_without_a_measurement_only_the_limit_is_told() -> None:
    found = ring_clearance(diameter_mm=Decimal(95))
    assert (found.finding, found.words) == ("", "Renew above 0.70 mm, 2 times the standard's least.")


@pytest.mark.parametrize("diameter", ["0", "-5", "NaN"])
def test_what_is_no_ring_is_refused(diameter: str) -> None:
    with pytest.raises(RingUnknown):
        least_clearance(Decimal(diameter))


@given(st.lists(st.decimals("1", "1500", places=2), min_size=2, max_size=2))
def test_a_larger_ring_never_has_less_clearance(diameters: list[Decimal]) -> None:
    small, large = sorted(diameters)
    assert least_clearance(small) <= least_clearance(large)
