"""Concessions, hold points and sign-offs: by another person, over exactly what was seen."""

import pytest
from django.db import IntegrityError, transaction

from jobs.calculations.signed_content import content_hash
from jobs.models import Job, Nonconformity, SignOff
from jobs.operations.nonconformities import raise_nonconformity
from jobs.operations.steps import release_hold_point
from jobs.refusals import SecondPersonNeeded
from services.api.refusals import InvalidValue
from services.changes.models import Change
from tests.closed_jobs import BENT, STRAIGHT, concede, confirm, finished_job, measure, started_job
from tests.overhauls import hands
from tests.world import gather_cast, make_principal

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast():
    found = gather_cast()
    found.people["both"] = make_principal("both", ("fitter", found.north), ("supervisor", found.north))
    return found


@pytest.fixture
def bent(cast, workshop):
    """A job whose shaft runs out too far, measured by somebody who is a supervisor too."""
    job = started_job(cast, workshop)
    confirm(cast, job, 10)
    measure(cast, workshop, job, 20, "shaft-run-out", BENT, by="both")
    return job


def test_a_concession_is_not_given_by_who_measured(cast, bent):
    with pytest.raises(SecondPersonNeeded, match="raised it yourself"):
        concede(cast, Nonconformity.objects.get(), by="both")


def test_a_concession_is_not_given_by_who_worked_on_the_job(cast, workshop):
    job = started_job(cast, workshop)
    hand = hands(cast)
    hand["both"].post(f"jobs/{job.pk}/steps/10/confirm")
    measure(cast, workshop, job, 20, "shaft-run-out", BENT)
    found = Nonconformity.objects.get()
    refused = hand["both"].post(
        f"nonconformities/{found.pk}/decide",
        {"disposition": "use-as-is", "reason": "slow", "extent": "until the next overhaul"},
        seen=f"nonconformities/{found.pk}",
        status=409,
    )
    assert refused["code"] == "second-person-needed"
    assert "worked on this job" in refused["detail"]


def test_who_worked_on_the_job_may_have_it_reworked(cast, bent):
    found = concede(cast, Nonconformity.objects.get(), by="both", disposition="rework", extent="")
    assert found.state == "decided"


@pytest.mark.parametrize("extent", ["", "   "])
def test_a_concession_without_its_extent_is_refused_at_the_field(cast, bent, extent):
    with pytest.raises(InvalidValue) as refused:
        concede(cast, Nonconformity.objects.get(), extent=extent)
    assert [one.pointer for one in refused.value.problems] == ["#/extent"]


def test_the_database_keeps_a_concession_without_reason_or_extent_out(cast, bent):
    found = Nonconformity.objects.get()
    with pytest.raises(IntegrityError, match="concession_has_reason_and_extent"), transaction.atomic():
        Nonconformity.objects.filter(pk=found.pk).update(
            disposition="use-as-is", decided_by=cast.people["supervisor"], decision_reason="x"
        )


def test_a_concession_is_signed_over_what_was_measured_and_decided(cast, bent):
    found = concede(cast, Nonconformity.objects.get())
    signed = SignOff.objects.get()
    assert (signed.kind, signed.nonconformity_id, signed.by_id) == (
        "concession",
        found.pk,
        cast.people["supervisor"].pk,
    )
    assert signed.content_hash == content_hash(signed.content)
    assert signed.content["nonconformity"]["extent"] == "This shaft, until its next overhaul."
    assert signed.content["nonconformity"]["reason"] == "Runs slowly."
    assert [one["value"] for one in signed.content["measurements"]] == ["0.090000"]
    shown = hands(cast)["reader"].get(f"jobs/{bent.pk}/sign-offs")["results"]
    assert [(one["kind"], one["nonconformity"]) for one in shown] == [("concession", str(found.pk))]


def test_found_damage_is_conceded_like_a_measurement(cast, bent):
    with transaction.atomic():
        found = raise_nonconformity(
            by=cast.by("second-fitter"), job_id=bent.pk, description="Scored.", role="shaft-sleeve"
        )
    assert concede(cast, found).state == "closed"
    assert SignOff.objects.get(nonconformity=found).content["measurements"] == []


