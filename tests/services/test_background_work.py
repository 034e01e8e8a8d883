"""Recorded work: claimed once, ended once, told to whoever asked for it."""

import threading
from datetime import timedelta

import pytest
from django.db import connection, transaction
from django.utils import timezone

from assets.models import Maker
from services.api.refusals import WrongState
from services.identity.models import Principal
from services.work.claiming import LEASE, MOST_ATTEMPTS, due_runs, report_progress, take_up
from services.work.models import BackgroundRun
from services.work.operations import NOTHING_LEFT, cancel_run
from services.work.recording import record_run

KIND = "tests.work"


def ask(by, **more):
    with transaction.atomic():
        return record_run(KIND, by=by, **more)


def now(run):
    return BackgroundRun.objects.get(pk=run)


def name_a_maker(by, run):
    Maker.objects.create(code="norrvik", name=by.name)
    return {"made": 1}


@pytest.mark.django_db
class TestReadingRuns:
    def test_one_sees_the_work_one_asked_for(self, cast):
        run = ask(cast.by("planner"), total=3)
        listed = cast.client("planner").get("/api/v1/background-runs").json()["results"]
        assert [(one["id"], one["state"], one["progress_total"]) for one in listed] == [(str(run), "queued", 3)]
        one = cast.client("planner").get(f"/api/v1/background-runs/{run}")
        assert (one.json()["id"], one.headers["ETag"]) == (str(run), '"1"')

    def test_anothers_work_is_not_there(self, cast):
        run = ask(cast.by("planner"))
        other = cast.client("chief")
        assert other.get("/api/v1/background-runs").json()["results"] == []
        assert other.get(f"/api/v1/background-runs/{run}").status_code == 404
        assert other.post(f"/api/v1/background-runs/{run}/cancel", {}, format="json").status_code == 404

    def test_lists_narrow_by_state_and_a_misspelt_state_is_refused(self, cast):
        ask(cast.by("planner"))
        client = cast.client("planner")
        assert client.get("/api/v1/background-runs?state=done").json()["results"] == []
        assert len(client.get("/api/v1/background-runs?state=queued").json()["results"]) == 1
        refused = client.get("/api/v1/background-runs?state=runing")
        assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (400, "?state")

    def test_a_list_costs_the_same_however_long_it_is(self, cast, django_assert_num_queries):
        client = cast.client("planner")
        client.get("/api/v1/background-runs")
        for count in (1, 5):
            for _ in range(count):
                ask(cast.by("planner"))
            with django_assert_num_queries(2):
                client.get("/api/v1/background-runs")

    def test_what_has_ended_is_not_cancelled(self, cast):
        run = ask(cast.by("planner"))
        client = cast.client("planner")
        address = f"/api/v1/background-runs/{run}/cancel"
        assert client.post(address, {}, format="json").json()["state"] == "cancelled"
        again = client.post(address, {}, format="json")
        assert (again.status_code, again.json()["code"]) == (409, "wrong-state")


@pytest.mark.django_db
def test_a_slot_of_the_clock_is_asked_for_once(cast):
    assert ask(None, slot="north 2026-03-02") is not None
    assert ask(None, slot="north 2026-03-02") is None


@pytest.mark.django_db(transaction=True)
class TestTakingUp:
    def test_work_is_done_as_whoever_asked_and_its_end_is_one_with_it(self, cast):
        run = ask(cast.by("planner"))
        take_up(run, name_a_maker)
        assert Maker.objects.get().name == "Planner"
        assert (now(run).state, now(run).result, now(run).attempts) == ("done", {"made": 1}, 1)

    def test_kicked_again_it_is_not_done_again(self, cast):
        run = ask(cast.by("planner"))
        take_up(run, name_a_maker)
        take_up(run, name_a_maker)
        assert Maker.objects.count() == 1

    def test_a_refusal_ends_it_with_the_problem_and_undoes_the_rest(self, cast):
        def refuse(by, run):
            name_a_maker(by, run)
            raise WrongState("The site is closed.", remedy="Open it.")

        run = ask(cast.by("planner"))
        take_up(run, refuse)
        assert Maker.objects.count() == 0
        assert (now(run).state, now(run).last_error) == ("failed", "The site is closed.")
        assert now(run).result["problem"]["code"] == "wrong-state"
        assert due_runs() == []

    def test_a_fault_is_tried_again_later_and_at_last_given_up(self, cast):
        def fail(by, run):
            raise ZeroDivisionError("division by zero")

        run = ask(cast.by("planner"))
        for attempt in range(1, MOST_ATTEMPTS + 1):
            with pytest.raises(ZeroDivisionError):
                take_up(run, fail)
            assert now(run).attempts == attempt
            take_up(run, fail)
            assert now(run).attempts == attempt, "it is not due yet"
            BackgroundRun.objects.filter(pk=run).update(due_at=timezone.now())
        assert (now(run).state, now(run).last_error) == ("failed", "ZeroDivisionError: division by zero")

    def test_what_a_dead_worker_left_is_taken_up_once_its_lease_is_over(self, cast):
        run = ask(cast.by("planner"))
        BackgroundRun.objects.filter(pk=run).update(state="running", attempts=1, lease_until=timezone.now() + LEASE)
        take_up(run, name_a_maker)
        assert now(run).state == "running"
        assert due_runs() == []
        BackgroundRun.objects.filter(pk=run).update(lease_until=timezone.now() - timedelta(seconds=1))
        assert due_runs() == [(KIND, run)]
        take_up(run, name_a_maker)
        assert (now(run).state, now(run).attempts) == ("done", 2)

    def test_work_that_kills_its_worker_each_time_ends_as_failed(self, cast):
        run = ask(cast.by("planner"))
        past = timezone.now() - timedelta(seconds=1)
        BackgroundRun.objects.filter(pk=run).update(state="running", attempts=MOST_ATTEMPTS, lease_until=past)
        take_up(run, name_a_maker)
        assert (now(run).state, now(run).result["problem"]["code"]) == ("failed", "work-never-ended")
        assert Maker.objects.count() == 0

    def test_work_of_somebody_put_out_since_is_not_done(self, cast):
        run = ask(cast.by("planner"))
        Principal.objects.filter(login="planner").update(is_active=False)
        take_up(run, name_a_maker)
        assert (now(run).state, now(run).result["problem"]["code"]) == ("failed", "not-allowed")
        assert Maker.objects.count() == 0

    def test_cancelled_while_a_worker_is_at_it_the_effect_is_undone(self, cast):
        run = ask(cast.by("planner"))
        begun, cancelled = threading.Event(), threading.Event()

        def slow(by, run):
            name_a_maker(by, run)
            begun.set()
            assert cancelled.wait(20)
            report_progress(run, 1)
            return {"made": 1}

        def work():
            try:
                take_up(run, slow)
            finally:
                connection.close()

        worker = threading.Thread(target=work)
        worker.start()
        assert begun.wait(20)
        with transaction.atomic():
            cancel_run(by=cast.by("planner"), run_id=run)
        cancelled.set()
        worker.join()
        assert (now(run).state, now(run).result) == ("cancelled", {"left": NOTHING_LEFT})
        assert Maker.objects.count() == 0
