"""Offline records that come when a job is at its end, that wait in vain, or that no honest device would send."""

import datetime

import pytest
from django.utils import timezone

from jobs.models import Job, JobStep, OfflineRecord
from jobs.queries.record_chain import Verified, verify_all
from services.api.identifiers import new_id
from tests.closed_jobs import closed_job, confirm, finished_job, measure, signed_off, started_job

pytestmark = pytest.mark.django_db


def record(job, kind, **content):
    at = timezone.now() - datetime.timedelta(minutes=30)
    return {"id": str(new_id()), "kind": kind, "job": str(job.pk), "occurred_at": at.isoformat()} | content


def send(hand, *records, who="fitter"):
    return hand[who].post("offline-records", {"device": "phone", "records": list(records)})["results"]


def faults():
    return [one.words() for one in verify_all(Verified())]


def test_what_comes_after_the_sign_off_is_kept_and_the_signed_record_stays_whole(cast, workshop, hand):
    job = closed_job(cast, workshop)
    late = send(hand, record(job, "step-confirmation", step=40))[0]
    assert late["outcome"] == "conflict"
    assert faults() == []
    kept = OfflineRecord.objects.get(job=job)
    body = {"decision": "set-aside", "reason": "The job was signed off before."}
    hand["supervisor"].post(f"offline-records/{kept.pk}/settle", body, seen=f"offline-records/{kept.pk}")
    assert faults() == []


def test_a_job_is_not_signed_off_over_records_that_came_after_it_was_finished(cast, workshop, hand):
    job = finished_job(cast, workshop)
    send(hand, record(job, "step-confirmation", step=40))
    body = {"remark": "Quiet and tight."}
    told = hand["supervisor"].post(f"jobs/{job.pk}/sign-off", body, seen=f"jobs/{job.pk}", status=409)
    assert told["code"] == "offline-records-unsettled"


def test_who_signs_off_sees_first_what_became_of_a_late_record(cast, workshop, hand):
    job = finished_job(cast, workshop)
    send(hand, record(job, "step-confirmation", step=40))
    seen = Job.objects.get(pk=job.pk).version
    kept = OfflineRecord.objects.get(job=job)
    body = {"decision": "set-aside", "reason": "Confirmed online already."}
    hand["supervisor"].post(f"offline-records/{kept.pk}/settle", body, seen=f"offline-records/{kept.pk}")
    assert Job.objects.get(pk=job.pk).version > seen
    job.refresh_from_db()
    signed_off(cast, job)
    assert faults() == []


def test_a_measurement_that_comes_late_is_seen_before_the_hold_point_is_released(cast, workshop, hand):
    job = started_job(cast, workshop)
    confirm(cast, job, 10)
    measure(cast, workshop, job, 20, "shaft-run-out", ("0", "0.01", "0.02", "0"))
    confirm(cast, job, 20)
    measure(cast, workshop, job, 30, "seat-diameter", ["40.008"] * 3)
    measure(cast, workshop, job, 30, "room-temperature", ["18"])
    looked_at = confirm(cast, job, 30).version
    late = record(
        job,
        "measurement",
        step=30,
        characteristic="seat-diameter",
        readings=["40.009", "40.009", "40.009"],
        unit="mm",
        instrument=str(workshop.instruments["micrometer"].pk),
    )
    assert send(hand, late)[0]["outcome"] == "applied"
    assert JobStep.objects.get(job=job, number=30).version > looked_at


@pytest.mark.parametrize(
    "changes",
    [
        {"kind": []},
        {"kind": {}},
        {"kind": 5},
        {"occurred_at": "0001-01-01T00:00:00+14:00"},
        {"occurred_at": "9999-12-31T23:59:59-12:00"},
        {"id": []},
        {"job": {}},
    ],
)
def test_what_no_device_should_send_is_unreadable_and_keeps_no_other_back(cast, workshop, hand, changes):
    job = started_job(cast, workshop)
    sent = send(hand, record(job, "step-confirmation", step=10) | changes, record(job, "step-confirmation", step=10))
    assert [one["outcome"] for one in sent] == ["unreadable", "applied"]


@pytest.mark.parametrize(
    ("kind", "content"),
    [
        ("work-booking", {"minutes": 5, "step": 20, "note": "n" * 301}),
        ("nonconformity", {"description": "scored", "role": "r" * 61}),
        ("finding", {"role": "r" * 61, "observed": "scored", "mode": "VIB", "step": 20}),
    ],
)
def test_a_text_that_is_too_long_holds_up_no_record_that_comes_later(cast, workshop, hand, kind, content):
    job = started_job(cast, workshop)
    sent = send(hand, record(job, kind, **content))[0]
    assert sent["outcome"] in {"unreadable", "conflict"}
    assert "database" not in sent["sentence"]
    assert send(hand, record(job, "step-confirmation", step=10))[0]["outcome"] == "applied"


def test_a_device_whose_answer_got_lost_is_told_the_verdict_again(cast, workshop, hand):
    job = started_job(cast, workshop)
    confirm(cast, job, 10)
    readings = ["0", "0.04", "0.09", "0.03"]
    dial = str(workshop.instruments["dial"].pk)
    content = {"step": 20, "characteristic": "shaft-run-out", "readings": readings, "unit": "mm", "instrument": dial}
    sent = record(job, "measurement", **content)
    first, again = send(hand, sent)[0], send(hand, sent)[0]
    assert (first["outcome"], first["verdict"]) == ("applied", "reject")
    assert (again["outcome"], again["verdict"]) == ("known", "reject")


@pytest.mark.parametrize("reading", ["1_0", "٠.٠١", "1e3000", "0x1", "9" * 1900, "1e-3000"])
def test_readings_are_numbers_offline_as_they_are_online(cast, workshop, hand, reading):
    job = started_job(cast, workshop)
    confirm(cast, job, 10)
    dial = str(workshop.instruments["dial"].pk)
    content = {"step": 20, "characteristic": "shaft-run-out", "unit": "mm", "instrument": dial}
    sent = record(job, "measurement", readings=["0", "0", "0", reading], as_read=True, **content)
    assert send(hand, sent)[0]["outcome"] == "conflict"


@pytest.mark.parametrize("given", [{"a": True}, {"sag": 7}, {"a": "x" * 2000}])
def test_what_else_is_sent_with_readings_is_judged_or_kept_for_a_person(cast, workshop, hand, given):
    job = started_job(cast, workshop)
    confirm(cast, job, 10)
    dial = str(workshop.instruments["dial"].pk)
    content = {"step": 20, "characteristic": "shaft-run-out", "unit": "mm", "instrument": dial, "given": given}
    assert send(hand, record(job, "measurement", readings=["0"] * 4, **content))[0]["outcome"] == "conflict"
