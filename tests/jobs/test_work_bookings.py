"""Time is booked by person and step, corrected beside what was booked, and added up."""

import pytest

from tests.jobs.test_overhaul import planned, safe, started

pytestmark = pytest.mark.django_db


ID = "01990000-0000-7000-8000-0000000000f1"


def book(hand, job, by="fitter", status=201, **body):
    return hand[by].post(f"jobs/{job['id']}/work", body, status=status)


def totals(hand, job):
    return hand["reader"].get(f"jobs/{job['id']}/work-totals")


def test_minutes_add_up_by_section_step_and_person(workshop, hand):
    job = safe(workshop, hand)
    for by, step, minutes in (("fitter", 10, 20), ("fitter", 20, 45), ("second-fitter", 30, 15)):
        book(hand, job, by, step=step, minutes=minutes)
    book(hand, job, minutes=30, note="fetched the hoist")
    found = totals(hand, job)
    assert found["minutes"] == 110
    assert {one["section"]: one["minutes"] for one in found["by_section"]} == {
        "make-safe": 20, "clean-and-inspect": 60, "whole-job": 30,
    }  # fmt: skip
    assert {one["step"]: one["minutes"] for one in found["by_step"]} == {10: 20, 20: 45, 30: 15}
    assert {one["person"]: one["minutes"] for one in found["by_person"]} == {"Fitter": 95, "Second Fitter": 15}


def test_a_beginning_and_an_end_make_the_minutes(workshop, hand):
    job = safe(workshop, hand)
    day = job["started_at"][:10]
    made = book(hand, job, step=20, started_at=f"{day}T00:00:00Z", ended_at=f"{day}T00:00:59Z", status=201)
    assert made["minutes"] == 1


def test_a_correction_stands_beside_what_it_corrects(workshop, hand):
    job = safe(workshop, hand)
    wrong = book(hand, job, step=20, minutes=450)
    right = book(hand, job, step=20, minutes=45, corrects=wrong["id"])
    rows = hand["reader"].get(f"jobs/{job['id']}/work")["results"]
    assert [(one["minutes"], one["corrects"], one["corrected_by"]) for one in rows] == [
        (450, None, right["id"]), (45, wrong["id"], None),
    ]  # fmt: skip
    assert totals(hand, job)["minutes"] == 45
    assert book(hand, job, minutes=40, corrects=wrong["id"], status=409)["code"] == "already-corrected"


def test_a_booking_is_taken_back_by_a_correction_of_nothing(workshop, hand):
    job = safe(workshop, hand)
    wrong = book(hand, job, minutes=45)
    book(hand, job, minutes=0, corrects=wrong["id"])
    assert totals(hand, job)["minutes"] == 0
    assert book(hand, job, minutes=0, status=422)["errors"][0]["pointer"] == "#/minutes"


def test_one_books_ones_own_time_and_a_supervisor_that_of_others(cast, workshop, hand):
    job = safe(workshop, hand)
    other = str(cast.people["second-fitter"].pk)
    assert book(hand, job, minutes=5, person=other, status=403)["code"] == "not-allowed"
    made = book(hand, job, "supervisor", minutes=5, person=other)
    assert (made["person_name"], made["by"]) == ("Second Fitter", "Supervisor")
    stranger = str(cast.people["stranger"].pk)
    assert book(hand, job, "supervisor", minutes=5, person=stranger, status=422)["errors"][0]["pointer"] == "#/person"


def test_another_fitter_does_not_correct_ones_booking(workshop, hand):
    job = safe(workshop, hand)
    mine = book(hand, job, minutes=45)
    assert book(hand, job, "second-fitter", minutes=5, corrects=mine["id"], status=403)["code"] == "not-allowed"


def test_no_time_is_booked_on_later_steps_before_making_safe(workshop, hand):
    job = started(workshop, hand)
    assert book(hand, job, step=20, minutes=5, status=409)["code"] == "make-safe-first"
    book(hand, job, step=10, minutes=5)


def test_times_that_make_no_sense_are_refused(workshop, hand):
    job = safe(workshop, hand)
    assert book(hand, job, status=422)["errors"][0]["pointer"] == "#/minutes"
    assert book(hand, job, minutes=5, started_at="2020-01-01T00:00:00Z", status=422)["errors"]
    late = {"started_at": "2999-01-01T08:00:00Z", "ended_at": "2999-01-01T09:00:00Z"}
    assert book(hand, job, **late, status=422)["errors"][0]["pointer"] == "#/started_at"
    assert book(hand, planned(workshop, hand), minutes=5, status=409)["code"] == "wrong-job-state"


def test_what_a_phone_sends_twice_is_kept_once(workshop, hand):
    job = safe(workshop, hand)
    first = book(hand, job, id=ID, step=20, minutes=5)
    assert book(hand, job, id=ID, step=20, minutes=5)["id"] == first["id"]
    assert len(hand["reader"].get(f"jobs/{job['id']}/work")["results"]) == 1
    book(hand, job, id=ID, step=20, minutes=6, status=409)
