"""Measurements by rule over the API: readings by name, two instruments, temperatures, alignment, questions."""

import datetime
from decimal import Decimal
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from assets.models import Pump
from jobs.models import Measurement
from jobs.operations.history_loads import load_past_jobs, load_past_measurements
from jobs.operations.procedures import draft_revision
from jobs.refusals import ProcedureUnsound
from services.api.loading import LoadRow
from tests.overhauls import TODAY, make_instrument, open_workshop, procedure_document, release_procedure

pytestmark = pytest.mark.django_db

CLEARANCE = {
    "code": "ring-clearance",
    "name": "Clearance at the wear ring",
    "quantity": "length",
    "unit": "mm",
    "readings": 2,
    "rule": "diametral-clearance",
    "set_up": {"bore_material": "bronze", "shaft_material": "steel"},
    "limits": {"kind": "numbers", "lower": "0.40", "upper": "0.80"},
    "instrument_type": "bore-gauge",
    "second_instrument_type": "outside-micrometer",
}
ALIGNMENT = {
    "code": "coupling-angularity",
    "name": "Angularity at the coupling",
    "quantity": "slope",
    "unit": "mm/100mm",
    "rule": "reverse-indicator",
    "set_up": {"judged": "angularity", "plane_distance_mm": 120, "front_foot_mm": 300, "rear_foot_mm": 700},
    "limits": {"kind": "numbers", "upper": "0.07"},
    "instrument_type": "dial-indicator",
}
RUN_OUT = {
    "code": "face-run-out",
    "name": "Run-out of the face",
    "quantity": "length",
    "unit": "mm",
    "readings": 4,
    "rule": "total-indicator-reading",
    "set_up": {"places": ["top", "right", "bottom", "left"]},
    "limits": {"kind": "numbers", "upper": "0.05"},
    "instrument_type": "dial-indicator",
    "decision_rule": "simple",
}


def document(*characteristics: dict[str, Any], revision: int = 2) -> dict[str, Any]:
    made = procedure_document(revision=revision)
    step = {
        "number": 25,
        "title": "Measure rings and coupling",
        "instruction": "Measure.",
        "characteristics": list(characteristics),
    }
    made["sections"][1]["steps"].append(step)
    made["sections"][1]["steps"].sort(key=lambda one: one["number"])
    return made


@pytest.fixture
def workshop(cast):
    made = open_workshop(cast)
    made.instruments["gauge"] = make_instrument(cast, "BG-1", "bore-gauge")
    with transaction.atomic():
        revision_id, _ = draft_revision(
            by=cast.by("procedure-author"), document=document(CLEARANCE, ALIGNMENT, RUN_OUT)
        )
        release_procedure(cast, revision_id)
    return made


@pytest.fixture
def job(workshop, hand):
    body = {"pump": str(workshop.pump.pk), "kit": str(workshop.kit.pk), "planned_start": TODAY.isoformat()}
    made = hand["planner"].post("jobs", body, status=201)
    hand["planner"].post(f"jobs/{made['id']}/reserve-kit")
    made = hand["fitter"].post(f"jobs/{made['id']}/start", seen=f"jobs/{made['id']}")
    hand["fitter"].post(f"jobs/{made['id']}/steps/10/confirm")
    return made


def measure(workshop, hand, job, status=201, **changes):
    body = {
        "step": 25,
        "characteristic": "ring-clearance",
        "readings": {"bore": ["90.52", "90.52"], "shaft": ["90.01", "90.01"]},
        "unit": "mm",
        "given": {"bore_temperature_c": "20", "shaft_temperature_c": "20"},
        "instrument": str(workshop.instruments["gauge"].pk),
        "second_instrument": str(workshop.instruments["micrometer"].pk),
    } | changes
    return hand["fitter"].post(f"jobs/{job['id']}/measurements", body, status=status)


