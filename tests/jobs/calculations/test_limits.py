"""Limits as procedures write them."""

import math
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.limits import LimitUnresolvable, check_rule, resolve

PUMP: dict[str, Any] = {
    "bearing_bore_mm": Decimal(50),
    "shaft_diameter_at_seal_mm": Decimal(35),
    "rated_power_kw": Decimal("18.5"),
    "rated_speed_rpm": Decimal(2900),
    "wear_ring_diameter_mm": Decimal(95),
    "temperature_max_c": None,
}
TORQUE = {
    "kind": "tightening",
    "thread": "M12",
    "property_class": "8.8",
    "nut_factor": "0.20",
    "share_of_proof": "0.75",
    "within_percent": "10",
}


def test_numbers_stand_as_written() -> None:
    found = resolve({"kind": "numbers", "upper": "0.05", "unit": "mm"}, {})
    assert (found.lower, found.upper, found.unit, found.words) == (None, Decimal("0.05"), "mm", "At most 0.05 mm.")


def test_numbers_need_no_kind_and_may_leave_the_unit_to_the_characteristic() -> None:
    found = resolve({"lower": -5, "upper": "12.5"}, {})
    assert (found.lower, found.upper, found.unit) == (Decimal(-5), Decimal("12.5"), "")


def test_a_bearing_seat_follows_the_bore_of_the_bearing_in_the_kit() -> None:
    # ISO 286-2:2010, 50 k5 +13/+2; with ISO 492 normal class 0/-12 an interference of 2 to 25 um.
    found = resolve({"kind": "iso-286", "class": "k5", "nominal_from": "bearing_bore_mm"}, PUMP)
    assert (found.lower, found.upper, found.unit) == (Decimal("50.002"), Decimal("50.013"), "mm")
    assert "+13/+2 µm" in found.words
    assert "+2 to +25 µm interference" in found.words
    assert found.source.startswith("ISO 286-1:2010; ISO 492")


def test_a_housing_has_its_size_written_out() -> None:
    # ISO 286-2:2010, 90 H7 +35/0.
    found = resolve({"iso-286": {"class": "H7", "nominal": 90}}, PUMP)
    assert (found.lower, found.upper, found.source) == (Decimal(90), Decimal("90.035"), "ISO 286-1:2010")


def test_vibration_is_limited_by_the_power_of_the_model() -> None:
    # ISO 10816-7:2009, category II: end of zone B 5.1 mm/s up to 200 kW, 6.1 above (value from memory).
    rule = {"kind": "iso-10816-7", "category": "II", "zone": "B"}
    found = resolve(rule, PUMP)
    assert (found.lower, found.upper, found.unit) == (None, Decimal("5.1"), "mm/s")
    assert resolve(rule, {"rated_power_kw": Decimal(250)}).upper == Decimal("6.1")


def test_the_seat_of_a_seal_follows_the_shaft() -> None:
    # Common practice, no source.
    rule = {"kind": "seal-seat", "check": "chamber-concentricity", "size_from": "shaft_diameter_at_seal_mm"}
    found = resolve(rule, PUMP)
    assert (found.upper, found.unit, found.source) == (Decimal("0.035"), "mm", "common practice, no source")
    assert resolve({"kind": "seal-seat", "check": "shaft-run-out"}, {}).upper == Decimal("0.05")
    # +0/-0.05 mm: neither too thin nor above its nominal diameter.
    found = resolve({"kind": "seal-seat", "check": "shaft-undersize"}, {})
    assert (found.lower, found.upper) == (0, Decimal("0.05"))


def test_a_torque_comes_with_passes_order_and_caution() -> None:
    # ISO 898-1:2013 proof load of M12 8.8, 75 % of it at K 0.20: 88.0 N m.
    found = resolve({**TORQUE, "screws": 8}, {})
    assert (found.lower, found.upper, found.unit) == (Decimal("79.2"), Decimal("96.8"), "N*m")
    assert "26.4, 52.8, 88 N·m" in found.words
    assert "1-5-3-7-2-6-4-8" in found.words
    assert "maker's torque rules" in found.words


