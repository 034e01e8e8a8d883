"""Words on papers as a fitter reads them, and units that follow the sheet wherever they stand."""

import re
from decimal import Decimal
from typing import Any

import pytest

from jobs.calculations.bearing_heating import heating_advice
from jobs.calculations.job_sheet import job_sheet_content
from jobs.calculations.overhaul_record import overhaul_record_content
from jobs.calculations.paper_pdf import paper_pdf
from jobs.calculations.printed_quantities import span
from tests.jobs.calculations import made_up_papers as made_up
from tests.printed_pages import text_of

ADDRESS = "https://pumps.example.org"
METRIC_FIGURE = re.compile(r"\d ?(?:mm|µm|°C|bar|N·m|kN|kW)(?![\w·/])")


def sheet(units="metric", **changes):
    return job_sheet_content(made_up.sheet(**changes), units=units)


def record(units="metric", **changes):
    return overhaul_record_content(made_up.record(**changes), units=units, public_address=ADDRESS)


def step_with(place=24, **changes):
    made = made_up.steps()
    made[place] |= changes
    return made


def printed(content, number):
    return next(one for section in content["sections"] for one in section["steps"] if one["number"] == number)


def asked(**more):
    return made_up.characteristic("Offset at the coupling", "mm", "-0.060000", "0.060000", 1, **more)


def test_a_range_is_told_whole_in_both_systems():
    # NIST SP 811, B.8: 60 and 90 °C are 140 and 194 °F.
    assert span(Decimal(60), Decimal(90), "degC", "inch").main == "140 to 194 °F"
    assert span(Decimal(60), Decimal(90), "degC", "inch").other == "60 to 90 °C"
    assert str(span(Decimal(5), Decimal(5), "degC", "metric")) == "5 °C (41 °F)"


@pytest.mark.parametrize(
    ("units", "words"), [("metric", "60 to 90 °C (140 to 194 °F)"), ("inch", "140 to 194 °F (60 to 90 °C)")]
)
def test_the_temperatures_of_the_fluid_are_told_in_both_systems(units, words):
    facts = dict(sheet(units)["facts"])
    assert facts["Fluid"] == f"Heating water, {words}"


def test_what_is_needed_in_one_step_names_one_step():
    tools = [made_up.step(0, tools=["torch"]), made_up.step(1, tools=["torch", "spanner"])]
    named = {one["name"]: one["steps"] for one in sheet(steps=tools)["tools"]}
    assert named == {"torch": "steps 10, 20", "spanner": "step 20"}


def test_why_a_step_applies_is_said_once():
    made = printed(sheet(steps=step_with(why="Applies: elastomer is EPDM, one of EPDM.")), 250)
    assert made["why"] == "elastomer is EPDM, one of EPDM."


def test_positions_with_a_comma_in_their_name_stay_apart():
    made = printed(sheet(steps=step_with(positions=["bearing-de", "bearing-nde"])), 250)
    assert made["positions"] == "bearing, drive end; bearing, non-drive end"


def test_limits_that_say_no_more_than_the_figures_are_not_told_twice():
    steps = step_with()
    seat, _, room = steps[24]["characteristics"]
    room["words"], seat["words"] = "At least 5 and at most 40 °C.", "40 k5: +13/+2 µm, 40.002 to 40.013 mm."
    told = {one["name"]: one["words"] for one in printed(sheet(steps=steps), 250)["characteristics"]}
    assert told["Room temperature"] == ""
    assert told[seat["name"]] == "40 k5: +13/+2 µm, 40.002 to 40.013 mm."


def test_what_may_be_used_on_an_elastomer_is_said_so():
    verdicts = {one["name"]: one["verdict"] for one in sheet()["lubricants"]}
    assert verdicts == {"Soft soap": "may be used", "Silicone grease": "may be used", "Mineral grease": "forbidden"}


def test_an_offset_of_both_planes_together_has_no_lower_limit_to_print():
    # The root of the sum of squares is never below zero.
    together = asked(rule="reverse-indicator", set_up={"judged": "offset"})
    one_plane = asked(rule="reverse-indicator", set_up={"judged": "vertical-offset"})
    for one, words in ((together, "at most 0.06 mm"), (one_plane, "-0.06 to 0.06 mm")):
        made = printed(sheet(steps=step_with(characteristics=[one])), 250)
        assert made["characteristics"][0]["limits"] == words


@pytest.mark.parametrize(("units", "unit", "warm"), [("metric", "mm", "°C"), ("inch", "in", "°F")])
def test_values_beside_the_readings_are_written_in_the_units_of_the_sheet(units, unit, warm):
    aligned = asked(rule="reverse-indicator", set_up={"judged": "offset"})
    bore = made_up.characteristic("Clearance", "mm", "0.4", "0.8", 2, rule="diametral-clearance")
    made = printed(sheet(units, steps=step_with(characteristics=[aligned, bore])), 250)["characteristics"]
    given = {one["name"]: one["unit"] for row in made for one in row["given"]}
    assert given["plane distance"] == given["sag"] == unit
    assert given["bore temperature"] == warm