def dial(workshop, characteristic, readings, **more):
    return {
        "characteristic": characteristic,
        "readings": readings,
        "given": {},
        "instrument": str(workshop.instruments["dial"].pk),
    } | more


def post(workshop, hand, job, body, status=201):
    made = {"step": 25, "unit": "mm"} | body
    return hand["fitter"].post(f"jobs/{job['id']}/measurements", made, status=status)


def test_a_clearance_is_judged_from_two_diameters_and_two_instruments(workshop, hand, job):
    made = measure(workshop, hand, job)
    assert (made["value"], made["verdict"]) == ("0.510000", "accept")
    assert (made["instrument"], made["second_instrument"]) == ("BG-1", "MIC-1")
    assert made["readings"] == {"bore": ["90.52", "90.52"], "shaft": ["90.01", "90.01"]}
    assert {one["of"] for one in made["budget"]} == {"bore", "shaft"}
    assert {"name", "words", "sensitivity", "contribution", "contribution_unit"} <= set(made["budget"][0])


def test_the_room_is_told_to_the_limit_and_to_the_guarded_limit(workshop, hand, job):
    made = measure(workshop, hand, job)
    assert made["room_to_limit"] == "0.110000"
    assert float(made["room_left"]) == pytest.approx(0.11 - float(made["expanded_uncertainty"]))
    assert made["reasons"][-1]["code"] == "room-left"


def test_what_the_rule_knew_is_kept_as_it_stood(workshop, hand, job):
    made = measure(workshop, hand, job, given={"bore_temperature_c": "31.5", "shaft_temperature_c": "24"})
    kept = Measurement.objects.get(pk=made["id"])
    assert (kept.rule, kept.given["bore_material"], kept.given["bore_temperature_c"]) == (
        "diametral-clearance",
        "bronze",
        "31.5",
    )
    assert kept.second_calibration_due == workshop.instruments["micrometer"].calibration_due
    # Bronze 17.5e-6, read with steel 11.5e-6 as warm: 90.52 x 6e-6 x 11.5 = 0.0062 mm smaller at 20 degrees Celsius.
    assert made["value"] == "0.503754"


def test_few_readings_that_scatter_are_kept_with_their_degrees_of_freedom(workshop, hand, job):
    made = measure(workshop, hand, job, readings={"bore": ["90.50", "90.53"], "shaft": ["90.01", "90.01"]})
    assert float(made["degrees_of_freedom"]) == pytest.approx(1.0, abs=0.1)
    assert float(made["coverage_factor"]) > 10


def test_a_coupling_is_judged_by_its_angularity_and_told_what_to_shim(workshop, hand, job):
    # Geometry of tests/jobs/calculations/test_shaft_alignment.py: 0.05 mm per 100 mm, 0.24 and 0.44 mm to take away.
    readings = {
        "stationary_hub": {"top": "0", "right": "0.07", "bottom": "0.14", "left": "0.07"},
        "movable_hub": ["0", "-0.17", "-0.34", "-0.17"],
    }
    made = post(workshop, hand, job, dial(workshop, "coupling-angularity", readings, given={"sag_mm": "-0.04"}))
    assert (made["value"], made["limits_unit"], made["verdict"]) == ("0.050000", "mm/100mm", "accept")
    told = {one["name"]: one["value"] for one in made["results"]}
    assert (told["front-shims"], told["rear-shims"]) == ("-0.24", "-0.44")
    assert made["readings"]["movable_hub"]["bottom"] == "-0.34"
    assert made["second_instrument"] is None


def test_a_turn_that_does_not_close_is_refused_at_its_dial(workshop, hand, job):
    readings = {"stationary_hub": ["0"] * 4, "movable_hub": ["0", "-0.05", "-0.30", "-0.19"]}
    body = dial(workshop, "coupling-angularity", readings, given={"sag_mm": "0"})
    refused = post(workshop, hand, job, body, status=422)
    assert refused["code"] == "reading-unusable"
    assert [one["pointer"] for one in refused["errors"]] == ["#/readings/movable_hub"]
    assert "take the turn again" in refused["detail"]


