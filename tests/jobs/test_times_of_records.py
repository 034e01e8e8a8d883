"""When something happened, as devices say: not in the future, nor so long ago that an old lot passes for a good one."""

import datetime

import pytest
from django.utils import timezone

from tests.closed_jobs import confirm, measure, started_job
from tests.overhauls import hands, open_workshop

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("away", [datetime.timedelta(minutes=6), datetime.timedelta(days=-91)])
def test_neither_a_kit_nor_a_step_is_dated_out_of_reach(cast, away):
    workshop, hand = open_workshop(cast), hands(cast)
    job = started_job(cast, workshop)
    body = {"occurred_at": (timezone.now() + away).isoformat()}
    assert hand["fitter"].post(f"jobs/{job.pk}/take-kit", body, status=422)["errors"][0]["pointer"] == "#/occurred_at"
    told = hand["fitter"].post(f"jobs/{job.pk}/steps/10/confirm", body, status=422)
    assert told["errors"][0]["pointer"] == "#/occurred_at"


def test_a_step_is_confirmed_as_of_when_it_was_done(cast):
    workshop, hand = open_workshop(cast), hands(cast)
    job = started_job(cast, workshop)
    confirm(cast, job, 10)
    measure(cast, workshop, job, 20, "shaft-run-out", ("0", "0.01", "0.02", "0"))
    at = timezone.now() - datetime.timedelta(hours=3)
    done = hand["fitter"].post(f"jobs/{job.pk}/steps/20/confirm", {"occurred_at": at.isoformat()})
    assert datetime.datetime.fromisoformat(done["done_at"]) == at


def test_nothing_was_done_or_measured_before_the_job_began(cast):
    """A pressure read two days before the valves were closed proves nothing."""
    workshop, hand = open_workshop(cast), hands(cast)
    job = started_job(cast, workshop)
    before = {"occurred_at": (timezone.now() - datetime.timedelta(days=2)).isoformat()}
    told = hand["fitter"].post(f"jobs/{job.pk}/steps/10/confirm", before, status=422)
    assert (told["errors"][0]["pointer"], "started more than a day later" in told["detail"]) == ("#/occurred_at", True)
    confirm(cast, job, 10)
    body = {"step": 20, "characteristic": "shaft-run-out", "readings": ["0"] * 4, "unit": "mm"}
    body |= {"instrument": str(workshop.instruments["dial"].pk)} | before
    told = hand["fitter"].post(f"jobs/{job.pk}/measurements", body, status=422)
    assert told["errors"][0]["pointer"] == "#/occurred_at"
