"""Limits as procedures write them."""

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


def test_a_torque_comes_with_passes_order_and_caution() -> None:
    # ISO 898-1:2013 proof load of M12 8.8, 75 % of it at K 0.20: 88.0 N m.
    found = resolve({**TORQUE, "screws": 8}, {})
    assert (found.lower, found.upper, found.unit) == (Decimal("79.2"), Decimal("96.8"), "N*m")
    assert "26.4, 52.8, 88 N·m" in found.words
    assert "1-5-3-7-2-6-4-8" in found.words
    assert "maker's torque rules" in found.words


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
