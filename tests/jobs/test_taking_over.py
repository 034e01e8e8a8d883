"""A person takes a reserved kit from one job for another; the service never does."""

import datetime

import pytest

from assets.models import Pump
from jobs.models import Job
from jobs.operations.readiness import review_readiness
from kits.models import Balance, Lot, Reservation
from kits.queries.movements import ledger_differences
from services.changes.models import Change
from services.identity.models import Principal
from tests.overhauls import TODAY
from tests.shelves import put_on_shelf
from tests.transfers import Hands

pytestmark = pytest.mark.django_db


@pytest.fixture
def hand(cast):
    return Hands(cast)


def planned(workshop, hand, days):
    start = (TODAY + datetime.timedelta(days=days)).isoformat()
    body = {"pump": str(workshop.pump.pk), "kit": str(workshop.kit.pk), "planned_start": start}
    return hand["planner"].post("jobs", body, status=201)


@pytest.fixture
def two(workshop, hand):
    """A job that holds the last kit, and one that needs it more."""
    first, second = planned(workshop, hand, 9), planned(workshop, hand, 2)
    assert hand["planner"].post(f"jobs/{first['id']}/reserve-kit")["state"] == "ready"
    return first, second


def claim_of(job):
    return Reservation.objects.get(job_id=job["id"])


def take(hand, two, who="supervisor", status=200, **body):
    path = f"reservations/{claim_of(two[0]).pk}"
    sent = {"for": str(claim_of(two[1]).pk), "reason": "P-117 is down"} | body
    return hand[who].post(f"{path}/take-over", sent, seen=path, status=status)


def test_the_kit_changes_hands_and_both_jobs_say_so(cast, hand, two):
    answer = take(hand, two)
    assert (answer["given_up"]["state"], answer["taken"]["state"]) == ("soft", "hard")
    assert [hand["planner"].get(f"jobs/{one['id']}")["state"] for one in two] == ["planned", "ready"]
    assert Balance.objects.get(reserved__gt=0).reserved == 1
    assert ledger_differences() == []
    for kind in ("reservation.taken-over", "reservation.given"):
        told = Change.objects.get(kind=kind)
        assert told.by_id == cast.people["supervisor"].pk
        assert (told.body or {})["reason"] == "P-117 is down"
        assert told.request_id
    assert Change.objects.filter(kind="job.unreadied", noun_id=two[0]["id"]).exists()
    assert Change.objects.filter(kind="job.readied", noun_id=two[1]["id"]).exists()


def test_where_free_lots_would_do_nobody_gives_anything_up(cast, workshop, hand, two):
    put_on_shelf(cast.by("stores"), cast.north, workshop.kit, 1, lot="L-2")
    assert take(hand, two, status=409)["code"] == "not-taken-over"


def test_the_giver_keeps_a_kit_where_one_is_left_that_the_other_cannot_use(cast, workshop, hand):
    late, early = planned(workshop, hand, 60), planned(workshop, hand, 9)
    hand["planner"].post(f"jobs/{early['id']}/reserve-kit")
    put_on_shelf(cast.by("stores"), cast.north, workshop.kit, 1, lot="L-2")
    Lot.objects.filter(number="L-2").update(expires_on=TODAY + datetime.timedelta(days=20))
    answer = take(hand, (early, late))
    assert (answer["given_up"]["state"], answer["taken"]["state"]) == ("hard", "hard")
    assert hand["planner"].get(f"jobs/{early['id']}")["state"] == "ready"


def test_lots_that_will_be_dead_on_the_others_day_stay(hand, two):
    Lot.objects.update(expires_on=TODAY + datetime.timedelta(days=10))
    Reservation.objects.filter(pk=claim_of(two[1]).pk).update(need_date=TODAY + datetime.timedelta(days=30))
    assert take(hand, two, status=409)["code"] == "insufficient-stock"
    assert claim_of(two[0]).state == "hard"


def test_running_work_keeps_its_kit(hand, two):
    hand["fitter"].post(f"jobs/{two[0]['id']}/start", seen=f"jobs/{two[0]['id']}")
    assert take(hand, two, status=409)["code"] == "wrong-job-state"


def test_what_cannot_be_taken_over_says_why(hand, two):
    assert take(hand, two, status=422, **{"for": two[1]["id"]})["errors"][0]["pointer"] == "#/for"
    assert take(hand, two, status=422, **{"for": str(claim_of(two[0]).pk)})["errors"][0]["pointer"] == "#/for"
    assert take(hand, (two[1], two[0]), status=409)["code"] == "not-taken-over"
    assert take(hand, two, status=422, reason="")["errors"][0]["pointer"] == "#/reason"
    path = f"reservations/{claim_of(two[0]).pk}"
    assert hand["supervisor"].post(f"{path}/take-over", {}, status=428)["code"] == "version-missing"


def test_only_a_person_with_the_role_decides(cast, hand, two):
    take(hand, two, who="fitter", status=403)
    Principal.objects.filter(pk=cast.people["planner"].pk).update(kind="service")
    assert take(hand, two, who="planner", status=403)["detail"].startswith("Only a person")
    take(hand, two, who="stores")


def test_a_cancelled_job_lets_its_kit_go_at_once(hand, two):
    path = f"jobs/{two[0]['id']}"
    hand["planner"].post(f"{path}/cancel", {"reason": "pump sold"}, seen=path)
    assert claim_of(two[0]).state == "released"
    assert not Balance.objects.filter(reserved__gt=0).exists()
    assert hand["planner"].post(f"jobs/{two[1]['id']}/reserve-kit")["state"] == "ready"


def test_a_claim_is_as_critical_as_the_pump(workshop, two):
    assert claim_of(two[0]).criticality == "vital"
    Pump.objects.filter(pk=workshop.pump.pk).update(criticality="essential")
    for job in Job.objects.all():
        review_readiness(job_id=job.pk)
    assert set(Reservation.objects.values_list("criticality", flat=True)) == {"essential"}
