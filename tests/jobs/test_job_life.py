"""A job is told whether it is ready and why, moved, handed over, held; its history keeps who, when and why."""

import datetime

import pytest
from django.db import transaction

from assets.models import Pump
from jobs.models import Job, JobEvent
from jobs.operations.procedures import draft_revision
from kits.models import Lot, Reservation
from services.changes.models import Change
from tests.jobs.test_overhaul import TOMORROW, planned, ready, started
from tests.overhauls import TODAY, procedure_document, release_procedure
from tests.shelves import put_on_shelf

pytestmark = pytest.mark.django_db


IN_TEN_DAYS = (TODAY + datetime.timedelta(days=10)).isoformat()


def needs(hand, job):
    return {one["what"]: one for one in hand["reader"].get(f"jobs/{job['id']}/readiness")["requirements"]}


def history(hand, job):
    return hand["reader"].get(f"jobs/{job['id']}/history")["results"]


def test_everything_a_job_needs_is_told_met_or_not(workshop, hand):
    job = planned(workshop, hand)
    found = hand["reader"].get(f"jobs/{job['id']}/readiness")
    unmet = [one for one in found["requirements"] if not one["met"]]
    assert found["ready"] is False
    assert [(one["code"], one["remedy"]) for one in unmet] == [("kit-not-reserved", "Reserve the kit.")]
    instruments = [one["sentence"] for one in found["requirements"] if one["what"] == "instrument"]
    assert len(instruments) == 3
    assert "DI-1" in instruments[0]


def test_a_ready_job_has_every_need_met(workshop, hand):
    job = ready(workshop, hand)
    found = needs(hand, job)
    assert set(found) == {"kit", "kit-in-date", "kit-fits", "instrument", "procedure"}
    assert all(one["met"] for one in found.values())


def test_a_pump_described_anew_may_lose_its_kit_and_the_start_says_so(workshop, hand):
    job = ready(workshop, hand)
    Pump.objects.filter(pk=workshop.pump.pk).update(temperature_max_c=260)
    assert needs(hand, job)["kit-fits"]["code"] == "kit-no-longer-fits"
    refused = hand["fitter"].post(f"jobs/{job['id']}/start", seen=f"jobs/{job['id']}", status=409)
    assert [one["code"] for one in refused["reasons"]] == ["kit-no-longer-fits"]


def test_claims_follow_a_job_that_moves_and_ready_is_judged_again(workshop, hand):
    job = ready(workshop, hand)
    moved = hand["planner"].post(
        f"jobs/{job['id']}/reschedule",
        {"planned_start": IN_TEN_DAYS, "reason": "no crane before"},
        seen=f"jobs/{job['id']}",
    )
    assert (moved["planned_start"], moved["planned_end"], moved["state"]) == (IN_TEN_DAYS, IN_TEN_DAYS, "ready")
    assert Reservation.objects.get(job_id=job["id"]).need_date.isoformat() == IN_TEN_DAYS
    told = history(hand, job)[-1]
    assert (told["kind"], told["reason"], told["by"]) == ("job.rescheduled", "no crane before", "Planner")
    assert told["facts"]["from_start"] == TOMORROW


def test_a_window_moves_by_its_whole_length(workshop, hand):
    job = planned(workshop, hand)
    body = {"planned_start": TOMORROW, "planned_end": IN_TEN_DAYS, "reason": "two fitters less"}
    hand["planner"].post(f"jobs/{job['id']}/reschedule", body, seen=f"jobs/{job['id']}")
    body = {"planned_start": TODAY.isoformat(), "reason": "the line stands today"}
    moved = hand["planner"].post(f"jobs/{job['id']}/reschedule", body, seen=f"jobs/{job['id']}")
    assert moved["planned_end"] == (TODAY + datetime.timedelta(days=9)).isoformat()


def test_a_job_moved_past_its_lots_last_day_is_no_longer_ready(workshop, hand):
    job = ready(workshop, hand)
    Lot.objects.update(expires_on=TODAY + datetime.timedelta(days=5))
    moved = hand["planner"].post(
        f"jobs/{job['id']}/reschedule", {"planned_start": IN_TEN_DAYS, "reason": "strike"}, seen=f"jobs/{job['id']}"
    )
    assert moved["state"] == "planned"
    assert [one["code"] for one in moved["state_reasons"]] == ["kit-not-reserved"]


