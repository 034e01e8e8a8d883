"""What must wait becomes a follow-up job; the pump goes back together without it."""

import datetime

import pytest

from tests.jobs.test_overhaul import measure, ready, safe, started
from tests.overhauls import TODAY
from tests.shelves import put_on_shelf

pytestmark = pytest.mark.django_db


NEXT_WEEK = (TODAY + datetime.timedelta(days=7)).isoformat()


def split(hand, job, steps, status=201, **more):
    body = {"steps": steps, "planned_start": NEXT_WEEK, "reason": "the O-ring was cut", **more}
    return hand["supervisor"].post(f"jobs/{job['id']}/split", body, seen=f"jobs/{job['id']}", status=status)


def inspected(workshop, hand):
    """The job with everything done but the O-rings."""
    job, tools = safe(workshop, hand), workshop.instruments
    measure(hand, job, 20, "shaft-run-out", ["0", "0.01", "0.02", "0"], "mm", tools["dial"])
    hand["fitter"].post(f"jobs/{job['id']}/steps/20/confirm")
    measure(hand, job, 30, "seat-diameter", ["40.008"] * 3, "mm", tools["micrometer"])
    measure(hand, job, 30, "room-temperature", ["18"], "degC", tools["thermometer"])
    hand["fitter"].post(f"jobs/{job['id']}/steps/30/confirm")
    hand["supervisor"].post(f"jobs/{job['id']}/steps/30/release", seen=f"jobs/{job['id']}/steps/30")
    hand["fitter"].post(f"jobs/{job['id']}/take-kit", status=201)
    hand["fitter"].post(f"jobs/{job['id']}/steps/40/confirm")
    return job


def part(workshop):
    return {"part": str(workshop.o_ring.pk), "quantity": "1", "role": "casing-o-ring"}


def states(hand, job):
    return {one["number"]: one["state"] for one in hand["fitter"].get(f"jobs/{job['id']}/steps")["steps"]}


def test_the_follow_up_has_a_number_of_its_own_and_waits_for_its_part(workshop, hand):
    job = inspected(workshop, hand)
    follow_up = split(hand, job, [50], parts=[part(workshop)])
    assert follow_up["number"] != job["number"]
    assert (follow_up["follows"], follow_up["takes_kit"]) == (job["id"], False)
    assert (follow_up["planned_start"], follow_up["state"]) == (NEXT_WEEK, "planned")
    assert [one["code"] for one in follow_up["state_reasons"]] == ["extra-part-not-reserved"]
    sheet = hand["fitter"].get(f"jobs/{job['id']}/steps/50")
    assert (sheet["state"], sheet["moved_to_number"]) == ("moved", follow_up["number"])


def test_parts_of_a_position_that_waits_come_back_and_are_not_fitted(workshop, hand):
    job = inspected(workshop, hand)
    split(hand, job, [50])
    hand["fitter"].post(f"jobs/{job['id']}/finish", seen=f"jobs/{job['id']}")
    refused = hand["supervisor"].post(f"jobs/{job['id']}/sign-off", seen=f"jobs/{job['id']}", status=422)
    assert refused["positions"] == ["casing-o-ring"]
    body = {"returned": [{"part": str(workshop.o_ring.pk), "quantity": "1"}]}
    hand["supervisor"].post(f"jobs/{job['id']}/sign-off", body, seen=f"jobs/{job['id']}")
    fitted = hand["reader"].get(f"pumps/{workshop.pump.pk}/fitted-parts")["results"]
    assert [one["role"] for one in fitted] == ["bearing-de"]