def test_the_release_of_a_hold_point_is_signed_over_step_limits_and_measurements(cast, workshop):
    finished_job(cast, workshop)
    signed = SignOff.objects.get(kind="hold-point")
    assert signed.content_hash == content_hash(signed.content)
    assert signed.content["step"]["number"] == 30
    assert signed.content["step"]["state"] == "awaiting-release"
    assert {one["characteristic"] for one in signed.content["limits"]} == {"seat-diameter", "room-temperature"}
    assert len(signed.content["measurements"]) == 2
    assert signed.remark == "looked at it"


def test_the_release_names_the_version_of_the_step_that_was_seen(cast, workshop):
    job = started_job(cast, workshop)
    path = f"jobs/{job.pk}/steps/30/release"
    answer = cast.client("supervisor").post(f"/api/v1/{path}", {}, format="json", headers={"Idempotency-Key": "a"})
    assert (answer.status_code, answer.json()["code"]) == (428, "version-missing")


def test_a_record_that_changed_since_it_was_read_is_not_signed(cast, workshop):
    """Found after the supervisor read it: both the job's version and the record's hash are others by then."""
    job, hand = finished_job(cast, workshop), hands(cast)
    read = hand["supervisor"].get(f"jobs/{job.pk}/record")["content_hash"]
    version = hand["supervisor"].client.get(f"/api/v1/jobs/{job.pk}").headers["ETag"]
    hand["fitter"].post("nonconformities", {"job": str(job.pk), "description": "A drip."}, status=201)
    found = Nonconformity.objects.get()
    concede(cast, found)
    answer = hand["supervisor"].client.post(
        f"/api/v1/jobs/{job.pk}/sign-off", {}, format="json", headers={"If-Match": version, "Idempotency-Key": "b"}
    )
    assert (answer.status_code, answer.json()["code"]) == (412, "version-changed")
    refused = hand["supervisor"].post(f"jobs/{job.pk}/sign-off", {"record": read}, seen=f"jobs/{job.pk}", status=412)
    assert refused["code"] == "record-changed"
    assert Change.objects.filter(kind="job.record-changed").count() == 2
    now = hand["supervisor"].get(f"jobs/{job.pk}/record")["content_hash"]
    assert refused["content_hash"] == now
    hand["supervisor"].post(f"jobs/{job.pk}/sign-off", {"record": now}, seen=f"jobs/{job.pk}")


def test_what_is_no_hash_is_refused_at_the_field(cast, workshop):
    job = finished_job(cast, workshop)
    refused = hands(cast)["supervisor"].post(
        f"jobs/{job.pk}/sign-off", {"record": "sha256:abc"}, seen=f"jobs/{job.pk}", status=422
    )
    assert [one["pointer"] for one in refused["errors"]] == ["#/record"]


def test_nothing_is_raised_on_a_closed_job(cast, workshop):
    job, hand = finished_job(cast, workshop), hands(cast)
    hand["supervisor"].post(f"jobs/{job.pk}/sign-off", seen=f"jobs/{job.pk}")
    refused = hand["fitter"].post("nonconformities", {"job": str(job.pk), "description": "Late."}, status=409)
    assert refused["code"] == "wrong-job-state"
    assert Job.objects.get(pk=job.pk).state == "closed"


def test_who_measured_at_a_hold_point_does_not_release_it(cast, workshop):
    job = started_job(cast, workshop)
    confirm(cast, job, 10)
    measure(cast, workshop, job, 20, "shaft-run-out", STRAIGHT)
    confirm(cast, job, 20)
    measure(cast, workshop, job, 30, "seat-diameter", ["40.008"] * 3, by="supervisor")
    measure(cast, workshop, job, 30, "room-temperature", ["18"])
    step = confirm(cast, job, 30)
    with pytest.raises(SecondPersonNeeded), transaction.atomic():
        release_hold_point(by=cast.by("supervisor"), job_id=job.pk, number=30, expected_version=step.version)
