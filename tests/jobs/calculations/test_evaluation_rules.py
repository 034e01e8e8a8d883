"""What rules ask for, and what an author may say beforehand."""

from decimal import Decimal
from typing import Any

import pytest

from jobs.calculations.evaluation import check_characteristic
from jobs.calculations.evaluation_rules import (
    RULES_OF_EVALUATION,
    SetUpUnusable,
    arranged,
    asked_of,
    completed,
    reads_with_two,
    result_unit,
)
from jobs.calculations.readings import RULES, ReadingsUnusable

PLACES = {"places": ["top", "right", "bottom", "left"]}


def numbers(*texts: str) -> list[Decimal]:
    return [Decimal(text) for text in texts]


def test_every_rule_says_what_it_asks_for() -> None:
    for name, rule in RULES_OF_EVALUATION.items():
        asked = asked_of(name, 2, {}, "mm")
        assert asked["groups"], name
        assert asked["words"] == rule.words, name
        assert all(one["words"] for one in asked["given"]), name


def test_an_app_asks_for_four_places_of_each_dial_and_the_sag() -> None:
    asked = asked_of("reverse-indicator", 1, {"plane_distance_mm": "120"}, "mm")
    assert [one["name"] for one in asked["groups"]] == ["stationary_hub", "movable_hub"]
    assert asked["groups"][0]["places"] == ["top", "right", "bottom", "left"]
    assert asked["groups"][0]["count"] == 4
    needed = [one["name"] for one in asked["given"] if one["needed"]]
    assert needed == ["sag_mm"]


def test_what_the_set_up_fixes_is_not_asked_for() -> None:
    asked = asked_of("diameter", 3, {"temperature_c": "20", "material": "bronze"}, "mm")
    assert {"temperature_c", "material"}.isdisjoint(one["name"] for one in asked["given"])


def test_places_named_by_the_author_are_asked_for_in_that_order() -> None:
    group = asked_of("total-indicator-reading", 4, PLACES, "mm")["groups"][0]
    assert (group["name"], group["places"]) == (None, ["top", "right", "bottom", "left"])
    by_name = {"left": Decimal(4), "top": Decimal(1), "bottom": Decimal(3), "right": Decimal(2)}
    assert arranged("total-indicator-reading", 4, PLACES, by_name) == {"": tuple(numbers("1", "2", "3", "4"))}


@pytest.mark.parametrize(
    ("rule", "count", "raw", "place"),
    [
        ("mean", 3, numbers("1", "2"), ""),
        ("mean", 2, {"top": Decimal(1)}, ""),
        ("diametral-clearance", 1, numbers("1"), ""),
        ("diametral-clearance", 1, {"bore": numbers("1")}, "/shaft"),
        ("diametral-clearance", 1, {"bore": numbers("1"), "shaft": numbers("1", "2")}, "/shaft"),
        ("diametral-clearance", 1, {"bore": numbers("1"), "shaft": ["1"]}, "/shaft/0"),
        ("rim-and-face", 1, {"rim": {"top": Decimal(0)}, "face": numbers("0", "0", "0", "0")}, "/rim/right"),
        ("rim-and-face", 1, {"rim": numbers("0"), "face": numbers("0", "0", "0", "0")}, "/rim"),
        ("rim-and-face", 1, {"rim": {"above": Decimal(0)}, "face": numbers("0", "0", "0", "0")}, "/rim"),
        ("taper", 1, {"first_end": numbers("1"), "middle": numbers("1")}, ""),
    ],
)
def test_readings_that_are_not_asked_for_are_refused_at_their_place(
    rule: str, count: int, raw: Any, place: str
) -> None:
    with pytest.raises(ReadingsUnusable) as refused:
        arranged(rule, count, {}, raw)
    assert refused.value.place == place


def test_what_is_fixed_beforehand_is_not_given_again() -> None:
    with pytest.raises(SetUpUnusable, match="fixed as 120") as refused:
        completed("reverse-indicator", {"plane_distance_mm": "120"}, {"plane_distance_mm": "100", "sag_mm": "0"})
    assert refused.value.place == "plane_distance_mm"