@pytest.mark.parametrize(
    ("rule", "lower", "upper", "unit"),
    [
        # API 610 / ISO 13709 table 6: 95 mm, 0.35 mm as new; renewed at twice that (common practice, no source).
        ({"diameter": 95}, None, "0.70", "mm"),
        ({"diameter_from": "wear_ring_diameter_mm", "factor": "1.5"}, None, "0.525", "mm"),
        ({"diameter": 95, "as_new": "0.6"}, None, "1.2", "mm"),
        ({"diameter": 95, "state": "new"}, "0.35", None, "mm"),
        ({"diameter": 95, "state": "new", "galls_or_hot": True}, "0.475", None, "mm"),
    ],
)
def test_wear_rings_are_renewed_at_a_multiple_of_their_clearance_as_new(
    rule: dict[str, Any], lower: str | None, upper: str | None, unit: str
) -> None:
    found = resolve({"kind": "wear-ring", **rule}, PUMP)
    expected = tuple(None if one is None else Decimal(one) for one in (lower, upper))
    assert (found.lower, found.upper, found.unit) == (*expected, unit)


def test_a_bearing_before_mounting_has_the_clearance_of_its_group() -> None:
    # ISO 5753-1:2009, deep groove, bore over 40 up to 50 mm: CN 6 to 23, C3 18 to 36 um (value from memory).
    rule = {"kind": "bearing-clearance", "bearing": "deep-groove-ball", "bore_from": "bearing_bore_mm"}
    assert (resolve(rule, PUMP).lower, resolve(rule, PUMP).upper) == (6, 23)
    found = resolve({**rule, "group": "C3"}, PUMP)
    assert (found.lower, found.upper, found.unit) == (18, 36, "um")


def test_residual_unbalance_follows_the_speed_of_the_model() -> None:
    # ISO 21940-11:2016, G 6.3, 8 kg at 2900 rpm: 166.0 g mm, half of it in each plane.
    rule = {"kind": "residual-unbalance", "grade": 6.3, "mass_kg": 8}
    whole = 6.3 * 8 * 60_000 / (2 * math.pi * 2900)
    one, both = resolve(rule, PUMP).upper, resolve({**rule, "planes": "both"}, PUMP).upper
    assert one is not None
    assert both is not None
    assert (round(one, 1), round(both, 1)) == (Decimal("83.0"), Decimal("166.0"))
    assert float(one) == pytest.approx(whole / 2, abs=2e-6)
    assert float(both) == pytest.approx(whole, abs=2e-6)


def test_a_small_rotor_may_keep_no_more_than_the_formula_says() -> None:
    # ISO 21940-11:2016, U = 1000 G m / (2 pi n / 60): G 0.4, 0.1 kg at 2900 rpm keeps 0.0659 g mm a plane, not 0.1.
    found = resolve({"kind": "residual-unbalance", "grade": "0.4", "mass_kg": "0.1"}, PUMP)
    assert found.upper is not None
    allowed = 0.4 * 0.1 * 60_000 / (2 * math.pi * 2900) / 2
    assert allowed - 2e-6 < float(found.upper) <= allowed
    assert "at most 0.0658 g·mm" in found.words
    tiny = resolve({"kind": "residual-unbalance", "grade": "0.4", "mass_kg": "0.05"}, PUMP)
    assert tiny.upper is not None
    assert tiny.upper > 0


@pytest.mark.parametrize(
    ("rule", "upper"),
    [
        # Common practice, no source: up to 3000 rpm.
        ({"of": "offset"}, "0.06"),
        ({"of": "offset", "quality": "excellent"}, "0.03"),
        ({"of": "gap", "diameter": 150}, "0.06"),
        ({"of": "spacer", "length": 200}, "0.14"),
        ({"of": "soft-foot"}, "0.06"),
    ],
)
def test_alignment_is_limited_either_way(rule: dict[str, Any], upper: str) -> None:
    found = resolve({"kind": "alignment", **rule}, PUMP)
    assert (found.lower, found.upper, found.unit) == (-Decimal(upper), Decimal(upper), "mm")
    assert found.source == "common practice, no source"