def test_the_sag_must_be_told(workshop, hand, job):
    readings = {"stationary_hub": ["0"] * 4, "movable_hub": ["0"] * 4}
    refused = post(workshop, hand, job, dial(workshop, "coupling-angularity", readings), status=422)
    assert [one["pointer"] for one in refused["errors"]] == ["#/given/sag_mm"]


def test_places_may_be_named_or_sent_in_their_order(workshop, hand, job):
    by_name = {"bottom": "0.02", "top": "0", "left": "-0.01", "right": "0.01"}
    one = post(workshop, hand, job, dial(workshop, "face-run-out", by_name))
    other = post(workshop, hand, job, dial(workshop, "face-run-out", ["0", "0.01", "0.02", "-0.01"]))
    assert one["readings"] == other["readings"] == {"top": "0", "right": "0.01", "bottom": "0.02", "left": "-0.01"}
    assert one["value"] == other["value"] == "0.030000"
    assert {each["name"]: each["value"] for each in one["results"]}["eccentricity"] == "0.015"


def test_simple_acceptance_keeps_no_guard_band(workshop, hand, job):
    made = post(workshop, hand, job, dial(workshop, "face-run-out", ["0", "0.049", "0.02", "0.01"]))
    assert (made["decision_rule"], made["verdict"]) == ("simple", "accept")
    assert made["room_left"] == made["room_to_limit"] == "0.001000"


def test_a_run_out_read_in_micrometres_is_asked_about_and_taken_once_confirmed(workshop, hand, job):
    body = dial(workshop, "face-run-out", ["0", "30", "20", "10"])
    refused = post(workshop, hand, job, body, status=422)
    assert refused["code"] == "reading-doubtful"
    assert "µm (0.03 mm)" in refused["detail"]
    assert [one["pointer"] for one in refused["errors"]] == ["#/readings"]
    assert not Measurement.objects.exists()
    made = post(workshop, hand, job, body | {"as_read": True})
    assert made["verdict"] == "reject"
    assert "confirmed-as-read" in [one["code"] for one in made["reasons"]]


def test_one_diameter_in_inches_is_asked_about_by_its_place(workshop, hand, job):
    readings = {"bore": ["90.52", "90.52"], "shaft": ["3.5437", "3.5437"]}
    refused = measure(workshop, hand, job, readings=readings, status=422)
    assert [one["pointer"] for one in refused["errors"]] == ["#/readings/shaft"]


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"readings": {"bore": ["90.52"], "shaft": ["90.01", "90.01"]}}, "#/readings/bore"),
        ({"readings": {"bore": ["90.52", "90.52"]}}, "#/readings/shaft"),
        ({"readings": {"bore": ["90.52", "x"], "shaft": ["90.01", "90.01"]}}, "#/readings/bore/1"),
        ({"readings": {"bore": [["90.52"], "1"], "shaft": ["1", "1"]}}, "#/readings/bore/0"),
        ({"readings": ["90.52", "90.52"]}, "#/readings"),
        ({"readings": []}, "#/readings"),
        ({"readings": {}}, "#/readings"),
        ({"readings": "90.52"}, "#/readings"),
        ({"readings": {"bore": {}, "shaft": ["1", "1"]}}, "#/readings/bore"),
        ({"readings": ["1"] * 201}, "#/readings"),
        ({"given": {"bore_temperature_c": "20"}}, "#/given/shaft_temperature_c"),
        ({"given": {"sag_mm": "0"}}, "#/given/sag_mm"),
        ({"given": {"bore_material": "cast-iron"}}, "#/given/bore_material"),
        ({"given": ["20"]}, "#/given"),
        ({"given": {"bore_temperature_c": "warm", "shaft_temperature_c": "20"}}, "#/given/bore_temperature_c"),
        ({"unit": "degC"}, "#/unit"),
    ],
)
def test_what_does_not_suit_is_refused_at_its_place(workshop, hand, job, changes, pointer):
    refused = measure(workshop, hand, job, status=422, **changes)
    assert [one["pointer"] for one in refused["errors"]][:1] == [pointer]


