"""Vibration zones of pumps."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.vibration import CATEGORIES, ZONES, OutsideScope, displacement, warnings, zone_end, zone_of

POWERS = [Decimal(15), Decimal(200), Decimal("200.1"), Decimal(900)]


@pytest.mark.parametrize(
    ("velocity", "category", "power", "zone"),
    [
        # ISO 10816-7:2009, annex A, zone boundaries (value from memory).
        ("3.6", "I", "15", "B"),
        ("3.6", "II", "15", "B"),
        ("5.2", "I", "250", "C"),
        ("2.5", "I", "90", "A"),
        ("9.6", "II", "250", "D"),
        # A value on the boundary belongs to the better zone (common practice, no source).
        ("4.0", "I", "90", "B"),
    ],
)
def test_a_velocity_lies_in_its_zone(velocity: str, category: str, power: str, zone: str) -> None:
    assert zone_of(Decimal(velocity), category, Decimal(power)) == zone


@pytest.mark.parametrize("category", CATEGORIES)
@pytest.mark.parametrize("power", POWERS)
def test_alarm_and_trip_are_five_quarters_of_the_ends_of_zones_b_and_c(category: str, power: Decimal) -> None:
    # ISO 10816-7:2009, operational limits: alarm about 1.25 times B/C, trip about 1.25 times C/D (value from memory).
    found = warnings(category, power)
    assert float(found.alarm) == pytest.approx(1.25 * float(zone_end("B", category, power)), abs=0.06)
    assert float(found.trip) == pytest.approx(1.25 * float(zone_end("C", category, power)), abs=0.06)


@pytest.mark.parametrize("power", ["0.75", "1", "0", "NaN"])
def test_pumps_up_to_1_kw_are_not_judged(power: str) -> None:
    # ISO 10816-7:2009, scope: above 1 kW.
    with pytest.raises(OutsideScope):
        zone_end("B", "I", Decimal(power))


def test_what_is_no_zone_category_or_velocity_is_refused() -> None:
    with pytest.raises(OutsideScope, match="Zone 'D'"):
        zone_end("D", "I", Decimal(15))
    with pytest.raises(OutsideScope, match="Category 'III'"):
        zone_of(Decimal(1), "III", Decimal(15))
    with pytest.raises(OutsideScope, match="negative"):
        zone_of(Decimal(-1), "I", Decimal(15))


def test_a_vibration_once_per_turn_has_this_displacement() -> None:
    # Harmonic motion, s = 2 sqrt(2) v/(2 pi n/60): 4.0 mm/s r.m.s. at 2900 rpm are 37.3 um peak to peak.
    assert round(displacement(Decimal("4.0"), Decimal(2900)), 1) == Decimal("37.3")
    with pytest.raises(OutsideScope):
        displacement(Decimal(4), Decimal(0))


@given(
    velocities=st.tuples(*[st.decimals(min_value=0, max_value=20, places=2)] * 2),
    category=st.sampled_from(CATEGORIES),
    power=st.sampled_from(POWERS),
)
def test_more_vibration_is_never_a_better_zone(
    velocities: tuple[Decimal, Decimal], category: str, power: Decimal
) -> None:
    calm, rough = sorted(velocities)
    zones = [ZONES.index(zone_of(one, category, power)) for one in (calm, rough)]
    assert zones == sorted(zones)
    # Category I asks for more than category II.
    assert zone_of(rough, "I", power) >= zone_of(rough, "II", power)
