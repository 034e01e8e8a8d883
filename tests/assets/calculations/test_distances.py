"""How far sites are from each other."""

from decimal import Decimal

import pytest

from assets.calculations.distances import great_circle_km


def place(north, east):
    return Decimal(str(north)), Decimal(str(east))


def test_a_minute_of_latitude_is_a_nautical_mile():
    """International nautical mile: 1.852 km (SI Brochure, 8th edition, table 8); made to be a mean minute of arc."""
    assert great_circle_km(place(45, 0), place("45.01666667", 0)) == pytest.approx(1.852, rel=1e-3)


def test_from_pole_to_equator_is_the_metre_s_first_definition():
    """The metre was made so that this is 10,000 km; on the mean sphere of GRS 80 it is 10,007.557 km."""
    assert great_circle_km(place(90, 0), place(0, 77)) == pytest.approx(10_007.557, abs=0.01)


def test_it_is_the_same_both_ways_and_nothing_from_a_place_to_itself():
    here, there = place("62.0", "-6.8"), place("59.9", "10.7")
    assert great_circle_km(here, there) == pytest.approx(great_circle_km(there, here))
    assert great_circle_km(here, here) == 0


def test_over_the_date_line_it_goes_the_short_way():
    assert great_circle_km(place(0, "179.5"), place(0, "-179.5")) == pytest.approx(111.195, abs=0.01)