def test_a_second_instrument_is_named_where_two_are_read_and_nowhere_else(workshop, hand, job):
    body = {
        "characteristic": "ring-clearance",
        "readings": {"bore": ["90.52", "90.52"], "shaft": ["90.01", "90.01"]},
        "given": {"bore_temperature_c": "20", "shaft_temperature_c": "20"},
        "instrument": str(workshop.instruments["gauge"].pk),
    }
    refused = post(workshop, hand, job, body, status=422)
    assert [one["pointer"] for one in refused["errors"]] == ["#/second_instrument"]
    swapped = body | {"second_instrument": str(workshop.instruments["dial"].pk)}
    refused = post(workshop, hand, job, swapped, status=422)
    assert "is measured with outside-micrometer; DI-1 is dial-indicator" in refused["detail"]
    extra = dial(workshop, "face-run-out", ["0", "0", "0", "0"])
    extra["second_instrument"] = str(workshop.instruments["micrometer"].pk)
    refused = post(workshop, hand, job, extra, status=422)
    assert [one["pointer"] for one in refused["errors"]] == ["#/second_instrument"]


def test_one_overdue_instrument_of_two_keeps_the_measurement_from_being_accepted(cast, workshop, hand, job):
    late = make_instrument(cast, "MIC-9", "outside-micrometer", due=-2)
    made = measure(workshop, hand, job, second_instrument=str(late.pk))
    assert made["verdict"] == "not-proved"
    told = {one["code"]: one["sentence"] for one in made["reasons"]}
    assert told["calibration-overdue"].startswith("MIC-9: The instrument was overdue")


def test_past_clearances_are_taken_over_by_group(cast, workshop):
    Pump.objects.filter(pk=workshop.pump.pk).update(external_ids={"file": "P-117"})
    day = timezone.now() - datetime.timedelta(days=400)
    past = {
        "number": "OLD-1", "pump": "P-117", "procedure": "PULL-OUT", "kit": workshop.kit.number,
        "kit_revision": workshop.kit.revision, "lot": "L-1", "started_at": day, "finished_at": day,
        "fitter": "fitter", "supervisor": "supervisor",
    }  # fmt: skip
    measured = {
        "job": "OLD-1", "characteristic": "ring-clearance", "readings": "bore=90,52|90,52; shaft=90,01|90,01",
        "given": "bore_temperature_c=20; shaft_temperature_c=20", "unit": "mm", "instrument": "BG-1",
        "second_instrument": "MIC-1", "taken_at": day,
    }  # fmt: skip
    wrong = measured | {"readings": "90,52", "taken_at": day + datetime.timedelta(hours=1)}
    with transaction.atomic():
        (job,) = load_past_jobs(by=cast.by("integrator"), rows=[LoadRow(1, past)])
        rows = [LoadRow(1, measured), LoadRow(2, wrong), LoadRow(3, wrong | {"second_instrument": "MIC-0"})]
        found = load_past_measurements(by=cast.by("integrator"), rows=rows)
    assert job.outcome == "created"
    assert [one.outcome for one in found] == ["created", "refused", "refused"]
    assert "Send readings by name: bore, shaft." in found[1].problems[0].detail
    assert found[2].problems[0].column == "second_instrument"
    kept = Measurement.objects.get()
    assert (kept.value, kept.verdict) == (Decimal("0.51"), "accept")
    assert kept.second_instrument == workshop.instruments["micrometer"]


