"""When pumps should be overhauled next, over the API, and what wear does to the forecast of a site."""

import datetime

import numpy as np
import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from assets.models import Pump
from jobs.models import OverhaulInterval
from jobs.operations.overhaul_forecasts import forecast_overhauls
from kits.models import FitResult
from tests.measured import TODAY, measure, overhaul, ring_procedure, run_evenly
from tests.overhauls import open_workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop(cast):
    made = open_workshop(cast)
    ring_procedure(cast)
    return made


@pytest.fixture
def pump(workshop):
    run_evenly(workshop.pump, 1000)
    return Pump.objects.get(pk=workshop.pump.pk)


def wear(cast, workshop, pump, *gaps):
    for days, gap in zip((800, 600, 400, 100), gaps, strict=True):
        measure(cast, workshop, overhaul(cast, workshop, pump, days), gap)


def by_kind(answer):
    return {one["kind"]: one for one in answer["candidates"]}


def test_four_reasons_are_shown_and_the_earliest_decides(cast, workshop, pump, hand):
    wear(cast, workshop, pump, "0.171", "0.192", "0.210", "0.238")
    answer = hand["planner"].get(f"pumps/{pump.pk}/next-overhaul")
    found = by_kind(answer)
    assert list(found) == ["calendar", "hours", "wear", "risk"]
    last = TODAY - datetime.timedelta(days=100)
    assert found["calendar"]["day"] == last.replace(year=last.year + 3).isoformat()
    assert found["hours"]["day"] == (TODAY + datetime.timedelta(days=700)).isoformat()
    assert found["wear"]["characteristic"] == "wear-ring-gap"
    assert answer["day"] == min(one["day"] for one in answer["candidates"] if one["day"])
    (decides,) = [one["kind"] for one in answer["candidates"] if one["decides"]]
    assert answer["decided_by"] == decides
    assert answer["interval"]["source"] == "common practice, no source"
    assert "replaces no look at the pump" in answer["words"]


def test_a_ring_that_wears_fast_comes_before_every_interval(cast, workshop, pump, hand):
    wear(cast, workshop, pump, "0.170", "0.191", "0.209", "0.2905")
    measure(cast, workshop, overhaul(cast, workshop, pump, 20), "0.2995", verdict="accept")
    answer = hand["planner"].get(f"pumps/{pump.pk}/next-overhaul")
    assert answer["decided_by"] in {"wear", "risk"}
    assert by_kind(answer)["wear"]["day"] < by_kind(answer)["hours"]["day"]


def test_on_the_day_its_overhaul_ends_a_pump_has_run_no_hours_since(cast, workshop, pump, hand):
    """The day counts as that of the overhaul, at whatever hour it ended; the hours from the one before are a life."""
    wear(cast, workshop, pump, "0.171", "0.192", "0.210", "0.238")
    fourteen = 14 / 24
    job = overhaul(cast, workshop, pump, -fourteen, number="M-TODAY")
    assert job.finished_at is not None
    assert job.finished_at.date() == TODAY
    answer = hand["planner"].get(f"pumps/{pump.pk}/next-overhaul")
    found = by_kind(answer)
    assert answer["age_hours"] == 0
    assert found["hours"]["words"].startswith("0 h of 16000 h are run")
    assert found["hours"]["day"] == (TODAY + datetime.timedelta(days=800)).isoformat()
    assert found["calendar"]["day"] == TODAY.replace(year=TODAY.year + 3).isoformat()
    assert "Gap at the wear ring" in found["wear"]["words"]
    forecast = hand["planner"].get(f"pumps/{pump.pk}/overhaul-forecast")
    assert (forecast["age_hours"], forecast["overhauled_on"]) == (0, TODAY.isoformat())


def test_a_planned_job_is_shown_beside_the_advice(cast, workshop, pump, hand):
    planned = TODAY + datetime.timedelta(days=14)
    job = hand["planner"].post(
        "jobs", {"pump": str(pump.pk), "kit": str(workshop.kit.pk), "planned_start": planned.isoformat()}, status=201
    )
    answer = hand["planner"].get(f"pumps/{pump.pk}/next-overhaul")
    assert (answer["planned_on"], answer["planned_job"]) == (planned.isoformat(), job["number"])