HEATING = {
    "kind": "bearing-heating",
    "sentence": "Heat the bearing to about 81.7 °C, 61.7 K above the shaft, for an interference of up to 37 µm.",
    "target": {"value": "81.7", "unit": "degC"},
    "ceiling": {"value": "120", "unit": "degC"},
    "cautions": ["Wear gloves."],
}


def test_an_inch_sheet_leaves_no_figure_in_metric_units_alone():
    words = {
        "instruction": "Set the gap to 1 to 1.5 mm.", "caution": "Wait below 60 °C.", "signal_word": "warning",
        "look_at": "Gap of 1 mm all round.", "why": "Applies: temperature max is 90 °C, at least 55 °C.",
        "advice": [HEATING],
    }  # fmt: skip
    steps = step_with(**words)
    steps[24]["characteristics"][0]["words"] = "40 k5: +13/+2 µm, 40.002 to 40.013 mm."
    content = sheet("inch", steps=steps, unresolved={250: ["No bore of 40 mm is known."]})
    made = printed(content, 250)
    told = [made["instruction"], made["caution"], made["look_at"], made["why"], *made["advice"], *made["unresolved"]]
    told += [one["words"] for one in made["characteristics"]]
    for text in told:
        metric, inch = METRIC_FIGURE.search(text), re.search(r"\d ?(?:in|µin|°F)\b", text)
        assert bool(metric) == bool(inch), text
    assert made["caution"] == "Wait below 60 °C (140 °F)."
    assert made["advice"][0].startswith("Heat the bearing to about 179.1 °F (81.7 °C), 111.1 °F (61.7 K) above")


def heating(shaft):
    """Advice as it is kept with a step, for a bearing of 50 mm in a room of 20 °C."""
    found = heating_advice(
        bore_mm=Decimal(50), shaft_diameter_mm=Decimal(shaft), room_temperature_c=Decimal(20), sealed=False,
        extra_clearance_mm=Decimal("0.02"),
    )  # fmt: skip
    return {
        "kind": "bearing-heating", "sentence": found.sentence, "cautions": list(found.cautions),
        "target": {"value": str(found.target_c), "unit": "degC"},
        "ceiling": {"value": str(found.ceiling_c), "unit": "degC"}, "within_ceiling": found.within_ceiling,
    }  # fmt: skip


@pytest.mark.parametrize("units", ["metric", "inch"])
@pytest.mark.parametrize(
    ("shaft", "begins"),
    [
        # A bore of 50 mm, 12 µm smaller at the most (ISO 492:2014, normal class): 72 µm of interference ask for 120 K
        # (linear expansion, 12e-6 per K, value from memory), more than the ceiling leaves; a smaller shaft is loose.
        ("50.060", "Do not heat"),
        ("49.980", "The shaft is"),
    ],
)
def test_a_sheet_never_says_to_heat_where_the_advice_is_not_to(shaft, begins, units):
    made = printed(sheet(units, steps=step_with(advice=[heating(shaft)])), 250)
    assert made["advice"][0].startswith(begins)
    assert not [text for text in made["advice"] if text.startswith(("Heat to", "Heat the bearing"))]


def test_a_sheet_says_once_how_far_to_heat_and_never_leaves_out_the_ceiling():
    made = printed(sheet(steps=step_with(advice=[heating("50.011")])), 250)
    assert len([text for text in made["advice"] if text.startswith("Heat ")]) == 1
    assert "Never above 120 °C." in made["advice"][0]
    assert made["advice"][1:] == list(heating("50.011")["cautions"])


def measured(**changes: Any) -> dict[str, Any]:
    made = made_up.record()
    made["steps"][21]["characteristics"][0]["measurements"][-1] |= changes
    return made


def row_of(content, name="Shaft run-out at the seal"):
    return [one for one in content["measurements"] if one["name"] == name][-1]


def result(name, value, unit, words):
    return {"name": name, "value": value, "unit": unit, "words": words}


ALIGNED = [
    result("front-shims", "0.035", "mm", "add 0.035 mm under the front feet"),
    result("rear-move", "-0.05", "mm", "move the rear feet 0.05 mm to the left"),
]


