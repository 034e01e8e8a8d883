"""Work done without a connection, handed in later: in any order, once or twice, by one person or two."""

import datetime
import itertools
import random

import pytest
from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from jobs.models import JobStep, Measurement, Nonconformity, OfflineRecord
from services.api.identifiers import new_id
from services.changes.models import Change
from tests.overhauls import TODAY
from tests.shelves import put_on_shelf

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(workshop, hand):
    return begin(workshop, hand)


def begin(workshop, hand):
    day = (TODAY + datetime.timedelta(days=1)).isoformat()
    body = {"pump": str(workshop.pump.pk), "kit": str(workshop.kit.pk), "planned_start": day}
    made = hand["planner"].post("jobs", body, status=201)
    hand["planner"].post(f"jobs/{made['id']}/reserve-kit")
    return hand["fitter"].post(f"jobs/{made['id']}/start", seen=f"jobs/{made['id']}")


MOMENTS = itertools.count()


def record(job, kind, **content):
    at = timezone.now() - datetime.timedelta(hours=2) + datetime.timedelta(milliseconds=next(MOMENTS))
    return {"id": str(new_id()), "kind": kind, "job": job["id"], "occurred_at": at.isoformat()} | content


def confirmation(job, step):
    return record(job, "step-confirmation", step=step)


def run_out(job, workshop, *readings, tool="dial", **more):
    instrument = str(workshop.instruments[tool].pk)
    content = {"step": 20, "characteristic": "shaft-run-out", "readings": list(readings), "unit": "mm"}
    return record(job, "measurement", instrument=instrument, **content, **more)


def send(hand, *records, who="fitter", status=200):
    return hand[who].post("offline-records", {"device": "phone", "records": list(records)}, status=status)


def outcomes(answer):
    return [one["outcome"] for one in answer["results"]]


def state_of(job):
    steps = JobStep.objects.filter(job_id=job["id"]).order_by("number").values_list("number", "state", "done_at")
    measured = Measurement.objects.filter(job_id=job["id"]).order_by("attempt").values_list("id", "attempt", "verdict")
    return list(steps), list(measured)


def test_a_day_without_a_connection_comes_out_as_if_there_had_been_one(job, workshop, hand):
    day = [
        confirmation(job, 10),
        run_out(job, workshop, "0.00", "0.03", "0.09", "0.01"),
        run_out(job, workshop, "0.00", "0.01", "0.02", "0.01"),
        confirmation(job, 20),
    ]
    answer = send(hand, *day)
    assert outcomes(answer) == ["applied"] * 4
    assert [one["verdict"] for one in answer["results"]] == ["", "reject", "accept", ""]
    assert Nonconformity.objects.get(job_id=job["id"]).state == "closed"
    step = hand["fitter"].get(f"jobs/{job['id']}/steps/20")
    assert (step["state"], step["done_by"]) == ("done", "Fitter")
    assert datetime.datetime.fromisoformat(step["done_at"]) == datetime.datetime.fromisoformat(day[3]["occurred_at"])
    told = set(Change.objects.filter(body__job=job["id"]).values_list("kind", flat=True))
    assert {"measurement.recorded", "nonconformity.raised", "nonconformity.closed", "job-step.confirmed"} <= told


@pytest.mark.parametrize("seed", range(6))
def test_in_whatever_order_and_however_often_the_records_come_the_end_is_the_same(job, workshop, hand, seed):
    day = [
        confirmation(job, 10),
        run_out(job, workshop, "0.00", "0.03", "0.09", "0.01"),
        run_out(job, workshop, "0.00", "0.01", "0.02", "0.01"),
        confirmation(job, 20),
    ]
    chance = random.Random(seed)
    sent = day * 2
    chance.shuffle(sent)
    while sent:
        piece = [sent.pop() for _ in range(min(len(sent), chance.randint(1, 3)))]
        send(hand, *piece)
    for one in day:
        send(hand, one)
    steps, measured = state_of(job)
    assert {number: state for number, state, _ in steps if number <= 20} == {10: "done", 20: "done"}
    assert sorted(verdict for _, _, verdict in measured) == ["accept", "reject"]
    assert not OfflineRecord.objects.exclude(state="applied").exists()
    assert OfflineRecord.objects.count() == len(day)


def test_a_record_waits_for_what_must_come_first(job, workshop, hand):
    measured = run_out(job, workshop, "0.00", "0.01", "0.02", "0.01")
    early = send(hand, measured)["results"][0]
    assert (early["outcome"], early["code"]) == ("waiting", "make-safe-first")
    assert not Measurement.objects.exists()
    send(hand, confirmation(job, 10))
    assert Measurement.objects.get().verdict == "accept"
    assert outcomes(send(hand, measured)) == ["known"]


