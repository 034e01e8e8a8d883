"""Conditions and limits in words, before any pump is known."""

import pytest

from jobs.calculations.limits import KINDS
from jobs.calculations.rules_in_words import KINDS as SAID
from jobs.calculations.rules_in_words import condition_in_words, limits_in_words


@pytest.mark.parametrize(
    ("condition", "words"),
    [
        ({"of": "temperature_max_c", "at_least": 55}, "the hottest the pump gets: at least 55 °C"),
        ({"of": "rated_power_kw", "at_least": 4, "at_most": "15"},
         "the model's rated power: at least 4 kW and at most 15 kW"),
        ({"of": "kit_elastomers", "one_of": ["EPDM", "FKM"]}, "the elastomers that the kit brings: EPDM or FKM"),
        ({"of": "seal_type", "not_one_of": ["packed"]}, "seal type: none of packed"),
        ("shaft_diameter_at_seal >= 40 mm", "shaft_diameter_at_seal >= 40 mm"),
    ],
)  # fmt: skip
def test_a_condition_is_told_in_words(condition, words) -> None:
    assert condition_in_words(condition) == words


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ({"kind": "numbers", "lower": "5", "upper": "40", "unit": "degC"}, "At least 5 and at most 40 °C"),
        ({}, "Recorded, not judged: no limits are set"),
        ({"kind": "iso-286", "class": "k5", "nominal_from": "bearing_bore_mm"},
         "Limits of size after ISO 286: class k5, nominal from the bore of the drive-end bearing in the kit"),
        ({"iso-10816-7": {"category": "I", "zone": "B"}},
         "Vibration after ISO 10816-7, by the model's rated power: category I, zone B"),
        ({"kind": "seal-seat", "check": "shaft-end-play"}, "End play of the shaft on rolling bearings: at most 0.1 mm"),
        ({"kind": "expression", "upper": "2 * as_new_clearance"},
         "Worked out for the pump: upper 2 * as_new_clearance"),
    ],
)  # fmt: skip
def test_limits_are_told_in_words(rule, words) -> None:
    assert limits_in_words(rule) == words


def test_every_kind_that_may_need_a_pump_has_words() -> None:
    assert set(SAID) == set(KINDS) - {"numbers", "none"}