def test_a_job_whose_day_has_passed_is_judged_for_today_and_takes_a_lot_that_lasts_until_then(cast, workshop, hand):
    job = ready(workshop, hand)
    ten_days_ago = TODAY - datetime.timedelta(days=10)
    Job.objects.update(planned_start=ten_days_ago, planned_end=ten_days_ago)
    Reservation.objects.update(need_date=ten_days_ago)
    Lot.objects.update(expires_on=TODAY - datetime.timedelta(days=1))
    assert needs(hand, job)["kit-in-date"]["code"] == "kit-out-of-date"
    refused = hand["fitter"].post(f"jobs/{job['id']}/start", seen=f"jobs/{job['id']}", status=409)
    assert refused["code"] == "job-not-ready"
    put_on_shelf(cast.by("stores"), cast.north, workshop.kit, 1, lot="L-2", cured=datetime.date(2026, 3, 31))
    again = hand["planner"].post(f"jobs/{job['id']}/reserve-kit")
    assert (again["state"], again["reservations"][0]["allocations"][0]["lot"]) == ("ready", "L-2")


def test_what_is_planned_for_a_day_gone_by_claims_its_kit_for_today(workshop, hand):
    body = {"pump": str(workshop.pump.pk), "kit": str(workshop.kit.pk)}
    last_week = (TODAY - datetime.timedelta(days=7)).isoformat()
    job = hand["planner"].post("jobs", body | {"planned_start": last_week}, status=201)
    assert job["reservations"][0]["need_date"] == TODAY.isoformat()


def test_work_that_has_begun_moves_its_last_day_only(workshop, hand):
    job = started(workshop, hand)
    refused = hand["planner"].post(
        f"jobs/{job['id']}/reschedule",
        {"planned_start": IN_TEN_DAYS, "reason": "late"},
        seen=f"jobs/{job['id']}",
        status=409,
    )
    assert refused["code"] == "wrong-job-state"
    body = {"planned_start": job["planned_start"], "planned_end": IN_TEN_DAYS, "reason": "late"}
    moved = hand["planner"].post(f"jobs/{job['id']}/reschedule", body, seen=f"jobs/{job['id']}")
    assert (moved["planned_end"], moved["state"]) == (IN_TEN_DAYS, "in-progress")


def test_who_saw_another_version_does_not_move_the_job(workshop, hand, cast):
    job = ready(workshop, hand)
    client = cast.client("planner")
    body = {"planned_start": IN_TEN_DAYS, "reason": "late"}
    answer = client.post(f"/api/v1/jobs/{job['id']}/reschedule", body, format="json", headers={"If-Match": '"1"'})
    assert answer.status_code == 412


def test_a_job_is_handed_from_fitter_to_fitter_with_a_note(cast, workshop, hand):
    job = started(workshop, hand)
    first, second = cast.people["fitter"], cast.people["second-fitter"]
    for by, to, note in (("planner", first, ""), ("fitter", second, "the shaft is out")):
        body = {"to": str(to.pk), **({"note": note} if note else {})}
        job = hand[by].post(f"jobs/{job['id']}/hand-over", body, seen=f"jobs/{job['id']}")
    assert job["assignee_name"] == "Second Fitter"
    told = hand["reader"].get(f"jobs/{job['id']}/history?kind=job.handed-over")["results"]
    assert [one["facts"]["to_name"] for one in told] == ["Fitter", "Second Fitter"]
    assert told[1]["facts"]["from_assignee"] == str(first.pk)
    assert (told[1]["reason"], told[1]["by"]) == ("the shaft is out", "Fitter")


def test_a_job_is_not_handed_to_somebody_who_does_no_such_work_there(cast, workshop, hand):
    job = started(workshop, hand)
    for nobody in (cast.people["stranger"].pk, cast.people["reader"].pk, workshop.pump.pk):
        refused = hand["planner"].post(
            f"jobs/{job['id']}/hand-over", {"to": str(nobody)}, seen=f"jobs/{job['id']}", status=422
        )
        assert [one["pointer"] for one in refused["errors"]] == ["#/to"]


def test_a_job_is_planned_for_somebody_who_does_such_work_there(cast, workshop, hand):
    body = {"pump": str(workshop.pump.pk), "kit": str(workshop.kit.pk), "planned_start": TOMORROW}
    for nobody in (cast.people["stranger"].pk, cast.people["reader"].pk, workshop.pump.pk):
        refused = hand["planner"].post("jobs", body | {"assignee": str(nobody)}, status=422)
        assert [one["pointer"] for one in refused["errors"]] == ["#/assignee"]
    job = hand["planner"].post("jobs", body | {"assignee": str(cast.people["fitter"].pk)}, status=201)
    change = {"assignee": str(cast.people["reader"].pk)}
    refused = hand["planner"].patch(f"jobs/{job['id']}", change, seen=f"jobs/{job['id']}", status=422)
    assert [one["pointer"] for one in refused["errors"]] == ["#/assignee"]