def test_the_follow_up_makes_safe_again_and_does_what_was_left_and_no_more(cast, workshop, hand):
    job = inspected(workshop, hand)
    follow_up = split(hand, job, [50], parts=[part(workshop)])
    hand["fitter"].post(f"jobs/{job['id']}/finish", seen=f"jobs/{job['id']}")
    put_on_shelf(cast.by("stores"), cast.north, workshop.o_ring, 1, lot="R-1")
    asked = hand["fitter"].get(f"jobs/{follow_up['id']}/extra-parts")["results"][0]
    assert hand["planner"].post(f"extra-parts/{asked['id']}/reserve")["claim"] == "hard"
    address = f"jobs/{follow_up['id']}"
    assert hand["planner"].get(address)["state"] == "ready"
    hand["fitter"].post(f"{address}/start", seen=address)
    assert states(hand, follow_up) == {
        10: "open", 20: "not-applicable", 30: "not-applicable", 40: "not-applicable", 50: "open", 60: "not-applicable",
    }  # fmt: skip
    assert hand["fitter"].get(f"{address}/steps/20")["done_under"] == job["number"]
    assert hand["fitter"].post(f"{address}/steps/50/confirm", status=409)["code"] == "make-safe-first"
    for number in (10, 50):
        hand["fitter"].post(f"{address}/steps/{number}/confirm")
    hand["fitter"].post(f"extra-parts/{asked['id']}/take")
    hand["fitter"].post(f"{address}/finish", seen=address)
    hand["supervisor"].post(f"{address}/sign-off", seen=address)
    fitted = hand["reader"].get(f"pumps/{workshop.pump.pk}/fitted-parts?role=casing-o-ring")["results"]
    assert [(one["lot"], one["job_number"]) for one in fitted] == [("R-1", follow_up["number"])]


def test_a_follow_up_repeats_what_it_is_told_to(cast, workshop, hand):
    job = inspected(workshop, hand)
    follow_up = split(hand, job, [50], repeats=[20])
    hand["fitter"].post(f"jobs/{follow_up['id']}/start", seen=f"jobs/{follow_up['id']}")
    assert states(hand, follow_up)[20] == "open"
    assert states(hand, follow_up)[40] == "not-applicable"


def test_making_safe_and_done_work_cannot_wait(workshop, hand):
    job = safe(workshop, hand)
    refused = split(hand, job, [10, 50, 77], status=409)
    assert refused["code"] == "cannot-be-split"
    assert len(refused["errors"]) == 2
    assert states(hand, job)[50] == "open"


def test_only_work_that_goes_on_is_split(workshop, hand):
    job = ready(workshop, hand)
    assert split(hand, job, [50], status=409)["code"] == "wrong-job-state"


def test_a_kit_that_did_not_come_moves_along_and_the_first_visit_needs_none(workshop, hand):
    job = safe(workshop, hand)
    follow_up = split(hand, job, [20, 30, 40, 50], moves_kit=True)
    assert follow_up["takes_kit"] is True
    assert [one["state"] for one in follow_up["reservations"]] == ["soft"]
    assert hand["planner"].post(f"jobs/{follow_up['id']}/reserve-kit")["state"] == "ready"
    here = hand["fitter"].post(f"jobs/{job['id']}/finish", seen=f"jobs/{job['id']}")
    assert (here["state"], here["takes_kit"]) == ("awaiting-sign-off", False)


def test_a_kit_that_was_issued_stays(workshop, hand):
    job = inspected(workshop, hand)
    assert split(hand, job, [50], moves_kit=True, status=409)["code"] == "cannot-be-split"


def test_a_part_asked_for_here_is_claimed_for_the_follow_up_instead(workshop, hand):
    job = safe(workshop, hand)
    asked = hand["fitter"].post(f"jobs/{job['id']}/extra-parts", {**part(workshop), "reason": "cut"}, status=201)
    follow_up = split(hand, job, [50], extra_parts=[asked["id"]])
    assert hand["fitter"].get(f"extra-parts/{asked['id']}")["state"] == "withdrawn"
    there = hand["fitter"].get(f"jobs/{follow_up['id']}/extra-parts")["results"]
    assert [(one["part"], one["reason"]) for one in there] == [(str(workshop.o_ring.pk), "cut")]


def test_a_rejected_measurement_is_settled_before_the_pump_goes_back(workshop, hand):
    job = safe(workshop, hand)
    measure(hand, job, 20, "shaft-run-out", ["0", "0.04", "0.09", "0.03"], "mm", workshop.instruments["dial"])
    split(hand, job, [20, 30, 40, 50], moves_kit=True)
    refused = hand["fitter"].post(f"jobs/{job['id']}/finish", seen=f"jobs/{job['id']}", status=409)
    assert refused["code"] == "open-nonconformity"


def test_both_jobs_tell_of_the_split(workshop, hand):
    job = started(workshop, hand)
    follow_up = split(hand, job, [50])
    here = hand["reader"].get(f"jobs/{job['id']}/history?kind=job.split")["results"][0]
    assert (here["facts"]["steps"], here["facts"]["follow_up_number"]) == ([50], follow_up["number"])
    there = hand["reader"].get(f"jobs/{follow_up['id']}/history")["results"][0]
    assert (there["kind"], there["facts"]["follows_number"]) == ("job.planned", job["number"])
