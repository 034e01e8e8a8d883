"""What an app takes along when it leaves the network."""

import datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.overhauls import TODAY

pytestmark = pytest.mark.django_db


def plan(cast, workshop, hand, days=1):
    day = (TODAY + datetime.timedelta(days=days)).isoformat()
    who = str(cast.by("fitter").id)
    body = {"pump": str(workshop.pump.pk), "kit": str(workshop.kit.pk), "planned_start": day, "assignee": who}
    return hand["planner"].post("jobs", body, status=201)


@pytest.fixture
def job(cast, workshop, hand):
    made = plan(cast, workshop, hand)
    hand["planner"].post(f"jobs/{made['id']}/reserve-kit")
    return hand["fitter"].post(f"jobs/{made['id']}/start", seen=f"jobs/{made['id']}")


def test_the_bundle_holds_all_that_a_phone_needs_to_show_a_verdict(job, workshop, hand):
    bundle = hand["fitter"].get("work-bundle")
    (found,) = bundle["jobs"]
    assert (found["number"], found["pump_serial_number"]) == (job["number"], "NB2019-0117")
    assert [one["caution"] for one in found["steps"] if one["number"] == 10] == [
        "Stored energy kills. Prove dead before touching."
    ]
    asked = next(one for one in found["steps"] if one["number"] == 20)["characteristics"][0]
    assert (asked["upper"], asked["rule"], asked["decision_rule"]) == (
        "0.050000",
        "total-indicator-reading",
        "guard-band",
    )
    assert asked["guard_factor"]
    (site,) = bundle["sites"]
    dial = next(one for one in site["instruments"] if one["number"] == "DI-1")
    assert (dial["expanded_uncertainty"], dial["resolution"]) == ("0.002000", "0.001000")
    assert found["reservations"][0]["allocations"][0]["lot"] == "L-1"
    assert [one["number"] for one in found["kit_lines"]] == ["OR-226-E", "BRG-6308"]
    assert "Site rules" in bundle["safety"]


def test_the_bundle_holds_what_a_finding_and_the_next_part_ask_for(job, workshop, hand):
    asked = {"part": str(workshop.bearing.pk), "quantity": "1", "role": "bearing-de", "reason": "the first one fell"}
    extra = hand["fitter"].post(f"jobs/{job['id']}/extra-parts", asked, status=201)
    bundle, listed = hand["fitter"].get("work-bundle"), hand["fitter"].get("failure-codes")
    assert bundle["codes"] == listed["codes"]
    assert bundle["replacement_reasons"] == listed["replacement_reasons"]
    assert {"bearing-de", "shaft-seal"} <= set(bundle["positions"])
    (found,) = bundle["jobs"][0]["extra_parts"]
    assert (found["id"], found["number"], found["state"]) == (extra["id"], workshop.bearing.number, "asked")


def test_the_version_stays_until_something_changes(job, cast, hand):
    client = cast.client("fitter")
    first = client.get("/api/v1/work-bundle")
    same = client.get("/api/v1/work-bundle", headers={"If-None-Match": first.headers["ETag"]})
    assert same.status_code == 304
    hand["fitter"].post(f"jobs/{job['id']}/steps/10/confirm")
    after = client.get("/api/v1/work-bundle", headers={"If-None-Match": first.headers["ETag"]})
    assert after.status_code == 200
    assert after.json()["version"] != first.json()["version"]


def test_the_bundle_holds_ones_own_jobs_unless_everybodys_are_asked_for(job, hand):
    assert hand["second-fitter"].get("work-bundle")["jobs"] == []
    assert len(hand["second-fitter"].get("work-bundle?of_everybody=true")["jobs"]) == 1
    assert hand["stranger"].get("work-bundle?of_everybody=true")["jobs"] == []


def test_six_jobs_take_as_many_statements_as_one(job, cast, workshop, hand):
    client = cast.client("fitter")
    with CaptureQueriesContext(connection) as one:
        client.get("/api/v1/work-bundle")
    for days in range(2, 7):
        plan(cast, workshop, hand, days)
    with CaptureQueriesContext(connection) as six:
        client.get("/api/v1/work-bundle")
    assert len(six) == len(one)
