"""Residual unbalance of rotors, and how far coupled shafts may lie off each other."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.alignment_tolerances import AlignmentUnknown, alignment_tolerance, finding
from jobs.calculations.unbalance import GRADES, UnbalanceUnknown, mass_at, residual_unbalance


def unbalance(grade: str, mass: str, speed: str, a: str | None = None, b: str | None = None):
    return residual_unbalance(
        grade=grade,
        mass_kg=Decimal(mass),
        speed_rpm=Decimal(speed),
        a_mm=None if a is None else Decimal(a),
        b_mm=None if b is None else Decimal(b),
    )


@pytest.mark.parametrize(
    ("grade", "mass", "speed", "total"),
    [
        # ISO 21940-11:2016: U = 9549 G m / n in g mm, the formula in its usual numbers.
        ("6.3", "8", "2900", "166.0"),
        ("2.5", "8", "2900", "65.9"),
        ("2.5", "15", "2950", "121.4"),
    ],
)
def test_residual_unbalance_goes_with_mass_and_against_speed(grade: str, mass: str, speed: str, total: str) -> None:
    found = unbalance(grade, mass, speed)
    assert round(found.total_g_mm, 1) == Decimal(total)
    assert float(found.total_g_mm) == pytest.approx(9549 * float(grade) * float(mass) / float(speed), rel=1e-4)


def test_an_impeller_of_8_kg_at_2900_rpm_in_two_planes() -> None:
    # ISO 21940-11:2016, G 6.3: e 20.7 um, half of 166.0 g mm in each plane, 0.92 g at 90 mm.
    found = unbalance("6.3", "8", "2900")
    assert round(found.eccentricity_um, 1) == Decimal("20.7")
    assert round(found.plane_a_g_mm, 1) == round(found.plane_b_g_mm, 1) == Decimal("83.0")
    assert round(mass_at(found.plane_a_g_mm, Decimal(90)), 2) == Decimal("0.92")


def test_the_plane_nearer_to_the_centre_of_mass_takes_more() -> None:
    # ISO 21940-11:2016 clause 7 (value from memory): U_A = U b/(a + b), between 0.3 and 0.7 of the whole.
    found = unbalance("6.3", "8", "2900", "40", "60")
    assert float(found.plane_a_g_mm / found.total_g_mm) == pytest.approx(0.6)
    assert float(unbalance("6.3", "8", "2900", "10", "90").plane_a_g_mm / found.total_g_mm) == pytest.approx(0.7)
    assert float(unbalance("6.3", "8", "2900", "90", "10").plane_a_g_mm / found.total_g_mm) == pytest.approx(0.3)


def test_the_other_rule_in_use_is_told_beside_it() -> None:
    # API 610: U = 6350 W/n g mm for each plane, W the mass on its bearing, "4 W/N"; in all like G 0.66 (value from
    # memory): 9549 x 0.665 = 6350.
    found = unbalance("1", "8", "2900")
    assert found.api_610_plane_a_g_mm == found.api_610_plane_b_g_mm
    both = found.api_610_plane_a_g_mm + found.api_610_plane_b_g_mm
    assert float(both / found.total_g_mm) == pytest.approx(0.665, abs=0.001)


def test_half_a_rotor_rests_on_each_bearing_and_counts_in_its_plane() -> None:
    # The rule as first given, 4 W/N in oz in, W in lb on the bearing (API 610 and 617, value from memory): 1000 lb at
    # 15 000 rpm rest with 500 lb on each bearing, 0.133 oz in for each plane. 1 lb = 0.45359237 kg, 1 oz = 28.349523 g.
    found = unbalance("1", "453.59237", "15000")
    expected = 4 * 500 / 15000 * 28.349523 * 25.4
    assert float(found.api_610_plane_a_g_mm) == pytest.approx(expected, rel=2e-4)


def test_the_other_rule_goes_by_the_weight_on_each_bearing_without_an_end() -> None:
    # Law of the lever: 10 mm from plane A and 90 mm from plane B nine tenths of the rotor rest on A.
    found = unbalance("6.3", "8", "2900", "10", "90")
    whole = found.api_610_plane_a_g_mm + found.api_610_plane_b_g_mm
    assert float(found.api_610_plane_a_g_mm / whole) == pytest.approx(0.9)


@pytest.mark.parametrize(
    "wrong", [("6.4", "8", "2900"), ("6.3", "0", "2900"), ("6.3", "8", "0"), ("6.3", "8", "2900", "0", "0")]
)
def test_what_is_no_rotor_is_refused(wrong: tuple[str, ...]) -> None:
    with pytest.raises(UnbalanceUnknown):
        unbalance(*wrong)


def test_a_mass_on_the_axis_balances_nothing() -> None:
    with pytest.raises(UnbalanceUnknown):
        mass_at(Decimal(5), Decimal(0))


@given(grade=st.sampled_from(GRADES), a=st.integers(1, 900), b=st.integers(1, 900))
def test_the_two_planes_never_keep_more_than_the_rotor_may(grade: str, a: int, b: int) -> None:
    found = unbalance(grade, "8", "2900", str(a), str(b))
    assert float(found.plane_a_g_mm + found.plane_b_g_mm) == pytest.approx(float(found.total_g_mm))


def test_at_3000_rpm_an_offset_of_0_05_mm_is_acceptable_and_no_more() -> None:
    # Common practice, no source: 0.06 acceptable, 0.03 excellent; gap 0.04 and 0.03 for each 100 mm.
    found = alignment_tolerance(Decimal(3000))
    assert finding(Decimal("0.05"), found.offset_mm) == "acceptable"
    assert finding(Decimal("0.03"), found.gap_mm) == "excellent"
    assert finding(Decimal("-0.07"), found.offset_mm) == "not acceptable"


@pytest.mark.parametrize(
    ("speed", "offset", "spacer"),
    [
        # Common practice, no source.
        (750, ("0.19", "0.09"), ("0.25", "0.15")),
        (1500, ("0.09", "0.06"), ("0.12", "0.07")),
        (2900, ("0.06", "0.03"), ("0.07", "0.04")),
        (6000, ("0.03", "0.02"), ("0.03", "0.02")),
    ],
)
def test_faster_shafts_are_aligned_closer(speed: int, offset: tuple[str, str], spacer: tuple[str, str]) -> None:
    found = alignment_tolerance(Decimal(speed))
    assert found.offset_mm == tuple(Decimal(one) for one in offset)
    assert found.spacer_mm == tuple(Decimal(one) for one in spacer)


@pytest.mark.parametrize("speed", ["0", "6001", "NaN"])
def test_speeds_that_no_table_reaches_are_refused(speed: str) -> None:
    with pytest.raises(AlignmentUnknown):
        alignment_tolerance(Decimal(speed))
