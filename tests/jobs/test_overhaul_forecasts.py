"""What the installed pumps of a site are expected to need, from their hours and their past overhauls."""

import datetime
import json
from decimal import Decimal

import numpy as np
import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from scipy.stats import CensoredData, poisson_binom, weibull_min

from assets.models import Pump, RunningHours, Site
from jobs.models import Job, ProcedureRevision
from jobs.operations.overhaul_forecasts import ask_nightly, forecast_overhauls
from jobs.tasks import run_overhaul_forecast
from kits.models import ExpectedOverhauls, FitResult, Movement
from kits.queries.expected_overhauls import expected_overhauls
from services.changes.models import Change
from services.work.models import BackgroundRun
from tests.overhauls import hands
from tests.shelves import make_kit
from tests.world import gather_cast

pytestmark = pytest.mark.django_db
TODAY = timezone.now().date()
MIDNIGHT = datetime.datetime.combine(TODAY, datetime.time(), datetime.UTC)
# Days from one overhaul to the next of pumps that ran 20 hours a day, and days since the last one.
LIVES = [(420, 200), (510, 90), (610, 300), (700, 20), (560, 150), (650, 260)]


def ago(days):
    return MIDNIGHT - datetime.timedelta(days=days)


def add_pump(workshop, tag, *, site=None, installed=None, state="in-service"):
    kept = Pump.objects.get(pk=workshop.pump.pk)
    return Pump.objects.create(
        site=site or kept.site,
        tag=tag,
        serial_number=f"S-{tag}",
        pump_model=kept.pump_model,
        fluid=kept.fluid,
        temperature_min_c=kept.temperature_min_c,
        temperature_max_c=kept.temperature_max_c,
        criticality="vital",
        variant=kept.variant,
        build_class=kept.build_class,
        installed_on=installed,
        state=state,
    )


def read(pump, days, hours, *, new=False):
    RunningHours.objects.create(pump=pump, read_at=ago(days), hours=Decimal(hours), meter_change=new)


def close_job(cast, workshop, pump, days):
    """A job closed so many days ago that was put into the plan on its own day."""
    job = Job.objects.create(
        number=f"J-{pump.tag}-{days}",
        pump=pump,
        site=pump.site,
        revision=ProcedureRevision.objects.get(),
        kit_id=workshop.kit.pk,
        planned_start=ago(days).date(),
        planned_end=ago(days).date(),
        state="closed",
        started_at=ago(days),
        finished_at=ago(days),
        closed_at=ago(days),
        planned_by=cast.people["planner"],
    )
    Job.objects.filter(pk=job.pk).update(created_at=ago(days))


@pytest.fixture
def fleet(cast, workshop):
    """Six pumps of one model that ran 20 hours a day, overhauled once each; the workshop's own pump left aside."""
    Pump.objects.filter(pk=workshop.pump.pk).update(state="withdrawn")
    pumps = []
    for number, (life, since) in enumerate(LIVES):
        pump = add_pump(workshop, f"N-{number}", installed=ago(life + since).date())
        read(pump, life + since, 0)
        read(pump, 0, 20 * (life + since))
        close_job(cast, workshop, pump, since)
        pumps.append(pump)
    return pumps


def work_out(cast, **changes):
    with transaction.atomic():
        return forecast_overhauls(by=None, site_id=cast.north.pk, as_of=TODAY, **changes)


def forecast_read(hand, cast, query=""):
    return hand["reader"].get(f"sites/{cast.north.pk}/overhaul-forecast{query}")


def law():
    """The fleet's lives as scipy fits them, in hours."""
    ages = [20.0 * life for life, _ in LIVES] + [20.0 * since for _, since in LIVES]
    kept = CensoredData.right_censored(ages, [False] * 6 + [True] * 6)
    shape, _, scale = weibull_min.fit(kept, floc=0)
    return weibull_min(shape, scale=scale)


def test_a_site_needs_kits_as_its_pumps_come_of_age(cast, fleet, hand):
    """Against scipy's fit of the same censored lives and scipy.stats.poisson_binom, scipy 1.17."""
    assert work_out(cast) == {"items": 1, "rows": 13, "changed": True}
    answer = forecast_read(hand, cast, "?months=13")
    (item,) = answer["items"]
    assert (item["number"], item["pumps"], len(item["months"])) == ("KIT-NB", 6, 13)
    month = item["months"][3]
    end = datetime.date.fromisoformat(item["months"][4]["month"])
    life, hours = law(), 20 * (end - TODAY).days
    ages = np.array([20.0 * since for _, since in LIVES])
    chances = 1 - np.exp(life.logsf(ages + hours) - life.logsf(ages))
    assert month["expected_until"] == pytest.approx(chances.sum(), rel=0.02)
    assert month["q95_until"] >= poisson_binom(chances).ppf(0.95)
    (family,) = month["families"]
    assert (family["failures"], family["censored"], family["basis"]) == (6, 6, "own")
    assert family["shape"] == pytest.approx(life.args[0], rel=1e-2)
    assert family["scale_hours"] == pytest.approx(life.kwds["scale"], rel=1e-2)
    assert sum(one["expected"] for one in item["months"][:4]) == pytest.approx(month["expected_until"])
    assert item["weight_of_history"] + item["weight_of_pumps"] == 1
    assert "more overhauls are expected" in month["words"]


