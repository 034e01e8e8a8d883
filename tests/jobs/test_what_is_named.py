"""People, units and quantities that a request names are held against what is known."""

import pytest
from django.db import transaction
from django.test import Client

from jobs.models import JobReturn
from jobs.operations.closing import finish_job, sign_off, take_kit
from jobs.operations.steps import release_hold_point
from jobs.refusals import SecondPersonNeeded
from tests.closed_jobs import STRAIGHT, confirm, measure, started_job
from tests.jobs.test_extra_parts import ask, give_back
from tests.jobs.test_overhaul import safe
from tests.overhauls import TODAY
from tests.shelves import make_part, put_on_shelf

pytestmark = pytest.mark.django_db

GAUGE = {
    "number": "PG-1", "type": "pressure-gauge", "range_from": "0", "range_to": "16", "unit": "bar",
    "resolution": "0.1", "expanded_uncertainty": "0.1", "calibrated_on": "2026-01-05", "calibration_due": "2027-01-05",
}  # fmt: skip


@pytest.mark.parametrize("login", ["stranger", "stores", "nobody"])
def test_a_job_is_planned_for_a_fitter_or_supervisor_of_its_site(cast, workshop, hand, login):
    body = {
        "pump": str(workshop.pump.pk), "kit": str(workshop.kit.pk), "planned_start": TODAY.isoformat(),
        "assignee": str(cast.people[login].pk),
    }  # fmt: skip
    refused = hand["planner"].post("jobs", body, status=422)
    assert [one["pointer"] for one in refused["errors"]] == ["#/assignee"]
    made = hand["planner"].post("jobs", body | {"assignee": str(cast.people["fitter"].pk)}, status=201)
    assert made["assignee_name"] == "Fitter"


def test_an_instrument_reads_in_a_unit_that_is_known(cast, hand):
    body = GAUGE | {"site": str(cast.north.pk)}
    refused = hand["planner"].post("instruments", body | {"unit": "furlong"}, status=422)
    assert [one["pointer"] for one in refused["errors"]] == ["#/unit"]
    hand["planner"].post("instruments", body, status=201)


def test_nothing_does_not_come_back(cast, workshop, hand):
    part = make_part("SLV-43")
    put_on_shelf(cast.by("stores"), cast.north, part, 1, lot="S-1", cured=None)
    job = safe(workshop, hand)
    asked = ask(hand, job, part)
    hand["fitter"].post(f"extra-parts/{asked['id']}/take")
    refused = give_back(hand, job, part, quantity="0", status=422, extra_part=asked["id"])
    assert [one["pointer"] for one in refused["errors"]] == ["#/quantity"]
    assert not JobReturn.objects.exists()


def test_who_measured_on_a_job_does_not_sign_it_off(cast, workshop):
    job = started_job(cast, workshop)
    confirm(cast, job, 10)
    measure(cast, workshop, job, 20, "shaft-run-out", STRAIGHT, by="supervisor")
    confirm(cast, job, 20)
    measure(cast, workshop, job, 30, "seat-diameter", ["40.008"] * 3)
    measure(cast, workshop, job, 30, "room-temperature", ["18"])
    step = confirm(cast, job, 30)
    with transaction.atomic():
        release_hold_point(by=cast.by("supervisor"), job_id=job.pk, number=30, expected_version=step.version)
        take_kit(by=cast.by("fitter"), job_id=job.pk)
    for number in (40, 50):
        confirm(cast, job, number)
    job.refresh_from_db()
    with transaction.atomic():
        job = finish_job(by=cast.by("fitter"), job_id=job.pk, expected_version=job.version)
    with pytest.raises(SecondPersonNeeded), transaction.atomic():
        sign_off(by=cast.by("supervisor"), job_id=job.pk, expected_version=job.version)
    page = Client()
    page.force_login(cast.people["supervisor"])
    shown = page.get(f"/workshop/jobs/{job.pk}").content.decode()
    assert "Sign: the record is right" not in shown
    assert "You worked on this job yourself." in shown