@pytest.mark.parametrize(
    ("rule", "sent", "place"),
    [
        ("mean", {"sag_mm": "0"}, "sag_mm"),
        ("rim-and-face", {"sag_mm": "0"}, "face_diameter_mm"),
        ("rim-and-face", {"face_diameter_mm": "100"}, "sag_mm"),
        ("rim-and-face", {"face_diameter_mm": "0", "sag_mm": "0"}, "face_diameter_mm"),
        ("rim-and-face", {"face_diameter_mm": "wide", "sag_mm": "0"}, "face_diameter_mm"),
        ("rim-and-face", {"face_diameter_mm": "NaN", "sag_mm": "0"}, "face_diameter_mm"),
        ("rim-and-face", {"face_diameter_mm": "100", "sag_mm": "0", "judged": "angularity"}, "judged"),
        ("rim-and-face", {"face_diameter_mm": "100", "sag_mm": "0", "dial_on": "floor"}, "dial_on"),
        ("diameter", {"temperature_c": "-300"}, "temperature_c"),
        ("diameter", {"temperature_c": "20", "temperature_half_width_k": "-1"}, "temperature_half_width_k"),
        ("diameter", {"temperature_c": "20", "material": "cheese"}, "material"),
    ],
)
def test_what_is_given_must_be_asked_for_and_make_sense(rule: str, sent: dict[str, str], place: str) -> None:
    with pytest.raises(SetUpUnusable) as refused:
        completed(rule, {}, sent)
    assert refused.value.place == place


def test_defaults_stand_in_for_what_nobody_says() -> None:
    found = completed("rim-and-face", {"face_diameter_mm": 100}, {"sag_mm": "-0.04"})
    assert (found["closure_tolerance_mm"], found["dial_on"], found["judged"]) == (Decimal("0.03"), "movable", "offset")
    assert "front_foot_mm" not in found


@pytest.mark.parametrize(
    ("rule", "readings", "set_up", "unit", "place"),
    [
        ("median", 1, {}, "mm", "rule"),
        ("single", 2, {}, "mm", "readings"),
        ("range", 1, {}, "mm", "readings"),
        ("mean", 201, {}, "mm", "readings"),
        ("mean", 3, {"material": "steel"}, "mm", "material"),
        ("mean", 3, {"places": ["a", "b"]}, "mm", "places"),
        ("mean", 2, {"places": ["a", "a"]}, "mm", "places"),
        ("mean", 1, {"places": "a"}, "mm", "places"),
        ("rim-and-face", 4, PLACES, "mm", "places"),
        ("rim-and-face", 3, {}, "mm", "readings"),
        ("rim-and-face", 4, {"judged": "wobble"}, "mm", "judged"),
        ("rim-and-face", 4, {"judged": "angularity"}, "mm", "unit"),
        ("rim-and-face", 4, {"judged": "offset"}, "mm/100mm", "unit"),
        ("diametral-clearance", 2, {}, "degC", "unit"),
        ("light-bands", 1, {"wavelength_um": "0"}, "um", "wavelength_um"),
        ("light-bands", 1, {}, "piece", "unit"),
    ],
)
def test_a_characteristic_that_cannot_be_judged_is_found_out_before_it_is_measured(
    rule: str, readings: int, set_up: dict[str, Any], unit: str, place: str
) -> None:
    with pytest.raises(SetUpUnusable) as refused:
        check_characteristic(rule, readings, set_up, unit)
    assert refused.value.place == place


@pytest.mark.parametrize(
    ("rule", "readings", "set_up", "unit"),
    [
        ("mean", 3, {}, "degC"),
        ("total-indicator-reading", 4, PLACES, "mm"),
        ("rim-and-face", 4, {"judged": "angularity", "face_diameter_mm": 110}, "mil/in"),
        ("reverse-indicator", 1, {}, "in"),
        ("light-bands", 2, {}, "um"),
        ("diameter", 3, {"material": "cast-iron"}, "in"),
    ],
)
def test_a_sound_characteristic_passes(rule: str, readings: int, set_up: dict[str, Any], unit: str) -> None:
    check_characteristic(rule, readings, set_up, unit)


def test_angularity_is_told_for_100_mm() -> None:
    assert result_unit("rim-and-face", {"judged": "angularity"}) == "mm/100mm"
    assert result_unit("rim-and-face", {}) == "mm"
    assert result_unit("mean", {}) == ""


def test_two_instruments_take_part_where_two_things_are_read() -> None:
    assert [one for one in RULES if reads_with_two(one)] == ["diametral-clearance", "rim-and-face", "reverse-indicator"]