def test_a_second_run_with_nothing_changed_changes_nothing(cast, fleet):
    work_out(cast)
    kept = set(ExpectedOverhauls.objects.values_list("id", flat=True))
    told = Change.objects.filter(kind="expected-overhauls.worked-out").count()
    assert work_out(cast) == {"items": 1, "rows": 13, "changed": False}
    assert set(ExpectedOverhauls.objects.values_list("id", flat=True)) == kept
    assert Change.objects.filter(kind="expected-overhauls.worked-out").count() == told == 1


def test_a_planned_job_is_certain_and_its_pump_leaves_the_chances(cast, workshop, fleet, hand):
    work_out(cast)
    before = forecast_read(hand, cast, "?months=1")["items"][0]["months"][0]
    hand["planner"].post(
        "jobs", {"pump": str(fleet[2].pk), "kit": str(workshop.kit.pk), "planned_start": TODAY.isoformat()}, status=201
    )
    work_out(cast)
    after = forecast_read(hand, cast, "?months=1")["items"][0]["months"][0]
    assert (before["planned"], after["planned"]) == (0, 1)
    assert after["expected"] < before["expected"]
    assert after["q95"] >= 1
    assert after["planned_jobs"][0]["day"] == TODAY.isoformat()
    assert expected_overhauls(cast.north.pk, TODAY, 1)[workshop.kit.pk].certain == 1


def test_a_planned_overhaul_of_the_past_ends_a_life_without_counting_as_a_failure(cast, workshop, fleet, hand):
    Job.objects.filter(number=f"J-N-0-{LIVES[0][1]}").update(created_at=ago(LIVES[0][1] + 60))
    work_out(cast)
    (family,) = forecast_read(hand, cast)["items"][0]["months"][0]["families"]
    assert (family["failures"], family["censored"]) == (5, 7)


def test_kits_share_the_overhauls_as_past_jobs_used_them(cast, workshop, fleet, hand):
    other = make_kit("KIT-NB-2", [("casing-o-ring", workshop.o_ring), ("bearing-de", workshop.bearing)])
    known = FitResult.objects.get(kit_id=workshop.kit.pk)
    FitResult.objects.create(
        build_class_id=known.build_class_id,
        kit_id=other.pk,
        verdict="fits",
        matched=2,
        asked=2,
        kit_seen=1,
        class_seen=1,
    )
    Job.objects.filter(pump__in=fleet[:2]).update(kit_id=other.pk)
    work_out(cast)
    shares = {
        one["number"]: one["months"][0]["working"]["shares"]["NB-40-200"] for one in forecast_read(hand, cast)["items"]
    }
    assert shares == {"KIT-NB": pytest.approx(4 / 6), "KIT-NB-2": pytest.approx(2 / 6)}


def test_what_is_issued_without_a_job_stays_with_history(cast, workshop, fleet, hand):
    stores = hand["stores"]
    stores.post(
        "stock-movements",
        {"kind": "scrap", "site": str(cast.north.pk), "item": str(workshop.kit.pk), "lot": "L-1", "quantity": "1",
         "reason": "torn"},
        status=201,
    )  # fmt: skip
    work_out(cast)
    assert forecast_read(hand, cast)["items"][0]["months"][1]["walk_in"] == 0
    kept = Movement.objects.filter(item=workshop.kit).values()[0]
    for days in (100, 40):
        Movement.objects.create(
            **kept | {"id": None, "kind": "issue", "quantity": -1, "occurred_at": ago(days), "job_id": None}
        )
    work_out(cast)
    month = forecast_read(hand, cast)["items"][0]["months"][1]
    assert month["walk_in"] > 0
    assert month["blended"] > month["walk_in"]


def test_a_pump_in_standby_adds_nothing(cast, fleet, hand):
    Pump.objects.filter(pk__in=[one.pk for one in fleet]).update(state="standby")
    work_out(cast)
    assert forecast_read(hand, cast)["items"][0]["months"][5]["expected_until"] == 0