def test_the_same_readings_by_name_or_in_order_are_one_measurement(workshop, hand, job):
    key = {"id": "01990000-0000-7000-8000-000000000077"}
    body = dial(workshop, "face-run-out", ["0", "0.01", "0.02", "-0.01"]) | key
    first = post(workshop, hand, job, body)
    by_name = {"bottom": "0.020", "top": "0.0", "left": "-0.01", "right": "0.01"}
    assert post(workshop, hand, job, body | {"readings": by_name}) == first
    refused = post(workshop, hand, job, body | {"readings": ["0", "0.01", "0.02", "0"]}, status=409)
    assert refused["code"] == "measurement-id-used"
    refused = post(workshop, hand, job, body | {"unit": "um"}, status=409)
    assert refused["code"] == "measurement-id-used"


def test_another_temperature_is_another_measurement(workshop, hand, job):
    key = "01990000-0000-7000-8000-000000000078"
    first = measure(workshop, hand, job, id=key)
    assert measure(workshop, hand, job, id=key) == first
    warmer = {"bore_temperature_c": "21", "shaft_temperature_c": "20"}
    assert measure(workshop, hand, job, id=key, given=warmer, status=409)["code"] == "measurement-id-used"


def test_the_job_sheet_says_what_to_ask_for_and_how_it_is_judged(workshop, hand, job):
    sheet = hand["fitter"].get(f"jobs/{job['id']}/steps")
    step = next(one for one in sheet["steps"] if one["number"] == 25)
    asked = {one["code"]: one for one in step["characteristics"]}
    angularity = asked["coupling-angularity"]
    assert [one["name"] for one in angularity["asks"]["groups"]] == ["stationary_hub", "movable_hub"]
    assert [one["name"] for one in angularity["asks"]["given"] if one["needed"]] == ["sag_mm"]
    assert (angularity["guard_factor"], angularity["asks"]["unit"]) == ("2", "mm")
    assert asked["face-run-out"]["guard_factor"] == "0"
    assert asked["ring-clearance"]["second_instrument_type"] == "outside-micrometer"
    numbers = {one["number"]: one["expanded_uncertainty"] for one in sheet["instruments"]}
    assert {"BG-1", "MIC-1", "DI-1", "DI-2", "TH-1"} == set(numbers)
    assert numbers["BG-1"] == "0.002000"


def test_a_measurement_stays_as_it_was_recorded(workshop, hand, job):
    measure(workshop, hand, job)
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE jobs_measurement SET given = '{}'")


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"rule": "wobble"}, "rule"),
        ({"set_up": {"bore_materials": "steel"}}, "set_up/bore_materials"),
        ({"set_up": {"bore_material": "cheese"}}, "set_up/bore_material"),
        ({"set_up": "steel"}, "set_up"),
        ({"unit": "degC"}, "unit"),
        ({"readings": 201}, "readings"),
        ({"rule": "taper", "second_instrument_type": ""}, "set_up/bore_material"),
        ({"rule": "mean", "set_up": {}}, "second_instrument_type"),
    ],
)
def test_a_procedure_names_the_place_of_an_unsound_rule(cast, changes, pointer):
    with pytest.raises(ProcedureUnsound) as refused, transaction.atomic():
        draft_revision(by=cast.by("procedure-author"), document=document(CLEARANCE | changes))
    where = "#/sections/1/steps/1/characteristics/0"
    assert [one.pointer for one in refused.value.problems] == [f"{where}/{pointer}"]


def test_a_revision_tells_the_set_up_of_its_characteristics(workshop, hand):
    revision = next(one for one in hand["reader"].get("procedure-revisions")["results"] if one["revision"] == 2)
    steps = hand["reader"].get(f"procedure-revisions/{revision['id']}")["steps"]
    asked = next(one for one in steps if one["number"] == 25)["characteristics"]
    angularity = next(one for one in asked if one["code"] == "coupling-angularity")
    assert angularity["set_up"]["plane_distance_mm"] == 120
    assert angularity["second_instrument_type"] == ""
