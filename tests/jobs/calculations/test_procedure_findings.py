"""What is found wrong or doubtful about a procedure. What a workshop expects of one: common practice, no source."""

import copy
from typing import Any

import pytest

from assets.models import Configuration
from jobs.calculations.procedure_findings import findings
from jobs.calculations.procedure_format import SECTIONS, SIGNAL_WORDS
from jobs.calculations.procedure_trade_rules import achieved_by
from jobs.calculations.pump_variables import CONFIGURATIONS
from jobs.models import Section, SignalWord


def step(number: int, title: str, **more: Any) -> dict[str, Any]:
    return {"number": number, "title": title, "instruction": "As the maker says.", **more}


SAFE = {"signal_word": "danger", "caution": "Stored energy kills."}
GAP = {
    "code": "gap",
    "name": "Gap at the wear ring",
    "quantity": "length",
    "unit": "mm",
    "rule": "mean",
    "limits": {"kind": "numbers", "lower": "0.12", "upper": "0.30"},
    "instrument_type": "feeler-gauge",
}


def complete(configuration: str = "close-coupled") -> dict[str, Any]:
    """Nothing is to be said about it."""
    achieves = ["isolate", "lock-and-tag", "prove-dead", "depressurise", "drain", "cool"]
    return {
        "code": "WHOLE",
        "title": "A whole one",
        "configuration": configuration,
        "revision": 1,
        "sections": [
            {"section": "make-safe", "steps": [step(10, "Make safe", achieves=achieves, **SAFE)]},
            {"section": "dismantle", "steps": [step(20, "Open it", achieves=["guards-off"])]},
            {"section": "clean-and-inspect", "steps": [step(30, "Measure", characteristics=[dict(GAP)])]},
            {"section": "assemble", "steps": [step(40, "Seal in", hold_point=True, look_at="the seal's seat")]},
            {"section": "close-up", "steps": [step(50, "Guards", achieves=["guards-on"])]},
            {"section": "test", "steps": [step(60, "Run it", achieves=["start"])]},
        ],
    }


def found_in(document: dict[str, Any]) -> dict[str, str]:
    """Pointer by code of what was found."""
    return {one.code: one.pointer for one in findings(document)}


def test_of_a_complete_procedure_nothing_is_said() -> None:
    assert findings(complete()) == []


def test_a_key_that_is_not_known_is_the_only_thing_said() -> None:
    document = complete()
    document["sections"][0]["steps"][0]["cautoin"] = "Lost?"
    (one,) = findings(document)
    assert (one.pointer, one.severity, one.stops) == ("#/sections/0/steps/0/cautoin", "error", "draft")
    assert "Did you mean caution?" in one.sentence


@pytest.mark.parametrize("left_out", ["isolate", "lock-and-tag", "prove-dead", "depressurise", "drain"])
def test_making_safe_lacks_nothing(left_out: str) -> None:
    document = complete()
    document["sections"][0]["steps"][0]["achieves"].remove(left_out)
    (one,) = findings(document)
    assert (one.code, one.pointer, one.stops) == ("make-safe-incomplete", "#/sections/0", "review")
    assert left_out in one.sentence


def test_waiting_until_it_is_cool_is_asked_after_but_not_demanded() -> None:
    document = complete()
    document["sections"][0]["steps"][0]["achieves"].remove("cool")
    (one,) = findings(document)
    assert (one.code, one.severity) == ("make-safe-cool", "warning")


def test_making_safe_under_a_condition_is_doubted() -> None:
    document = complete()
    document["sections"][0]["steps"][0]["conditions"] = ['seal_type = "packed"']
    assert set(found_in(document)) == {"make-safe-under-condition"}


def test_dead_is_proved_after_isolating_and_pressure_goes_before_draining() -> None:
    document = complete()
    document["sections"][0]["steps"] = [
        step(10, "First", achieves=["prove-dead", "drain", "cool"], **SAFE),
        step(11, "Second", achieves=["isolate", "lock-and-tag", "depressurise"]),
    ]
    found = [(one.code, one.sentence) for one in findings(document)]
    assert [code for code, _ in found] == ["make-safe-order", "make-safe-order", "make-safe-without-caution"]
    assert "Step 10 (prove-dead) comes before step 11 (isolate)." in found[0][1]


