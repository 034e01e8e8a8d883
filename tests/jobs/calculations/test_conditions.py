"""Whether a step applies to a pump and its kit. Rules of the shop: common practice, no source."""

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.conditions import ConditionError, applies, validate

PUMP: dict[str, Any] = {
    "elastomer": "EPDM",
    "kit_elastomers": ["EPDM", "FKM"],
    "seal_type": "mechanical",
    "bearing_sealed": "yes",
    "temperature_max_c": Decimal(90),
    "rated_power_kw": None,
}
VARIABLES = dict.fromkeys(PUMP, "")


def test_a_step_without_conditions_applies_without_words() -> None:
    assert applies([], PUMP) == (True, "")


def test_a_step_for_packed_pumps_does_not_apply_to_a_mechanical_seal() -> None:
    does, words = applies([{"of": "seal_type", "one_of": ["packed"]}], PUMP)
    assert not does
    assert words == "Does not apply: seal type is mechanical, not packed."


def test_a_step_for_epdm_applies_to_an_epdm_pump() -> None:
    does, words = applies([{"of": "elastomer", "one_of": ["EPDM", "EPM"]}], PUMP)
    assert does
    assert words == "Applies: elastomer is EPDM, one of EPDM, EPM."


def test_one_elastomer_of_the_kit_is_enough_to_be_one_of_them() -> None:
    assert applies([{"of": "kit_elastomers", "one_of": ["FKM"]}], PUMP)[0]
    assert not applies([{"of": "kit_elastomers", "not_one_of": ["FKM"]}], PUMP)[0]
    assert applies([{"of": "kit_elastomers", "not_one_of": ["NBR"]}], PUMP)[0]


def test_a_kit_without_elastomers_brings_none_of_any() -> None:
    assert applies([{"of": "kit_elastomers", "not_one_of": ["NBR"]}], {"kit_elastomers": []})[0]


@pytest.mark.parametrize(
    ("operator", "operand", "does"),
    [("at_least", 90, True), ("at_least", "90.5", False), ("at_most", 90, True), ("at_most", "60", False)],
)
def test_hot_pumps_ask_for_more(operator: str, operand: Any, does: bool) -> None:
    found, words = applies([{"of": "temperature_max_c", operator: operand}], PUMP)
    assert found is does
    assert "temperature max is 90" in words
    assert words.endswith("°C.")


def test_all_conditions_must_hold() -> None:
    hot_and_packed: list[dict[str, Any]] = [
        {"of": "temperature_max_c", "at_least": 80},
        {"of": "seal_type", "one_of": ["packed"]},
    ]
    assert not applies(hot_and_packed, PUMP)[0]


def test_an_unquoted_yes_of_a_procedure_file_is_the_word_yes() -> None:
    # YAML 1.1 reads an unquoted yes as true.
    assert applies([{"of": "bearing_sealed", "one_of": [True]}], PUMP)[0]
    assert not applies([{"of": "bearing_sealed", "one_of": [False]}], PUMP)[0]


def test_what_is_not_known_is_said_and_not_guessed() -> None:
    with pytest.raises(ConditionError, match="rated_power_kw"):
        applies([{"of": "rated_power_kw", "at_least": 1}], PUMP)


def test_what_is_not_known_does_not_matter_where_another_condition_fails() -> None:
    conditions: list[dict[str, Any]] = [
        {"of": "rated_power_kw", "at_least": 1},
        {"of": "seal_type", "one_of": ["packed"]},
    ]
    assert not applies(conditions, PUMP)[0]


@pytest.mark.parametrize(
    "conditions",
    [
        "seal_type",
        [{}],
        [{"of": "seal_type"}],
        [{"of": "colour", "one_of": ["red"]}],
        [{"of": "seal_type", "is": "packed"}],
        [{"of": "seal_type", "one_of": []}],
        [{"of": "seal_type", "one_of": "packed"}],
        [{"of": "seal_type", "one_of": [None]}],
        [{"of": "seal_type", "at_least": 3}],
        [{"of": "temperature_max_c", "one_of": ["90"]}],
        [{"of": "temperature_max_c", "at_least": "warm"}],
        [{"of": "temperature_max_c", "at_least": True}],
        [{"of": "temperature_max_c", "at_least": "NaN"}],
        [{"of": ["seal_type"], "one_of": ["packed"]}],
        ["packed"],
    ],
)
def test_a_condition_that_cannot_be_read_is_refused_before_it_is_published(conditions: Any) -> None:
    with pytest.raises(ConditionError):
        validate(conditions, VARIABLES)


def test_sound_conditions_pass() -> None:
    validate(
        [{"of": "seal_type", "one_of": ["packed"]}, {"of": "temperature_max_c", "at_least": "60", "at_most": 120}],
        VARIABLES,
    )


@given(st.sampled_from(["EPDM", "NBR", "FKM"]), st.lists(st.sampled_from(["EPDM", "NBR", "FKM"]), min_size=1))
def test_one_of_and_not_one_of_never_both_apply(elastomer: str, words: list[str]) -> None:
    data = {"elastomer": elastomer}
    inside = applies([{"of": "elastomer", "one_of": words}], data)[0]
    assert inside != applies([{"of": "elastomer", "not_one_of": words}], data)[0]
    assert inside == (elastomer in words)