def test_two_people_who_did_the_same_step_are_both_kept(job, workshop, hand):
    first, second = confirmation(job, 10), confirmation(job, 10)
    assert outcomes(send(hand, first)) == ["applied"]
    answer = send(hand, second, who="second-fitter")["results"][0]
    assert (answer["outcome"], answer["code"]) == ("conflict", "step-not-open")
    kept = OfflineRecord.objects.get(client_id=second["id"])
    assert kept.against["state"] == "done"
    assert JobStep.objects.filter(job_id=job["id"], number=10, done_by__name="Fitter").exists()


def test_the_same_id_with_another_content_is_kept_as_a_conflict(job, workshop, hand):
    send(hand, confirmation(job, 10))
    first = run_out(job, workshop, "0.00", "0.01", "0.02", "0.01")
    send(hand, first)
    other = send(hand, first | {"readings": ["0.00", "0.01", "0.02", "0.00"]})["results"][0]
    assert (other["outcome"], other["code"]) == ("conflict", "id-reused")
    assert Measurement.objects.get().readings == ["0.00", "0.01", "0.02", "0.01"]
    assert OfflineRecord.objects.filter(client_id=first["id"]).count() == 2


def test_what_was_recorded_online_before_the_answer_got_lost_is_known(job, workshop, hand):
    send(hand, confirmation(job, 10))
    sent = run_out(job, workshop, "0.00", "0.01", "0.02", "0.01")
    online = {name: sent[name] for name in ("id", "step", "characteristic", "readings", "unit", "instrument")}
    hand["fitter"].post(f"jobs/{job['id']}/measurements", online, status=201)
    answer = send(hand, sent)["results"][0]
    assert (answer["outcome"], answer["verdict"]) == ("applied", "accept")
    assert Measurement.objects.count() == 1


def test_one_bad_record_keeps_no_other_back(job, workshop, hand):
    bad = confirmation(job, 10) | {"stepp": 20}
    stranger = confirmation(job, 10) | {"job": str(new_id())}
    answer = send(hand, bad, stranger, confirmation(job, 10), "nonsense")
    assert outcomes(answer) == ["unreadable", "refused", "applied", "unreadable"]
    assert "stepp" in answer["results"][0]["sentence"]
    assert answer["counts"] == {"unreadable": 2, "refused": 1, "applied": 1}


@pytest.mark.parametrize(
    ("content", "code"),
    [
        ({"unit": "fathom"}, "reading-unusable"),
        ({"readings": ["0.01"]}, "reading-unusable"),
        ({"readings": ["0.01", "many", "0.01", "0.02"]}, "reading-unusable"),
        ({"characteristic": "roundness"}, "characteristic-unknown"),
        ({"instrument": str(new_id())}, "instrument-unfit"),
        ({"step": 99}, "step-unknown"),
        ({"occurred_at": "2031-01-01T00:00:00Z"}, "time-not-believable"),
        ({"occurred_at": (timezone.now() - datetime.timedelta(days=2)).isoformat()}, "time-not-believable"),
    ],
)
def test_what_cannot_be_judged_is_kept_for_a_person(job, workshop, hand, content, code):
    send(hand, confirmation(job, 10))
    answer = send(hand, run_out(job, workshop, "0.00", "0.01", "0.02", "0.01") | content)["results"][0]
    assert (answer["outcome"], answer["code"]) == ("conflict", code)
    assert OfflineRecord.objects.filter(state="conflict").count() == 1


def test_an_overdue_instrument_proves_nothing_offline_either(job, workshop, hand):
    send(hand, confirmation(job, 10))
    answer = send(hand, run_out(job, workshop, "0.00", "0.01", "0.02", "0.01", tool="overdue"))
    assert answer["results"][0]["verdict"] == "not-proved"


def test_a_job_on_hold_keeps_what_comes_until_it_goes_on_and_a_supervisor_applies_it(job, workshop, hand):
    path = f"jobs/{job['id']}"
    hand["planner"].post(f"{path}/hold", {"reason": "the crane is needed elsewhere"}, seen=path)
    answer = send(hand, confirmation(job, 10))["results"][0]
    assert (answer["outcome"], answer["code"]) == ("conflict", "wrong-job-state")
    kept = hand["supervisor"].get(f"offline-records?job={job['id']}&state=conflict")["results"][0]
    where = f"offline-records/{kept['id']}"
    apply = {"decision": "apply", "reason": "it was done before the hold"}
    refused = hand["supervisor"].post(f"{where}/settle", apply, seen=where, status=409)
    assert refused["code"] == "still-in-conflict"
    hand["planner"].post(f"{path}/resume", {}, seen=path)
    settled = hand["supervisor"].post(f"{where}/settle", apply, seen=where)
    assert (settled["state"], settled["settled_by"]) == ("applied", "Supervisor")
    assert JobStep.objects.filter(job_id=job["id"], number=10, done_by__name="Fitter").exists()


