"""Rating life and static safety of bearings."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from jobs.calculations.bearing_life import (
    EXPONENTS,
    LifeUnknown,
    equivalent_load,
    life_of_all,
    rating_life,
    static_safety,
)


def life(rating: str, load: str, speed: str, kind: str = "ball", reliability: int = 90):
    return rating_life(
        rating_kn=Decimal(rating),
        load_kn=Decimal(load),
        speed_rpm=Decimal(speed),
        kind=kind,
        reliability_percent=reliability,
    )


def test_a_roller_bearing_loaded_with_a_tenth_of_its_rating_lasts_three_years() -> None:
    # ISO 281:2007, 7.3: (C/P)^(10/3); 10^(10/3) = 2154.4 million revolutions, at 1450 rpm 24 764 h.
    found = life("10", "1", "1450", "roller")
    assert round(found.l10_million, 1) == Decimal("2154.4")
    assert abs(found.l10_hours - 24764) < 1


def test_a_ball_bearing_loaded_with_a_quarter_of_its_rating() -> None:
    # ISO 281:2007, 5.3: (C/P)^3; 4^3 = 64 million revolutions, at 1450 rpm 735.6 h.
    found = life("4", "1", "1450")
    assert found.l10_million == 64
    assert round(found.l10_hours, 1) == Decimal("735.6")


def test_radial_and_axial_load_are_joined_to_one() -> None:
    # ISO 281:2007, 5.2: P = X Fr + Y Fa with X 0.56, Y 1.5 of its table 3: 0.56 x 3.0 + 1.5 x 1.2 = 3.48 kN.
    load = equivalent_load(radial_kn=Decimal(3), axial_kn=Decimal("1.2"), x=Decimal("0.56"), y=Decimal("1.5"))
    assert load == Decimal("3.48")
    assert abs(life("25.5", str(load), "2950").l10_hours - 2223) < 1


def test_a_small_axial_load_never_makes_the_bearing_last_longer() -> None:
    # ISO 281:2007, 5.2.1: where Fa/Fr is not above e, P = Fr.
    assert equivalent_load(radial_kn=Decimal(3), axial_kn=Decimal("0.1"), x=Decimal("0.56"), y=Decimal("1.5")) == 3


@pytest.mark.parametrize(
    ("reliability", "factor"), [(90, 1), (95, 0.64), (96, 0.55), (97, 0.47), (98, 0.37), (99, 0.25)]
)
def test_more_reliability_is_less_life(reliability: int, factor: float) -> None:
    # ISO 281:2007 table 12 (value from memory).
    found = life("4", "1", "1450", reliability=reliability)
    assert float(found.reliability_factor) == factor
    assert found.life_hours == found.reliability_factor * found.l10_hours


@pytest.mark.parametrize("reliability", [95, 96, 97, 98, 99])
def test_the_factors_of_reliability_follow_a_weibull_law(reliability: int) -> None:
    # ISO 281:2007 (the background report ISO/TR 1281-2:2008, value from memory): a three-parameter Weibull law with
    # slope 1.5 and a life of 0.05 L10 that all bearings reach.
    least, slope = 0.05, 1.5
    law = least + (1 - least) * (math.log(100 / reliability) / math.log(100 / 90)) ** (1 / slope)
    assert float(life("4", "1", "1450", reliability=reliability).reliability_factor) == pytest.approx(law, abs=0.011)


@pytest.mark.parametrize(("slope", "hours"), [(Decimal(10) / 9, 25665), (Decimal("1.5"), 29939)])
def test_two_bearings_on_a_shaft_last_less_than_either(slope: Decimal, hours: int) -> None:
    # Product of the two Weibull survival functions, 0.9 in all (Lundberg and Palmgren); slope 10/9 for ball bearings,
    # 1.5 in other textbooks (value from memory). Solved by scipy besides.
    lives = [Decimal(40000), Decimal(60000)]
    found = life_of_all(lives, slope)
    assert abs(found - hours) < 2
    survival = lambda time: 0.9 ** sum((time / float(one)) ** float(slope) for one in lives) - 0.9  # noqa: E731
    assert float(found) == pytest.approx(brentq(survival, 1000, 60000), rel=1e-6)


def test_a_bearing_at_rest_carries_the_larger_of_its_two_loads() -> None:
    # ISO 76:2006, 5.2: P0 = 0.6 Fr + 0.5 Fa of a deep groove bearing, not less than Fr: max(2.8, 3) = 3.0; 24 / 3 = 8.
    found = static_safety(
        rating_kn=Decimal(24), radial_kn=Decimal(3), axial_kn=Decimal(2), x0=Decimal("0.6"), y0=Decimal("0.5")
    )
    assert (found.equivalent_load_kn, found.safety) == (3, 8)


@pytest.mark.parametrize(
    "wrong",
    [{"load": "0"}, {"load": "20"}, {"kind": "square"}, {"reliability": 94}],
)
def test_where_the_formula_does_not_hold_no_life_is_told(wrong: dict) -> None:
    # ISO 281:2007 clause 1: up to half the rating (value from memory).
    with pytest.raises(LifeUnknown):
        life(**{"rating": "25.5", "load": "3", "speed": "2950", **wrong})


def test_bearings_without_a_life_or_load_are_refused() -> None:
    with pytest.raises(LifeUnknown):
        life_of_all([Decimal(0), Decimal(5)], Decimal("1.5"))
    with pytest.raises(LifeUnknown):
        static_safety(rating_kn=Decimal(5), radial_kn=Decimal(0), axial_kn=Decimal(0), x0=Decimal(1), y0=Decimal(0))


@given(load=st.decimals("0.1", "10", places=2), kind=st.sampled_from(sorted(EXPONENTS)))
def test_a_tenth_more_load_costs_a_quarter_of_the_life_and_more(load: Decimal, kind: str) -> None:
    # The formula of ISO 281:2007 itself: 1.1^-3 = 0.751, 1.1^(-10/3) = 0.728.
    ratio = (
        life("25.5", str(load * Decimal("1.1")), "2950", kind).l10_hours
        / life("25.5", str(load), "2950", kind).l10_hours
    )
    assert float(ratio) == pytest.approx(1.1 ** -float(EXPONENTS[kind]), rel=1e-9)