def another(pump, tag, *, days=600, **changes):
    fields = {
        "site": pump.site, "tag": tag, "serial_number": f"S-{tag}", "pump_model": pump.pump_model, "fluid": pump.fluid,
        "temperature_min_c": 60, "temperature_max_c": 90, "criticality": "essential", "variant": pump.variant,
    }  # fmt: skip
    made = Pump.objects.create(**fields | changes)
    run_evenly(made, days)
    return Pump.objects.get(pk=made.pk)


def test_the_pumps_of_a_site_are_listed_by_day_with_the_same_statements_for_many(cast, workshop, pump, hand):
    client = cast.client("planner")

    def statements():
        with CaptureQueriesContext(connection) as captured:
            answer = client.get(f"/api/v1/sites/{cast.north.pk}/next-overhauls")
        assert answer.status_code == 200
        return len(captured), answer.json()["pumps"]

    client.get("/api/v1/me")
    few, rows = statements()
    assert [one["tag"] for one in rows] == ["P-117"]
    for number in range(12):
        one = another(pump, f"X-{number}")
        wear(cast, workshop, one, "0.171", "0.192", "0.210", "0.238")
    another(pump, "GONE", state="withdrawn")
    another(pump, "FAR", site=cast.south)
    many, rows = statements()
    assert many == few
    assert len(rows) == 13
    days = [one["day"] for one in rows]
    assert days == sorted(days)
    assert all(len(one["candidates"]) == 4 for one in rows)


def test_the_data_owner_sets_intervals_with_the_version_that_was_seen(cast, pump, hand):
    row = OverhaulInterval.objects.get(criticality="vital", pump_model=None)
    path = f"overhaul-intervals/{row.pk}"
    changed = hand["data-owner"].patch(path, {"running_hours": 21_000, "source": "agreed"}, seen=path)
    assert (changed["running_hours"], changed["version"]) == (21_000, 2)
    answer = hand["reader"].get(f"pumps/{pump.pk}/next-overhaul")
    assert by_kind(answer)["hours"]["day"] == (TODAY + datetime.timedelta(days=50)).isoformat()
    refused = cast.client("data-owner").patch(
        f"/api/v1/{path}", {"months": 12}, format="json", headers={"If-Match": '"1"'}
    )
    assert refused.status_code == 412


def test_a_row_of_a_model_counts_before_that_of_its_criticality(pump, hand):
    body = {
        "criticality": "vital", "pump_model": str(pump.pump_model_id), "months": 12, "running_hours": None,
        "accepted_chance": "0.05", "months_ahead": 3, "source": "agreed with the plant",
    }  # fmt: skip
    hand["data-owner"].post("overhaul-intervals", body, status=201)
    answer = hand["reader"].get(f"pumps/{pump.pk}/next-overhaul")
    assert answer["interval"]["of_model"] == "NB-40-200"
    assert answer["interval"]["months"] == 12
    assert by_kind(answer)["hours"] == {
        "kind": "hours", "day": None, "characteristic": "", "words": "No interval in running hours is set.",
        "decides": False,
    }  # fmt: skip
    assert hand["data-owner"].post("overhaul-intervals", body, status=409)["code"] == "already-there"


@pytest.mark.parametrize(
    ("field", "value"), [("accepted_chance", "0.5"), ("months", 0), ("months_ahead", 61), ("running_hours", -1)]
)
def test_an_interval_that_is_none_is_refused_by_its_field(hand, field, value):
    body = {"criticality": "vital", "accepted_chance": "0.1", "months_ahead": 6, "source": "agreed"} | {field: value}
    refused = hand["data-owner"].post("overhaul-intervals", body, status=422)
    assert refused["errors"][0]["pointer"] == f"#/{field}"


def test_a_model_that_is_not_there_takes_no_interval(hand, pump):
    body = {
        "criticality": "vital", "pump_model": str(pump.pk), "accepted_chance": "0.1", "months_ahead": 6, "source": "x",
    }  # fmt: skip
    assert hand["data-owner"].post("overhaul-intervals", body, status=422)["errors"][0]["pointer"] == "#/pump_model"


