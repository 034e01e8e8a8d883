"""A job whose reserved kit is not on the shelf when that is counted."""

import pytest

from jobs.tasks import review_ready_jobs
from kits.models import CountSettings
from tests.jobs.test_overhaul import ready
from tests.overhauls import hands, open_workshop
from tests.world import gather_cast

pytestmark = pytest.mark.django_db


def test_a_job_whose_kit_a_count_does_not_find_is_not_ready_any_more():
    cast = gather_cast()
    workshop = open_workshop(cast)
    hand = hands(cast)
    job = ready(workshop, hand)
    assert job["state"] == "ready"
    CountSettings.objects.create(site=cast.north, value_limit=10**6, currency="EUR")
    body = {"site": str(cast.north.pk), "items": [str(workshop.kit.pk)]}
    sheet = hand["stores"].post("counts", body, status=201)
    entries = [{"line": one["line"], "quantity": "0"} for one in sheet["lines"]]
    hand["fitter"].post(f"counts/{sheet['id']}/entries", {"entries": entries})
    for what in ("submit", "post"):
        hand["stores"].post(f"counts/{sheet['id']}/{what}", seen=f"counts/{sheet['id']}")
    review_ready_jobs()
    job = hand["planner"].get(f"jobs/{job['id']}")
    assert job["state"] == "planned"
    assert [one["code"] for one in job["state_reasons"]] == ["kit-not-reserved"]
    assert job["reservations"][0]["state"] == "soft"
