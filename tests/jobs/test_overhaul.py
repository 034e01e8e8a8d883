"""One overhaul over the API, from planning to the parts on the pump's history."""

import datetime

import pytest

from jobs.operations.readiness import review_readiness
from kits.models import Lot
from kits.queries.movements import ledger_differences
from services.changes.models import Change
from tests.overhauls import TODAY
from tests.shelves import put_on_shelf

pytestmark = pytest.mark.django_db
TOMORROW = (TODAY + datetime.timedelta(days=1)).isoformat()


def planned(workshop, hand):
    body = {"pump": str(workshop.pump.pk), "kit": str(workshop.kit.pk), "planned_start": TOMORROW}
    return hand["planner"].post("jobs", body, status=201)


def ready(workshop, hand):
    job = planned(workshop, hand)
    return hand["planner"].post(f"jobs/{job['id']}/reserve-kit")


def started(workshop, hand):
    job = ready(workshop, hand)
    return hand["fitter"].post(f"jobs/{job['id']}/start", seen=f"jobs/{job['id']}")


def safe(workshop, hand):
    job = started(workshop, hand)
    hand["fitter"].post(f"jobs/{job['id']}/steps/10/confirm")
    return job


def measure(hand, job, step, characteristic, readings, unit, instrument, status=201):
    body = {
        "step": step,
        "characteristic": characteristic,
        "readings": readings,
        "unit": unit,
        "instrument": str(instrument.pk),
    }
    return hand["fitter"].post(f"jobs/{job['id']}/measurements", body, status=status)


def step_of(hand, job, number):
    return hand["fitter"].get(f"jobs/{job['id']}/steps/{number}")


def test_a_job_becomes_ready_once_its_kit_is_reserved_in_date(workshop, hand):
    job = planned(workshop, hand)
    assert job["state"] == "planned"
    assert [one["code"] for one in job["state_reasons"]] == ["kit-not-reserved"]
    job = hand["planner"].post(f"jobs/{job['id']}/reserve-kit")
    assert (job["state"], job["state_reasons"]) == ("ready", [])
    assert job["reservations"][0]["allocations"][0]["lot"] == "L-1"


def test_the_last_kit_is_refused_to_a_second_job(workshop, hand):
    ready(workshop, hand)
    second = planned(workshop, hand)
    refused = hand["planner"].post(f"jobs/{second['id']}/reserve-kit", status=409)
    assert refused["code"] == "insufficient-stock"
    assert refused["alternatives"] == []


def test_nothing_is_recorded_before_making_safe_is_confirmed(workshop, hand):
    job = started(workshop, hand)
    refused = hand["fitter"].post(f"jobs/{job['id']}/steps/20/confirm", status=409)
    assert refused["code"] == "make-safe-first"
    refused = measure(
        hand, job, 20, "shaft-run-out", ["0", "0.01", "0.02", "0"], "mm", workshop.instruments["dial"], 409
    )
    assert refused["code"] == "make-safe-first"


def test_the_caution_stands_with_its_step(workshop, hand):
    job = started(workshop, hand)
    sheet = hand["fitter"].get(f"jobs/{job['id']}/steps")
    assert sheet["safety"].startswith("For trained and authorised people.")
    assert sheet["steps"][0]["signal_word"] == "danger"
    assert "Prove dead" in sheet["steps"][0]["caution"]


def test_a_rejected_run_out_needs_rework_and_a_measurement_that_passes(workshop, hand):
    job = safe(workshop, hand)
    dial = workshop.instruments["dial"]
    first = measure(hand, job, 20, "shaft-run-out", ["0", "0.04", "0.09", "0.03"], "mm", dial)
    assert (first["value"], first["verdict"]) == ("0.090000", "reject")
    found = hand["supervisor"].get(f"nonconformities?job={job['id']}")["results"]
    assert [one["state"] for one in found] == ["open"]
    refused = hand["fitter"].post(f"jobs/{job['id']}/steps/20/confirm", status=409)
    assert refused["code"] == "step-incomplete"
    hand["supervisor"].post(
        f"nonconformities/{found[0]['id']}/decide",
        {"disposition": "rework", "reason": "straighten"},
        seen=f"nonconformities/{found[0]['id']}",
    )
    again = measure(hand, job, 20, "shaft-run-out", ["0", "0.01", "0.03", "0.01"], "mm", dial)
    assert (again["attempt"], again["verdict"]) == (2, "accept")
    hand["fitter"].post(f"jobs/{job['id']}/steps/20/confirm")
    kept = step_of(hand, job, 20)["characteristics"][0]["measurements"]
    assert [one["verdict"] for one in kept] == ["reject", "accept"]
    assert hand["supervisor"].get(f"nonconformities?job={job['id']}")["results"][0]["state"] == "closed"


