"""Heating a bearing before it goes onto its shaft."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.bearing_heating import HeatingAdvice, heating_advice, temperature_rise
from jobs.calculations.limits_and_fits import SizeOutsideTable


def advice(bore: str, shaft: str, *, room: str = "20", clearance: str = "0", sealed: bool = False) -> HeatingAdvice:
    return heating_advice(
        bore_mm=Decimal(bore),
        shaft_diameter_mm=Decimal(shaft),
        room_temperature_c=Decimal(room),
        extra_clearance_mm=Decimal(clearance),
        sealed=sealed,
    )


@pytest.mark.parametrize(
    ("bore", "shaft", "interference", "rise"),
    [
        # The largest interferences of ISO 286-2:2010 m6, n6 and m6 with the smallest bore of ISO 492, normal class, and
        # linear expansion of steel with 12e-6 per K (value from memory): 37 / (12e-6 x 50 mm) and so on.
        ("50", "50.025", "0.037", "61.7"),
        ("120", "120.045", "0.065", "45.1"),
        ("100", "100.035", "0.055", "45.8"),
    ],
)
def test_the_bore_must_grow_by_the_largest_interference(bore: str, shaft: str, interference: str, rise: str) -> None:
    found = advice(bore, shaft)
    assert found.interference_mm == Decimal(interference)
    assert found.temperature_rise_k == Decimal(rise)
    assert found.target_c == 20 + Decimal(rise)
    assert found.within_ceiling


def test_a_clearance_to_slide_with_asks_for_more_heat() -> None:
    # Same sources: (37 + 20) um / (12e-6 x 50 mm) = 95.0 K.
    found = advice("50", "50.025", clearance="0.020")
    assert (found.temperature_rise_k, found.target_c) == (Decimal("95.0"), Decimal("115.0"))
    assert found.target_c > found.warn_above_c
    assert "check the size of the shaft" in found.sentence


def test_without_a_clearance_the_least_is_told_to_be_the_least() -> None:
    # Common practice, no source: 20 to 30 K above the least, so that the ring does not grip on the way.
    assert "20 to 30 K more" in advice("50", "50.025").sentence
    assert "20 to 30 K more" not in advice("50", "50.025", clearance="0.010").sentence
    # 60 um / (12e-6 x 50 mm) = 100 K: no 20 K are left below 120 degC.
    tight = advice("50", "50.048", room="15")
    assert tight.within_ceiling
    assert "mount swiftly, or use a press" in tight.sentence


def test_a_bore_of_50_mm_grows_by_54_um_from_20_to_110_degrees() -> None:
    # Linear expansion dL = L alpha dT with 12e-6 per K (value from memory): 50 mm x 12e-6 x 90 K.
    assert temperature_rise(Decimal("0.054"), Decimal(50)) == 90


def test_the_colder_the_room_the_lower_the_target() -> None:
    assert advice("50", "50.025", room="5").target_c == advice("50", "50.025", room="20").target_c - 15


def test_an_open_bearing_is_warned_of_above_110_and_never_goes_above_120() -> None:
    # Common practice, no source.
    found = advice("50", "50.025")
    assert (found.warn_above_c, found.ceiling_c) == (110, 120)


def test_a_sealed_bearing_goes_no_higher_than_80() -> None:
    # Common practice, no source: grease and seals set the limit.
    found = advice("50", "50.025", sealed=True)
    assert found.ceiling_c == 80
    assert not found.within_ceiling
    assert found.sentence.startswith("Do not heat")
    assert any("oil bath" in caution for caution in found.cautions)


def test_a_seat_too_large_is_to_be_measured_again_and_not_heated() -> None:
    # 12 um of ISO 492 and a shaft 60 um too large: 72 / (12e-6 x 50 mm) = 120 K.
    found = advice("50", "50.060")
    assert (found.target_c, found.within_ceiling) == (Decimal("140.0"), False)
    assert found.sentence.startswith("Do not heat")


def test_a_wish_for_clearance_gives_way_before_the_ceiling_does() -> None:
    # k5 on 30 mm: 21 um need 58.3 K; with 20 um more it would be 113.9 K and 133.9 degrees.
    found = advice("30", "30.011", clearance="0.020")
    assert (found.target_c, found.within_ceiling) == (Decimal("110.0"), True)
    # 90 K x 12e-6 x 30 mm = 32.4 um of growth, 21 of them taken up.
    assert "11.4 µm are left" in found.sentence


def test_a_loose_seat_is_not_heated() -> None:
    found = advice("50", "49.980", clearance="0.020")
    assert found.interference_mm == Decimal("-0.0080")
    assert (found.temperature_rise_k, found.target_c) == (0, 20)
    assert "loose" in found.sentence


def test_cautions_always_come_with_the_figure() -> None:
    found = advice("50", "50.010")
    words = " ".join(found.cautions)
    assert all(one in words for one in ("gloves", "naked flame", "demagnetise", "shoulder", "local codes"))


@pytest.mark.parametrize("bore", ["0", "0.3", "2000"])
def test_a_bore_outside_the_tables_gets_no_figure(bore: str) -> None:
    with pytest.raises(SizeOutsideTable):
        advice(bore, "50")


@given(
    bore=st.integers(10, 300),
    microns=st.integers(-40, 80),
    room=st.integers(-10, 40),
    clearance=st.integers(0, 60),
    sealed=st.booleans(),
)
def test_nobody_is_told_to_heat_above_the_ceiling(
    bore: int, microns: int, room: int, clearance: int, sealed: bool
) -> None:
    shaft = bore + Decimal(microns) / 1000
    found = advice(str(bore), str(shaft), room=str(room), clearance=str(Decimal(clearance) / 1000), sealed=sealed)
    assert found.within_ceiling == (found.target_c <= found.ceiling_c)
    assert found.within_ceiling or found.sentence.startswith("Do not heat")
    assert found.target_c >= room


@given(bore=st.integers(20, 200), more=st.integers(1, 40))
def test_what_is_advised_lets_the_ring_pass_over_the_shaft(bore: int, more: int) -> None:
    # Linear expansion the other way round: the heated smallest bore is no smaller than the shaft (to the 0.1 K shown).
    found = advice(str(bore), str(bore + Decimal(more) / 1000), clearance="0.010")
    growth = Decimal("0.000012") * bore * (found.temperature_rise_k + Decimal("0.05"))
    assert growth >= found.interference_mm