def test_words_of_the_trade_tell_what_a_step_brings_about_where_nothing_else_does() -> None:
    said = step(10, "Permit", instruction="Isolate suction and discharge. Let the pressure off, then drain.")
    locked = step(20, "Lock", instruction="Each person locks and tags each point. Have the supply proved dead.")
    assert achieved_by("make-safe", said) == {"isolate", "depressurise", "drain"}
    assert achieved_by("make-safe", locked) == {"lock-and-tag", "prove-dead"}
    assert achieved_by("dismantle", said) == set()
    assert achieved_by("close-up", step(30, "Refit every guard")) == {"guards-on"}
    assert achieved_by("dismantle", step(40, "Take off guard and spacer")) == {"guards-off"}
    assert achieved_by("test", step(50, "Give it back and start")) == {"start"}
    assert achieved_by("make-safe", step(60, "Prove dead", caution="A pump that starts kills.")) == {"prove-dead"}


class TestGuards:
    def test_nothing_turns_before_the_guards_are_on_again(self) -> None:
        document = complete()
        del document["sections"][4]
        (one,) = findings(document)
        assert (one.code, one.pointer, one.stops) == ("guards-not-refitted", "#/sections/4/steps/0", "review")

    def test_guards_that_come_off_again_have_to_go_on_again(self) -> None:
        document = complete()
        document["sections"][4]["steps"].append(step(55, "Off again", achieves=["guards-off"]))
        assert "guards-not-refitted" in found_in(document)

    @pytest.mark.parametrize(
        ("configuration", "stopped"),
        [("close-coupled", True), ("in-line", True), ("long-coupled-back-pull-out", False)],
    )
    def test_the_direction_of_a_motor_alone_is_proved_uncoupled_but_not_with_the_impeller_on_it(
        self, configuration: str, stopped: bool
    ) -> None:
        document = complete(configuration)
        document["sections"][4]["steps"].insert(0, step(45, "Direction", achieves=["prove-direction"]))
        assert ("guards-not-refitted" in found_in(document)) is stopped

    def test_guards_refitted_under_a_condition_are_doubted(self) -> None:
        document = complete()
        document["sections"][4]["steps"][0]["conditions"] = ['seal_type = "packed"']
        assert set(found_in(document)) == {"guards-perhaps-not-refitted"}

    def test_a_procedure_without_a_test_or_a_start_is_doubted(self) -> None:
        document = complete()
        document["sections"][5]["steps"][0] = step(60, "Look", achieves=["drain"])
        assert set(found_in(document)) == {"no-start"}
        del document["sections"][5]
        assert set(found_in(document)) == {"no-test"}


class TestConditions:
    def with_conditions(self, *conditions: Any) -> dict[str, Any]:
        document = complete()
        document["sections"][2]["steps"][0]["conditions"] = list(conditions)
        return document

    def test_a_step_that_no_pump_reaches_stops_the_review(self) -> None:
        document = self.with_conditions('elastomer = "EPDM"', {"of": "elastomer", "one_of": ["NBR"]})
        (one,) = findings(document)
        assert (one.code, one.stops) == ("never-reached", "review")
        assert one.pointer == "#/sections/2/steps/0/conditions"

    def test_a_step_for_pumps_of_another_configuration_is_never_reached(self) -> None:
        assert "never-reached" in found_in(self.with_conditions('configuration = "in-line"'))

    def test_a_condition_that_every_pump_meets_is_not_needed(self) -> None:
        assert set(found_in(self.with_conditions('configuration = "close-coupled"'))) == {"always-reached"}

    @pytest.mark.parametrize(
        ("condition", "says"),
        [
            ({"of": "elastomr", "one_of": ["EPDM"]}, "Did you mean elastomer or kit_elastomers?"),
            ("shaft_diameter > 40 mm", "Did you mean shaft_diameter_at_seal"),
            ("shaft_diameter_at_seal > 40 K", "do not match"),
            ({"of": "shaft_diameter_at_seal_mm", "one_of": ["40"]}, "does not suit"),
        ],
    )
    def test_a_condition_that_cannot_be_used_is_named_by_itself(self, condition: Any, says: str) -> None:
        (one,) = findings(self.with_conditions('elastomer = "EPDM"', condition))
        assert (one.pointer, one.stops) == ("#/sections/2/steps/0/conditions/1", "draft")
        assert says in one.sentence

    def test_a_word_never_heard_of_is_doubted(self) -> None:
        (one,) = findings(self.with_conditions({"of": "elastomer", "one_of": ["EPDN"]}))
        assert (one.code, one.severity) == ("word-doubtful", "warning")