def test_angularity_is_limited_in_the_unit_in_which_dials_tell_it() -> None:
    # Common practice, no source: up to 3000 rpm.
    found = resolve({"kind": "alignment", "of": "angularity"}, PUMP)
    assert (found.lower, found.upper, found.unit) == (Decimal("-0.04"), Decimal("0.04"), "mm/100mm")
    assert "0.04 mm for each 100 mm" in found.words


@pytest.mark.parametrize(
    ("of", "guaranteed", "lower", "upper", "unit"),
    [
        # ISO 9906:2012 table 8, grade 2B (value from memory).
        ("flow", "100", "92", "108", "m3/h"),
        ("head", "32", "30.4", "33.6", "m"),
        ("power", "11", None, "11.88", "kW"),
        ("efficiency", "75", "71.25", None, "%"),
    ],
)
def test_what_a_pump_delivers_is_limited_by_its_grade(
    of: str, guaranteed: str, lower: str | None, upper: str | None, unit: str
) -> None:
    found = resolve({"kind": "iso-9906", "grade": "2B", "of": of, "guaranteed": guaranteed}, {})
    expected = tuple(None if one is None else Decimal(one) for one in (lower, upper))
    assert (found.lower, found.upper, found.unit) == (*expected, unit)
    # 4.4.3: flow and head are arms of one cross, which the measured curve need only touch.
    assert ("met where either" in found.words) == (of in {"flow", "head"})


@pytest.mark.parametrize(
    "rule",
    [
        {"kind": "wear-ring"},
        {"kind": "wear-ring", "diameter": 0},
        {"kind": "wear-ring", "diameter": 95, "factor": 9},
        {"kind": "wear-ring", "diameter": 95, "state": "old"},
        {"kind": "wear-ring", "diameter": 95, "state": "new", "factor": 2},
        {"kind": "wear-ring", "diameter": 95, "galls_or_hot": "yes"},
        {"kind": "bearing-clearance", "bearing": "square", "bore": 50},
        {"kind": "bearing-clearance", "bearing": "deep-groove-ball", "bore": 5000},
        {"kind": "bearing-clearance", "bearing": "deep-groove-ball", "bore": 50, "group": "C9"},
        {"kind": "residual-unbalance", "grade": "7", "mass_kg": 8},
        {"kind": "residual-unbalance", "grade": "6.3", "mass_kg": 0},
        {"kind": "residual-unbalance", "grade": "6.3", "mass_kg": 8, "planes": "three"},
        {"kind": "alignment", "of": "mood"},
        {"kind": "alignment", "of": "gap"},
        {"kind": "alignment", "of": "offset", "diameter": 100},
        {"kind": "alignment", "of": "angularity", "diameter": 100},
        {"kind": "alignment", "of": "offset", "quality": "good enough"},
        {"kind": "iso-9906", "grade": "4X", "of": "head", "guaranteed": 32},
        {"kind": "iso-9906", "grade": ["2B"], "of": "head", "guaranteed": 32},
        {"kind": "iso-9906", "grade": "2B", "of": "noise", "guaranteed": 32},
        {"kind": "iso-9906", "grade": "2B", "of": "head", "guaranteed": -1},
    ],
)
def test_a_limit_that_cannot_be_is_refused_when_it_is_written(rule: dict[str, Any]) -> None:
    with pytest.raises(LimitUnresolvable):
        check_rule(rule)


def test_a_pump_too_fast_for_the_table_of_alignment_is_told() -> None:
    with pytest.raises(LimitUnresolvable, match="6000 rpm"):
        resolve({"kind": "alignment", "of": "offset"}, {"rated_speed_rpm": Decimal(9000)})


@pytest.mark.parametrize("rule", [{}, {"kind": "none"}])
def test_without_limits_a_value_is_recorded_and_the_sheet_says_so(rule: dict[str, Any]) -> None:
    found = resolve(rule, PUMP)
    assert (found.lower, found.upper) == (None, None)
    assert "not judged" in found.words