@pytest.mark.parametrize(
    ("units", "words"),
    [
        ("metric", ["add 0.035 mm under the front feet", "move the rear feet 0.05 mm to the left"]),
        (
            "inch",
            ["add 0.00138 in (0.035 mm) under the front feet", "move the rear feet 0.0020 in (0.05 mm) to the left"],
        ),
    ],
)
def test_shims_are_told_in_the_units_of_the_record(units, words):
    # 1 in = 25.4 mm exactly.
    content = overhaul_record_content(measured(results=ALIGNED), units=units, public_address=ADDRESS)
    assert row_of(content)["results"] == words


@pytest.mark.parametrize(
    ("count", "words"), [("1", "1 light band"), ("3", "3 light bands"), ("2.5", "2.5 light bands")]
)
def test_light_bands_are_told_as_such(count, words):
    content = overhaul_record_content(
        measured(results=[result("bands", count, "piece", "most bands counted")]),
        units="metric",
        public_address=ADDRESS,
    )
    assert row_of(content)["results"] == [words]


@pytest.mark.parametrize(("units", "room"), [("metric", "0.0120 mm"), ("inch", "0.00047 in")])
def test_the_room_is_told_to_the_place_of_the_value(units, room):
    # JCGM 100 (GUM) 7.2.6: a figure goes no further than its uncertainty, here 0.0041 mm or 0.00017 in.
    assert row_of(record(units))["room"] == room


def test_a_room_that_is_passed_never_reads_as_none():
    one = measured(room_left=Decimal("-0.000004"), verdict="not-proved")
    room = row_of(overhaul_record_content(one, units="metric", public_address=ADDRESS))["room"]
    assert room == "-0.0001 mm"


def test_one_nonconformity_is_one():
    one = made_up.record()["nonconformities"][:1]
    assert record(nonconformities=one)["result"][3] == ["1", "nonconformity, 0 conceded"]
    assert record()["result"][3] == ["2", "nonconformities, 1 conceded"]


def test_the_record_names_who_did_the_work_where_nobody_was_named_before():
    facts = dict(record(job=made_up.job(state="closed", assignee_name=""))["facts"])
    assert facts["Fitter"] == "Ingrid Fell"


def test_a_record_of_nobodys_work_names_no_fitter():
    open_steps = made_up.steps()
    facts = dict(record(job=made_up.job(assignee_name=""), steps=open_steps, signatures=[])["facts"])
    assert "Fitter" not in facts


@pytest.mark.parametrize(
    ("code", "words"),
    [
        # ISO 14224:2016 and ISO 15243:2017; the words are our own.
        ("NOI/2.2/5.3", "unusual noise; corrosion (NOI/2.2/5.3)"),
        ("VIB/4.0/5.4", "vibrates too much; electrical, in general; electrical erosion (VIB/4.0/5.4)"),
        ("ELP/2.4", "what is pumped leaks to the outside; wear (ELP/2.4)"),
        ("XYZ", "XYZ"),
        ("", "not stated"),
    ],
)
def test_the_condition_of_a_part_is_told_in_words_with_its_codes(code, words):
    removed = [one | {"removed_condition": code} for one in made_up.record()["removed"][:1]]
    assert record(removed=removed)["removed"][0][4] == words


def test_what_was_rejected_is_told_in_inches_behind_the_words_that_were_recorded():
    told = record("inch")["nonconformities"][0]["what"]
    assert told == "Shaft run-out: 0.09 mm (0.0035 in) was rejected (at most 0.05 mm (0.0019 in))."
    assert record()["nonconformities"][0]["what"] == "Shaft run-out: 0.09 mm was rejected (at most 0.05 mm)."


def test_a_hold_point_counts_as_released_only_where_somebody_released_it():
    steps = made_up.record()["steps"]
    assert record(steps=steps)["result"][1] == ["2 of 2", "hold points released"]
    held = next(one for one in steps if one["hold_point"])
    held["released_by"] = None
    assert record(steps=steps)["result"][1] == ["1 of 2", "hold points released"]


def test_a_job_taken_over_from_earlier_records_says_why_nobody_signed_it_here():
    taken_over = record(job=made_up.job(state="closed"), signatures=[], link=None)
    assert taken_over["draft"] == "Not signed off here: it was taken over, closed, from earlier records."
    under_way = record(job=made_up.job(state="in-progress"), signatures=[], link=None)
    assert under_way["draft"] == "Not signed off: the job is in progress, and this is how it stands."


def test_long_words_about_limits_stand_across_the_step_and_not_in_a_narrow_column():
    words = "M12 8.8 to 70% of the proof load. " * 8 + "Never a dry torque on an oiled screw."
    steps = step_with()
    steps[24]["characteristics"][0]["words"] = words
    pdf = paper_pdf("job_sheet.typ", sheet(steps=steps), paper="a4", at=made_up.BEGAN)
    lines = " ".join(text_of(pdf)).splitlines()
    assert any(line.count("of the proof load.") >= 3 for line in lines)
    assert "Never a dry torque" in " ".join(lines)