@pytest.fixture
def fleet(cast, workshop, pump):
    """Five pumps of the model that ran 900 days before their overhaul, so that lives say late; P-117 wears fast."""
    kept = Pump.objects.get(pk=pump.pk)
    for number in range(5):
        one = another(pump, f"N-{number}", days=1000 + 10 * number, build_class=kept.build_class)
        overhaul(cast, workshop, one, 100)
    wear(cast, workshop, pump, "0.170", "0.204", "0.239", "0.2899")
    return kept


def forecast(cast):
    with transaction.atomic():
        return forecast_overhauls(by=None, site_id=cast.north.pk)


def test_wear_brings_an_overhaul_forward_in_the_forecast_and_it_is_shown(cast, fleet, hand, monkeypatch):
    assert FitResult.objects.exists()
    forecast(cast)
    (item,) = hand["reader"].get(f"sites/{cast.north.pk}/overhaul-forecast?months=6")["items"]
    month = item["months"][5]
    (sooner,) = month["working"]["wear"]
    assert (sooner["pump"], sooner["characteristic"]) == ("P-117", "wear-ring-gap")
    assert sooner["chance_of_wear_until"] > sooner["chance_of_life_until"]
    assert "Wear brings forward: P-117 (Gap at the wear ring, expected on" in month["words"]
    with_wear = month["expected_until"]
    gap = sooner["chance_of_wear_until"] - sooner["chance_of_life_until"]
    monkeypatch.setattr(
        "jobs.queries.overhaul_forecasts.chances_of_wear", lambda wear, per_day, ends: np.zeros((len(wear), len(ends)))
    )
    forecast(cast)
    (item,) = hand["reader"].get(f"sites/{cast.north.pk}/overhaul-forecast?months=6")["items"]
    assert item["months"][5]["working"]["wear"] == []
    assert with_wear - item["months"][5]["expected_until"] == pytest.approx(gap, rel=1e-4)


def test_a_second_forecast_of_the_same_wear_changes_nothing(cast, fleet):
    assert forecast(cast)["changed"]
    assert not forecast(cast)["changed"]


def test_a_pump_whose_overhaul_is_planned_is_not_brought_forward_as_well(cast, workshop, fleet, hand):
    body = {
        "pump": str(fleet.pk), "kit": str(workshop.kit.pk),
        "planned_start": (TODAY + datetime.timedelta(days=20)).isoformat(),
    }  # fmt: skip
    hand["planner"].post("jobs", body, status=201)
    forecast(cast)
    (item,) = hand["reader"].get(f"sites/{cast.north.pk}/overhaul-forecast?months=6")["items"]
    assert [one["working"]["wear"] for one in item["months"]] == [[]] * 6


def test_the_forecast_of_one_pump_says_what_wears_and_when(fleet, hand):
    answer = hand["reader"].get(f"pumps/{fleet.pk}/overhaul-forecast")
    assert answer["wear"]["characteristic"] == "wear-ring-gap"
    last = answer["chances"][-1]
    assert last["chance"] == max(last["life"], last["wear"])
    assert last["wear"] > last["life"]
    assert answer["wear"]["name"] == "Gap at the wear ring"
    assert "Gap at the wear ring is expected at its limit on" in answer["words"]


def test_what_belongs_to_no_position_is_no_wear(cast, workshop, pump, hand):
    """It has a trend, but no part in the advice."""
    for days, value in ((800, "0.010"), (600, "0.020"), (400, "0.030"), (100, "0.045")):
        job = overhaul(cast, workshop, pump, days)
        measure(cast, workshop, job, value, step=20, code="shaft-run-out", upper="0.05")
    (trend,) = hand["planner"].get(f"pumps/{pump.pk}/trends/shaft-run-out")["trends"]
    assert trend["outcome"] == "reached"
    answer = hand["planner"].get(f"pumps/{pump.pk}/next-overhaul")
    assert by_kind(answer)["wear"]["words"] == "Nothing is measured on its parts in positions."