def test_an_instrument_overdue_for_calibration_cannot_accept(workshop, hand):
    job = safe(workshop, hand)
    made = measure(hand, job, 20, "shaft-run-out", ["0", "0", "0.01", "0"], "mm", workshop.instruments["overdue"])
    assert made["verdict"] == "not-proved"
    assert "calibration-overdue" in [one["code"] for one in made["reasons"]]
    hand["fitter"].post(f"jobs/{job['id']}/steps/20/confirm", status=409)


def test_a_reading_in_another_unit_is_judged_the_same(workshop, hand):
    job = safe(workshop, hand)
    made = measure(hand, job, 20, "shaft-run-out", ["0", "10", "30", "0"], "um", workshop.instruments["dial"])
    assert (made["value"], made["verdict"]) == ("0.030000", "accept")


def test_a_reading_of_another_kind_is_refused_with_the_field(workshop, hand):
    job = safe(workshop, hand)
    refused = measure(
        hand, job, 20, "shaft-run-out", ["0", "1", "2", "0"], "degC", workshop.instruments["dial"], status=422
    )
    assert [one["pointer"] for one in refused["errors"]] == ["#/unit"]


def test_the_bearing_is_heated_by_the_measured_seat_and_the_room(workshop, hand):
    """Formula and ceiling after the handbook rule in tests/jobs/calculations/test_bearing_heating.py."""
    job = safe(workshop, hand)
    advice = step_of(hand, job, 40)["advice"][0]
    assert "seat-diameter" in advice["waiting_for"]
    measure(hand, job, 30, "seat-diameter", ["40.008", "40.008", "40.008"], "mm", workshop.instruments["micrometer"])
    measure(hand, job, 30, "room-temperature", ["18"], "degC", workshop.instruments["thermometer"])
    advice = step_of(hand, job, 40)["advice"][0]
    assert advice["interference"] == {"value": "0.020", "unit": "mm"}
    assert 18 < float(advice["target"]["value"]) < 120
    assert (advice["ceiling"]["value"], advice["within_ceiling"]) == ("120", True)
    assert advice["cautions"]


def test_no_mineral_grease_on_epdm(workshop, hand):
    job = safe(workshop, hand)
    advice = {one["lubricant"]: one["verdict"] for one in step_of(hand, job, 50)["advice"]}
    assert advice["mineral-grease"] == "forbidden"
    assert advice["silicone-grease"] == "ok"
    assert advice["soft-soap"] == "ok"


def test_a_step_for_another_elastomer_does_not_apply_and_says_why(workshop, hand):
    job = started(workshop, hand)
    step = step_of(hand, job, 60)
    assert step["state"] == "not-applicable"
    assert "elastomer is EPDM" in step["why"]


def finished(cast, workshop, hand):
    job = safe(workshop, hand)
    tools = workshop.instruments
    measure(hand, job, 20, "shaft-run-out", ["0", "0.01", "0.02", "0"], "mm", tools["dial"])
    hand["fitter"].post(f"jobs/{job['id']}/steps/20/confirm")
    measure(hand, job, 30, "seat-diameter", ["40.008", "40.008", "40.008"], "mm", tools["micrometer"])
    measure(hand, job, 30, "room-temperature", ["18"], "degC", tools["thermometer"])
    waiting = hand["fitter"].post(f"jobs/{job['id']}/steps/30/confirm")
    assert waiting["state"] == "awaiting-release"
    refused = hand["fitter"].post(f"jobs/{job['id']}/steps/40/confirm", status=409)
    assert refused["code"] == "hold-point-waits"
    seen = f"jobs/{job['id']}/steps/30"
    hand["supervisor"].post(f"jobs/{job['id']}/steps/30/release", {"remark": "looked at it"}, seen=seen)
    taken = hand["fitter"].post(f"jobs/{job['id']}/take-kit", status=201)
    assert [(one["lot"], one["quantity"]) for one in taken["issued"]] == [("L-1", "1")]
    for number in (40, 50):
        hand["fitter"].post(f"jobs/{job['id']}/steps/{number}/confirm")
    return hand["fitter"].post(f"jobs/{job['id']}/finish", seen=f"jobs/{job['id']}")


def test_the_hold_point_is_released_by_another_person(cast, workshop, hand):
    job = safe(workshop, hand)
    measure(hand, job, 30, "seat-diameter", ["40.008"] * 3, "mm", workshop.instruments["micrometer"])
    measure(hand, job, 30, "room-temperature", ["18"], "degC", workshop.instruments["thermometer"])
    hand["supervisor"].post(f"jobs/{job['id']}/steps/30/confirm")
    refused = hand["supervisor"].post(
        f"jobs/{job['id']}/steps/30/release", seen=f"jobs/{job['id']}/steps/30", status=409
    )
    assert refused["code"] == "second-person-needed"