@pytest.mark.parametrize(
    ("rule", "data"),
    [
        ({"kind": "iso-286", "class": "k5", "nominal_from": "bearing_bore_mm"}, {}),
        ({"kind": "iso-286", "class": "k5", "nominal_from": "bearing_bore_mm"}, {"bearing_bore_mm": Decimal(2)}),
        ({"kind": "iso-10816-7", "category": "I", "zone": "A"}, {"rated_power_kw": None}),
        ({"kind": "iso-10816-7", "category": "I", "zone": "A"}, {"rated_power_kw": Decimal("0.5")}),
    ],
)
def test_what_is_not_known_of_the_pump_is_said_and_not_guessed(rule: dict[str, Any], data: dict[str, Any]) -> None:
    check_rule(rule)
    with pytest.raises(LimitUnresolvable):
        resolve(rule, data)


@pytest.mark.parametrize(
    "rule",
    [
        "0.05",
        {"kind": "about right"},
        {"kind": ["numbers"]},
        {"upper_limit": "0.05"},
        {"kind": "numbers"},
        {"kind": "numbers", "upper": "0,05"},
        {"kind": "numbers", "upper": True},
        {"kind": "numbers", "upper": "NaN"},
        {"kind": "numbers", "lower": 2, "upper": 1},
        {"kind": "numbers", "upper": 1, "unit": "thou"},
        {"kind": "numbers", "upper": 1, "zone": "A"},
        {"numbers": {"upper": 1}, "iso-286": {"class": "k5", "nominal": 50}},
        {"kind": "iso-286", "class": "k5"},
        {"kind": "iso-286", "nominal": 50},
        {"kind": "iso-286", "class": "q5", "nominal": 50},
        {"kind": "iso-286", "class": "k5", "nominal": 5000},
        {"kind": "iso-286", "class": "k5", "nominal": 50, "nominal_from": "bearing_bore_mm"},
        {"kind": "iso-286", "class": "k5", "nominal_from": "bearing_boar_mm"},
        {"kind": "iso-286", "class": "k5", "nominal_from": "temperature_max_c"},
        {"kind": "iso-10816-7", "category": "III", "zone": "A"},
        {"kind": "iso-10816-7", "category": "I", "zone": "D"},
        {"kind": "iso-10816-7", "category": "I"},
        {"kind": "seal-seat", "check": "shine"},
        {"kind": "seal-seat", "check": "chamber-concentricity"},
        {"kind": "seal-seat", "check": "shaft-run-out", "size": 40},
        {**TORQUE, "thread": "M13"},
        {**TORQUE, "within_percent": 0},
        {**TORQUE, "within_percent": 40},
        {**TORQUE, "screws": "8.5"},
        {**TORQUE, "screws": 2},
    ],
)
def test_a_rule_that_cannot_be_used_is_refused_before_it_is_published(rule: Any) -> None:
    with pytest.raises(LimitUnresolvable):
        check_rule(rule, PUMP)


@pytest.mark.parametrize(
    "rule",
    [
        {},
        {"lower": "0.1"},
        {"kind": "numbers", "lower": "0.1", "upper": "0.1", "unit": "degC"},
        {"kind": "iso-286", "class": "js6", "nominal_from": "shaft_diameter_at_seal_mm"},
        {"iso-10816-7": {"category": "I", "zone": "C"}},
        {"kind": "seal-seat", "check": "chamber-face-run-out", "size": "110"},
        TORQUE,
    ],
)
def test_a_sound_rule_passes(rule: dict[str, Any]) -> None:
    check_rule(rule, PUMP)


@given(
    bore=st.integers(4, 500),
    tolerance_class=st.sampled_from(["g6", "h6", "j6", "k5", "k6", "m6", "n6", "p6", "H7", "J7", "K7", "P7"]),
)
def test_limits_of_a_class_are_in_order_and_near_the_nominal_size(bore: int, tolerance_class: str) -> None:
    found = resolve({"kind": "iso-286", "class": tolerance_class, "nominal": bore}, {})
    assert found.lower is not None
    assert found.upper is not None
    assert found.lower < found.upper
    assert max(abs(found.lower - bore), abs(found.upper - bore)) < Decimal("0.2")
