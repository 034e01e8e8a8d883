"""What is found is told in codes of open standards, position by position, and goes with the part that is taken out."""

import pytest

from kits.models import Part
from tests.jobs.test_overhaul import finished, planned, safe, started
from tests.shelves import put_on_shelf

pytestmark = pytest.mark.django_db


# Fluting of a motor's bearing: ISO 15243:2017, 5.4, electrical erosion by leakage current.
FLUTED = {
    "role": "bearing-de",
    "observed": "raceway fluted like a washboard",
    "mode": "VIB",
    "mechanism": "4.0",
    "bearing_damage": "5.4.3",
    "cause": "current of the frequency converter",
    "replacement_reason": "failed",
}

ID = "01990000-0000-7000-8000-0000000000f1"


def find(hand, job, status=201, **changes):
    return hand["fitter"].post(f"jobs/{job['id']}/findings", {**FLUTED, **changes}, status=status)


def test_the_codes_are_there_to_choose_from(hand):
    codes = hand["reader"].get("failure-codes?table=bearing-damage")["codes"]
    assert {one["table"] for one in codes} == {"bearing-damage"}
    assert {"5.1", "5.2", "5.3", "5.4", "5.5", "5.6"} <= {one["code"] for one in codes}
    every = hand["reader"].get("failure-codes")
    assert {one["table"] for one in every["codes"]} == {"failure-mode", "failure-mechanism", "bearing-damage"}
    assert "worn" in [one["code"] for one in every["replacement_reasons"]]


def test_a_finding_is_kept_for_the_job_the_pump_and_the_model(workshop, hand):
    job = safe(workshop, hand)
    made = find(hand, job, step=20)
    assert (made["pump_tag"], made["by"], made["step"]) == ("P-117", "Fitter", 20)
    model = workshop.pump.pump_model_id
    for path in (f"jobs/{job['id']}/findings", f"findings?pump={workshop.pump.pk}", f"findings?pump_model={model}"):
        assert [one["id"] for one in hand["reader"].get(path)["results"]] == [made["id"]]
    assert hand["reader"].get("findings?bearing_damage=5.1")["results"] == []
    assert hand["stranger"].get("findings")["results"] == []


def test_bearing_damage_is_of_bearings_only(workshop, hand):
    job = safe(workshop, hand)
    refused = find(hand, job, role="casing-o-ring", status=422)
    assert [one["pointer"] for one in refused["errors"]] == ["#/bearing_damage"]


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("mode", "XYZ"),
        ("mechanism", "9.9"),
        ("bearing_damage", "5.9"),
        ("replacement_reason", "old"),
        ("role", "wing-nut"),
    ],
)
def test_a_code_that_is_none_is_named(workshop, hand, field, value):
    job = safe(workshop, hand)
    refused = find(hand, job, status=422, **{field: value})
    assert [one["pointer"] for one in refused["errors"]] == [f"#/{field}"]


def test_damage_that_needs_a_decision_keeps_the_job_open(workshop, hand):
    job = safe(workshop, hand)
    made = find(hand, job, needs_decision=True)
    raised = hand["supervisor"].get(f"nonconformities/{made['nonconformity']}")
    assert (raised["state"], raised["role"], raised["description"]) == ("open", "bearing-de", FLUTED["observed"])


def test_a_correction_takes_the_place_of_what_it_corrects(workshop, hand):
    job = safe(workshop, hand)
    first = find(hand, job, bearing_damage="5.1")
    find(hand, job, corrects=first["id"])
    counting = hand["reader"].get(f"jobs/{job['id']}/findings?counts=true")["results"]
    assert [one["bearing_damage"] for one in counting] == ["5.4.3"]
    assert len(hand["reader"].get(f"jobs/{job['id']}/findings")["results"]) == 2
    assert find(hand, job, corrects=first["id"], status=409)["code"] == "already-corrected"


def test_the_part_taken_out_carries_what_was_found_on_it(cast, workshop, hand):
    first = finished(cast, workshop, hand)
    hand["supervisor"].post(f"jobs/{first['id']}/sign-off", seen=f"jobs/{first['id']}")
    put_on_shelf(cast.by("stores"), cast.north, workshop.kit, 1, lot="L-1")
    second = finished(cast, workshop, hand)
    find(hand, second)
    hand["supervisor"].post(f"jobs/{second['id']}/sign-off", seen=f"jobs/{second['id']}")
    history = hand["reader"].get(f"pumps/{workshop.pump.pk}/fitted-parts?role=bearing-de")["results"]
    assert [one["removed_condition"] for one in history] == ["", "VIB/4.0/5.4.3"]
    signed = hand["reader"].get(f"jobs/{second['id']}/sign-offs")["results"][-1]["content"]
    assert [one["bearing_damage"] for one in signed["findings"]] == ["5.4.3"]
    assert Part.objects.count() == 2


def test_findings_at_later_steps_wait_for_making_safe_and_a_start(workshop, hand):
    job = started(workshop, hand)
    assert find(hand, job, step=20, status=409)["code"] == "make-safe-first"
    find(hand, job, role="casing-o-ring", mode="ELP", mechanism="1.1", bearing_damage="", status=422)
    assert find(hand, planned(workshop, hand), status=409)["code"] == "wrong-job-state"


def test_what_a_phone_sends_twice_is_kept_once(workshop, hand):
    job = safe(workshop, hand)
    first = find(hand, job, id=ID, step=20)
    assert find(hand, job, id=ID, step=20)["id"] == first["id"]
    assert len(hand["reader"].get(f"jobs/{job['id']}/findings")["results"]) == 1
    find(hand, job, id=ID, observed="something else", status=409)


def test_a_nonconformity_names_a_position_that_is_one_or_none(workshop, hand):
    job = safe(workshop, hand)
    told = {"job": job["id"], "description": "Scored over a third of its length."}
    refused = hand["fitter"].post("nonconformities", told | {"role": "wing-nut"}, status=422)
    assert (refused["code"], [one["pointer"] for one in refused["errors"]]) == ("invalid-value", ["#/role"])
    assert hand["fitter"].post("nonconformities", told | {"role": "shaft-sleeve"}, status=201)["role"] == "shaft-sleeve"
    assert hand["fitter"].post("nonconformities", told, status=201)["role"] == ""


def test_a_nonconformity_that_a_phone_sends_twice_is_raised_once(workshop, hand):
    job = safe(workshop, hand)
    told = {"id": ID, "job": job["id"], "description": "Scored over a third of its length.", "role": "shaft-sleeve"}
    first = hand["fitter"].post("nonconformities", told, status=201)
    assert hand["fitter"].post("nonconformities", told, status=201) == first
    hand["fitter"].post("nonconformities", told | {"description": "Another one."}, status=409)


@pytest.mark.parametrize("path", ["attachments", "measurements", "work"])
@pytest.mark.parametrize("step", ["1.5", "-1", "1e1", "ten"])
def test_a_step_to_look_for_is_a_whole_number(workshop, hand, path, step):
    job = safe(workshop, hand)
    refused = hand["reader"].get(f"jobs/{job['id']}/{path}?step={step}", status=400)
    assert [one["pointer"] for one in refused["errors"]] == ["?step"]
    assert hand["reader"].get(f"jobs/{job['id']}/{path}?step=20")["results"] == []