def test_a_revision_that_is_not_published_is_refused_at_its_field(workshop, hand):
    body = {"pump": str(workshop.pump.pk), "kit": str(workshop.kit.pk), "planned_start": TOMORROW}
    refused = hand["planner"].post("jobs", body | {"procedure_revision": str(workshop.pump.pk)}, status=422)
    assert refused["code"] == "no-published-procedure"
    assert [one["pointer"] for one in refused["errors"]] == ["#/procedure_revision"]


def test_a_planned_job_goes_over_to_the_revision_that_took_the_place_of_its_own(cast, workshop, hand):
    job = ready(workshop, hand)
    with transaction.atomic():
        newer, _ = draft_revision(by=cast.by("procedure-author"), document=procedure_document(revision=2))
        release_procedure(cast, newer)
    assert needs(hand, job)["procedure"]["code"] == "procedure-not-published"
    path, change = f"jobs/{job['id']}", {"procedure_revision": str(newer)}
    moved = hand["planner"].patch(path, change, seen=path)
    assert (moved["procedure_revision_number"], moved["state"]) == (2, "ready")
    facts = history(hand, job)[-1]["facts"]
    assert (facts["from_revision"], facts["to_revision"]) == (job["procedure_revision"], str(newer))
    hand["fitter"].post(f"{path}/start", seen=path)
    back = {"procedure_revision": job["procedure_revision"]}
    assert hand["planner"].patch(path, back, seen=path, status=409)["code"] == "wrong-job-state"


def test_a_procedure_for_other_pumps_is_refused(cast, workshop, hand):
    with transaction.atomic():
        other, _ = draft_revision(
            by=cast.by("procedure-author"), document=procedure_document(code="IN-LINE", configuration="in-line")
        )
        release_procedure(cast, other)
    body = {"pump": str(workshop.pump.pk), "kit": str(workshop.kit.pk), "planned_start": TOMORROW}
    refused = hand["planner"].post("jobs", body | {"procedure_revision": str(other)}, status=422)
    assert (refused["code"], "in-line" in refused["detail"]) == ("no-published-procedure", True)
    job = planned(workshop, hand)
    path = f"jobs/{job['id']}"
    refused = hand["planner"].patch(path, {"procedure_revision": str(other)}, seen=path, status=422)
    assert [one["pointer"] for one in refused["errors"]] == ["#/procedure_revision"]


def test_each_hold_stays_in_the_history_with_its_reason(workshop, hand):
    job = started(workshop, hand)
    for reason in ("waiting for the crane", "the isolation was taken over"):
        hand["fitter"].post(f"jobs/{job['id']}/hold", {"reason": reason}, seen=f"jobs/{job['id']}")
        hand["supervisor"].post(f"jobs/{job['id']}/resume", seen=f"jobs/{job['id']}")
    held = hand["reader"].get(f"jobs/{job['id']}/history?kind=job.held")["results"]
    assert [one["reason"] for one in held] == ["waiting for the crane", "the isolation was taken over"]
    kinds = [one["kind"] for one in history(hand, job)]
    assert kinds[:3] == ["job.planned", "job.readied", "job.started"]
    assert kinds[3:] == ["job.held", "job.resumed"] * 2


def test_what_the_history_tells_the_feed_tells_too(workshop, hand):
    job = started(workshop, hand)
    hand["fitter"].post(f"jobs/{job['id']}/hold", {"reason": "rain"}, seen=f"jobs/{job['id']}")
    told = list(Change.objects.filter(noun="job", noun_id=job["id"]).order_by("id").values_list("kind", "by_id"))
    assert told == list(JobEvent.objects.filter(job_id=job["id"]).order_by("id").values_list("kind", "by_id"))
    assert {kind for kind, _ in told} == {"job.planned", "job.readied", "job.started", "job.held"}


def test_a_cancelled_job_lets_its_claims_go(cast, workshop, hand):
    job = ready(workshop, hand)
    put_on_shelf(cast.by("stores"), cast.north, workshop.bearing, 1, lot="B-1", cured=None)
    asked = {"part": str(workshop.bearing.pk), "quantity": "1", "role": "bearing-de", "reason": "spare"}
    extra = hand["planner"].post(f"jobs/{job['id']}/extra-parts", asked, status=201)
    hand["planner"].post(f"jobs/{job['id']}/cancel", {"reason": "the pump is replaced"}, seen=f"jobs/{job['id']}")
    assert set(Reservation.objects.values_list("state", flat=True)) == {"released"}
    assert hand["reader"].get(f"extra-parts/{extra['id']}")["state"] == "withdrawn"
    told = (
        Change.objects.filter(noun="extra-part", noun_id=extra["id"]).order_by("id").values_list("kind", "body__state")
    )
    assert list(told)[-1] == ("extra-part.withdrawn", "withdrawn")