def test_sign_off_puts_what_was_fitted_on_the_pump_and_what_came_back_on_the_shelf(cast, workshop, hand):
    job = finished(cast, workshop, hand)
    assert job["state"] == "awaiting-sign-off"
    body = {"returned": [{"part": str(workshop.o_ring.pk), "quantity": "1", "reason": "old one was new"}]}
    closed = hand["supervisor"].post(f"jobs/{job['id']}/sign-off", body, seen=f"jobs/{job['id']}")
    assert closed["state"] == "closed"
    fitted = hand["reader"].get(f"pumps/{workshop.pump.pk}/fitted-parts")["results"]
    assert [(one["role"], one["part_number"], one["lot"]) for one in fitted] == [("bearing-de", "BRG-6308", "L-1")]
    back = hand["stores"].get(f"stock-balances?item={workshop.o_ring.pk}")["results"]
    assert [(one["on_hand"], one["condition"]) for one in back] == [("1", "quarantined")]
    signed = hand["reader"].get(f"jobs/{job['id']}/sign-offs")["results"]
    assert [one["kind"] for one in signed] == ["hold-point", "completion"]
    assert signed[1]["content"]["measurements"][0]["verdict"] == "accept"
    assert ledger_differences() == []
    kinds = set(Change.objects.values_list("kind", flat=True))
    assert {"job.planned", "job.readied", "job.started", "job.finished", "job.closed", "fitted-part.fitted"} <= kinds


def test_the_second_overhaul_marks_what_it_removes(cast, workshop, hand):
    first = finished(cast, workshop, hand)
    hand["supervisor"].post(f"jobs/{first['id']}/sign-off", seen=f"jobs/{first['id']}")
    put_on_shelf(cast.by("stores"), cast.north, workshop.kit, 1, lot="L-1")
    second = finished(cast, workshop, hand)
    hand["supervisor"].post(f"jobs/{second['id']}/sign-off", seen=f"jobs/{second['id']}")
    history = hand["reader"].get(f"pumps/{workshop.pump.pk}/fitted-parts?role=bearing-de")["results"]
    assert [one["job_number"] for one in history] == [second["number"], first["number"]]
    assert [one["removed_by_job"] for one in history] == [None, second["number"]]


def test_a_job_that_lapses_falls_back_to_planned_with_the_reason(cast, workshop, hand):
    job = ready(workshop, hand)
    Lot.objects.update(expires_on=TODAY)
    review_readiness(job_id=job["id"])
    lapsed = hand["planner"].get(f"jobs/{job['id']}")
    assert lapsed["state"] == "planned"
    assert [one["code"] for one in lapsed["state_reasons"]] == ["kit-out-of-date"]
    refused = hand["fitter"].post(f"jobs/{job['id']}/start", seen=f"jobs/{job['id']}", status=409)
    assert refused["code"] == "job-not-ready"


def test_the_same_measurement_sent_twice_is_recorded_once(workshop, hand):
    job = safe(workshop, hand)
    body = {
        "id": "01990000-0000-7000-8000-000000000001",
        "step": 20,
        "characteristic": "shaft-run-out",
        "readings": ["0", "0.01", "0.02", "0"],
        "unit": "mm",
        "instrument": str(workshop.instruments["dial"].pk),
    }
    first = hand["fitter"].post(f"jobs/{job['id']}/measurements", body, status=201)
    again = hand["fitter"].post(f"jobs/{job['id']}/measurements", body, status=201)
    assert first == again
    refused = hand["fitter"].post(
        f"jobs/{job['id']}/measurements", body | {"readings": ["0", "0", "0", "0"]}, status=409
    )
    assert refused["code"] == "measurement-id-used"


def test_a_hold_remembers_where_it_came_from(workshop, hand):
    job = started(workshop, hand)
    held = hand["fitter"].post(f"jobs/{job['id']}/hold", {"reason": "rain"}, seen=f"jobs/{job['id']}")
    assert held["state"] == "on-hold"
    resumed = hand["fitter"].post(f"jobs/{job['id']}/resume", seen=f"jobs/{job['id']}")
    assert resumed["state"] == "in-progress"


def test_cancelling_releases_the_kit(workshop, hand):
    job = ready(workshop, hand)
    hand["planner"].post(f"jobs/{job['id']}/cancel", {"reason": "pump is replaced"}, seen=f"jobs/{job['id']}")
    assert hand["stores"].get("stock-balances?kind=kit")["results"][0]["reserved"] == "0"


def test_a_stranger_knows_nothing_of_the_job(workshop, hand):
    job = planned(workshop, hand)
    for path in (f"jobs/{job['id']}", f"jobs/{job['id']}/steps", f"pumps/{workshop.pump.pk}/fits"):
        hand["stranger"].get(path, status=404)
    assert hand["stranger"].get("jobs")["results"] == []
    hand["stranger"].post(f"jobs/{job['id']}/reserve-kit", status=404)