def test_a_fitter_settles_no_conflict(job, workshop, hand):
    send(hand, confirmation(job, 10))
    send(hand, confirmation(job, 10), who="second-fitter")
    where = f"offline-records/{OfflineRecord.objects.get(state='conflict').pk}"
    aside = {"decision": "set-aside", "reason": "done twice"}
    hand["fitter"].post(f"{where}/settle", aside, seen=where, status=403)
    hand["supervisor"].post(f"{where}/settle", aside, seen=where)
    again = hand["supervisor"].post(f"{where}/settle", aside, seen=where, status=409)
    assert again["code"] == "wrong-state"


def test_damage_and_the_kit_are_told_offline_as_well(job, workshop, hand):
    told = record(job, "nonconformity", description="Scored over a third of its length.", role="casing-o-ring")
    answer = send(hand, confirmation(job, 10), record(job, "kit-taken"), told)
    assert outcomes(answer) == ["applied"] * 3
    assert str(Nonconformity.objects.get().pk) == told["id"]
    assert outcomes(send(hand, record(job, "kit-taken"))) == ["conflict"]
    nowhere = send(hand, record(job, "nonconformity", description="Scored.", role="wing-nut"))["results"][0]
    assert (nowhere["outcome"], nowhere["code"]) == ("conflict", "invalid-value")


def test_a_job_is_not_finished_over_records_that_nobody_settled(job, workshop, hand):
    send(hand, confirmation(job, 10))
    send(hand, confirmation(job, 10), who="second-fitter")
    JobStep.objects.filter(job_id=job["id"], state="open").update(state="done")
    hand["fitter"].post(f"jobs/{job['id']}/take-kit", status=201)
    refused = hand["fitter"].post(f"jobs/{job['id']}/finish", {}, seen=f"jobs/{job['id']}", status=409)
    assert refused["code"] == "offline-records-unsettled"


@pytest.mark.parametrize("change", ["content = '{}'", "occurred_at = now()", "digest = 'x'"])
def test_nobody_alters_what_a_device_handed_in(job, hand, change):
    send(hand, confirmation(job, 10))
    with pytest.raises(IntegrityError, match="stays as it came"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"UPDATE jobs_offlinerecord SET {change}")


def test_more_records_than_a_request_bears_are_refused_as_a_whole(job, hand):
    many = [confirmation(job, 10) for _ in range(10_001)]
    assert send(hand, *many, status=422)["errors"][0]["pointer"] == "#/records"
    assert not OfflineRecord.objects.exists()


def test_a_hundred_records_take_as_many_statements_as_ten(job, workshop, hand, django_assert_max_num_queries):
    send(hand, confirmation(job, 10))
    few = [run_out(job, workshop, "0.00", "0.01", "0.02", "0.01") for _ in range(30)]
    with django_assert_max_num_queries(30) as first:
        send(hand, *few)
    with django_assert_max_num_queries(30) as second:
        send(hand, *[run_out(job, workshop, "0.00", "0.01", "0.02", "0.01") for _ in range(100)])
    assert len(second) == len(first)


def test_a_thousand_records_of_many_jobs_take_as_many_statements_as_of_two(
    cast, workshop, hand, django_assert_max_num_queries
):
    put_on_shelf(cast.by("stores"), cast.north, workshop.kit, 20, lot="L-2")
    jobs = [begin(workshop, hand) for _ in range(10)]

    def day(job, times):
        seat = run_out(job, workshop, "40.006", "40.007", "40.008", tool="micrometer")
        seat |= {"step": 30, "characteristic": "seat-diameter"}
        warm = run_out(job, workshop, "20", tool="thermometer")
        warm |= {"step": 30, "characteristic": "room-temperature", "unit": "degC"}
        measured = [run_out(job, workshop, "0.00", "0.01", "0.02", "0.01") for _ in range(times - 4)]
        return [confirmation(job, 10), *measured, confirmation(job, 20), seat, warm]

    few = [one for job in jobs[:2] for one in day(job, 50)]
    with django_assert_max_num_queries(60) as of_two:
        assert set(outcomes(send(hand, *few))) == {"applied"}
    many = [one for job in jobs[2:] for one in day(job, 125)]
    random.Random(1).shuffle(many)
    with django_assert_max_num_queries(120) as of_eight:
        assert set(outcomes(send(hand, *many))) == {"applied"}
    assert len(many) == 1000
    # A thousand are two pieces: not more than the statements of two batches.
    assert len(of_eight) <= 2 * len(of_two)
    heating = JobStep.objects.filter(job_id__in=[one["id"] for one in jobs], number=40)
    assert all("target" in one.advice[0] for one in heating)