def test_where_no_pump_was_ever_overhauled_it_says_so(cast, workshop, hand):
    add_pump(workshop, "N-9", installed=ago(900).date())
    assert work_out(cast)["rows"] == 0
    assert forecast_read(hand, cast)["items"] == []
    answer = hand["reader"].get(f"pumps/{workshop.pump.pk}/overhaul-forecast")
    assert (answer["chances"], answer["fit"]) == ([], None)
    assert "no overhaul of any pump is recorded" in answer["words"]


def test_how_likely_one_pump_comes_up(cast, fleet, hand):
    """Against scipy's law of the same lives: 1 - sf(t + h) / sf(t)."""
    answer = hand["reader"].get(f"pumps/{fleet[2].pk}/overhaul-forecast")
    assert (answer["age_hours"], answer["hours_a_day"], answer["hours_known"]) == (pytest.approx(6000, abs=1), 20, True)
    assert answer["overhauled_on"] == ago(300).date().isoformat()
    assert [one["months"] for one in answer["chances"]] == [3, 6, 12]
    chances = [one["chance"] for one in answer["chances"]]
    life, year = law(), 20 * 365
    assert chances[2] == pytest.approx(1 - np.exp(life.logsf(6000 + year) - life.logsf(6000)), rel=0.02)
    assert chances == sorted(chances)
    assert "It has run 6000 h since its last overhaul" in answer["words"]


def test_a_worker_does_what_was_asked_for(cast, fleet, hand):
    run = hand["planner"].post(f"sites/{cast.north.pk}/overhaul-forecasts", status=202)["run"]
    kept = BackgroundRun.objects.get(pk=run)
    assert (kept.kind, kept.state, kept.site_id) == ("jobs.tasks.run_overhaul_forecast", "queued", cast.north.pk)


@pytest.mark.django_db(transaction=True)
def test_the_task_leaves_its_result_with_the_run():
    cast = gather_cast()
    run = hands(cast)["stores"].post(f"sites/{cast.north.pk}/overhaul-forecasts", status=202)["run"]
    run_overhaul_forecast(run)
    kept = BackgroundRun.objects.get(pk=run)
    assert (kept.state, kept.result) == ("done", {"items": 0, "rows": 0, "changed": False})


def test_it_is_asked_for_once_a_night_an_hour_before_replenishment(cast):
    Site.objects.update(time_zone="UTC")
    early = datetime.datetime(2027, 3, 2, 0, 59, tzinfo=datetime.UTC)
    with transaction.atomic():
        assert ask_nightly(now=early) == []
        assert len(ask_nightly(now=early + datetime.timedelta(minutes=2))) == Site.objects.count()
        assert ask_nightly(now=early + datetime.timedelta(hours=3)) == []


def test_the_demand_of_a_lead_time_is_read_in_one_statement_and_grows_with_it(cast, workshop, fleet):
    work_out(cast)
    with CaptureQueriesContext(connection) as captured:
        short = expected_overhauls(cast.north.pk, TODAY, 45)[workshop.kit.pk]
    assert len(captured) == 1
    longer = expected_overhauls(cast.north.pk, TODAY, 90)[workshop.kit.pk]
    rows = ExpectedOverhauls.objects.order_by("month")
    assert short.mean < longer.mean < rows[3].mean_until
    assert (short.certain, short.pumps, short.as_of) == (0, 6, TODAY)
    end = (rows[1].month - TODAY).days
    assert expected_overhauls(cast.north.pk, TODAY, end)[workshop.kit.pk].mean == pytest.approx(rows[0].mean_until)
    assert expected_overhauls(cast.north.pk, TODAY, 800)[workshop.kit.pk].mean > rows[12].mean_until
    assert expected_overhauls(cast.south.pk, TODAY, 45) == {}


def test_it_reads_as_often_for_one_pump_as_for_many(cast, workshop, fleet):
    def statements():
        with CaptureQueriesContext(connection) as captured:
            work_out(cast)
        return sum(one["sql"].startswith("SELECT") for one in captured.captured_queries)

    few = statements()
    for number in range(10, 22):
        pump = add_pump(workshop, f"N-{number}", installed=ago(900).date())
        read(pump, 300, 5000)
        close_job(cast, workshop, pump, 30 * (number - 5))
    assert statements() == few


def test_months_that_are_none_are_refused(cast, hand):
    for bad in ("0", "14", "1.5", "x"):
        answer = hand["reader"].client.get(f"/api/v1/sites/{cast.north.pk}/overhaul-forecast?months={bad}")
        assert (answer.status_code, json.loads(answer.content)["code"]) == (400, "malformed"), bad