class TestCharacteristics:
    def asked(self, **changes: Any) -> dict[str, Any]:
        document = complete()
        document["sections"][2]["steps"][0]["characteristics"][0] |= changes
        return document

    @pytest.mark.parametrize(
        ("changes", "code", "place", "stops"),
        [
            ({"unit": "bar"}, "unit-does-not-match", "unit", "draft"),
            ({"limits": {"kind": "numbers", "upper": "1", "unit": "bar"}}, "unit-does-not-match", "limits", "draft"),
            ({"limits": {"kind": "expression", "upper": "rated_power"}}, "unit-does-not-match", "limits", "draft"),
            ({"limits": {"kind": "expression", "upper": "2 * gap"}}, "limits", "limits", "draft"),
            (
                {"limits": {"kind": "iso-10816-7", "category": "I", "zone": "B"}},
                "unit-does-not-match",
                "limits",
                "draft",
            ),
            ({"quantity": "lenght"}, "quantity-unknown", "quantity", ""),
            ({"limits": {}}, "no-limits", "limits", ""),
            ({"limits": {"kind": "none"}}, "no-limits", "limits", ""),
            ({"instrument_type": None}, "shape", "instrument_type", "draft"),
        ],
    )
    def test_a_characteristic_fits_together(self, changes: Any, code: str, place: str, stops: str) -> None:
        found = {one.code: one for one in findings(self.asked(**changes))}
        assert found[code].pointer == f"#/sections/2/steps/0/characteristics/0/{place}"
        assert found[code].stops == stops

    def test_limits_over_the_pump_s_own_figures_fit(self) -> None:
        assert findings(self.asked(limits={"kind": "expression", "upper": "1.5 * as_new_clearance"})) == []

    def test_heating_is_worked_out_from_what_was_measured_before(self) -> None:
        document = complete()
        document["sections"][3]["steps"][0]["computes"] = {"kind": "bearing-heating", "bore_from": "gapp"}
        found = [(one.code, one.stops, one.sentence) for one in findings(document)]
        assert [(code, stops) for code, stops, _ in found] == [
            ("not-measured-before", "review"),
            ("computation", "draft"),
        ]
        assert "Did you mean gap?" in found[0][2]
        assert "room_temperature_from" in found[1][2]


def test_numbers_rise_and_stand_once() -> None:
    document = complete()
    document["sections"][2]["steps"][0]["number"] = 10
    document["sections"][3]["steps"][0]["number"] = 15
    found = found_in(document)
    assert found["number-twice"] == "#/sections/2/steps/0/number"
    assert found["number-falls"] == "#/sections/3/steps/0/number"


def test_a_hold_point_says_what_is_looked_at() -> None:
    document = complete()
    del document["sections"][3]["steps"][0]["look_at"]
    assert set(found_in(document)) == {"hold-point-says-nothing"}
    del document["sections"][3]["steps"][0]["hold_point"]
    assert set(found_in(document)) == {"no-hold-point"}


def test_what_is_looked_at_belongs_to_a_hold_point() -> None:
    document = complete()
    document["sections"][2]["steps"][0]["look_at"] = "the ring"
    assert found_in(document) == {"look-at-without-hold-point": "#/sections/2/steps/0/look_at"}


def test_a_position_that_no_pump_has_is_doubted() -> None:
    document = complete()
    document["sections"][2]["steps"][0]["positions"] = ["wear-ring", "shaft-seal"]
    (one,) = findings(document, known_positions={"wear-ring-casing", "shaft-seal"})
    assert (one.pointer, one.severity) == ("#/sections/2/steps/0/positions/0", "warning")
    assert "wear-ring-casing" in one.sentence


def test_what_is_found_comes_in_the_order_of_the_document() -> None:
    document = copy.deepcopy(complete())
    document["sections"][3]["steps"][0] |= {"positions": ["x"]}
    document["sections"][1]["steps"][0] |= {"positions": ["y"]}
    found = [one.pointer for one in findings(document, known_positions={"shaft-seal"})]
    assert found == ["#/sections/1/steps/0/positions/0", "#/sections/3/steps/0/positions/0"]


def test_documents_and_tables_know_the_same_words() -> None:
    assert list(SECTIONS) == Section.values
    assert ["", *SIGNAL_WORDS] == SignalWord.values
    assert list(CONFIGURATIONS) == Configuration.values
