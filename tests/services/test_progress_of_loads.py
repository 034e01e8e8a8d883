"""A long load is watched while it runs, and stopped: what others see of it, and what it leaves."""

import dataclasses
import datetime
import threading

import pytest
from django.db import connection

from assets.models import Maker
from services.api.loading import RowOutcome, known_loads
from services.bulk_loads.models import BulkLoadRow
from services.bulk_loads.tasks import run_bulk_load
from services.work.models import BackgroundRun
from tests.services.test_bulk_loads import hand_in
from tests.world import client_for, make_principal

ROWS = "code,name\n" + "".join(f"m{n},Maker {n}\n" for n in range(6))
PATIENCE = 20


@pytest.fixture
def integrator(transactional_db):
    return client_for(make_principal("erp", ("integrator", None)))


@pytest.fixture
def halting(monkeypatch):
    """Makers are loaded two rows at a time, and before the third pair the worker waits to be let go on."""
    reached, go_on = threading.Event(), threading.Event()
    seen: list[str] = []

    def load(*, by, rows):
        if len(seen) == 4:
            reached.set()
            assert go_on.wait(PATIENCE)
        Maker.objects.bulk_create([Maker(code=row.values["code"], name=row.values["name"]) for row in rows])
        seen.extend(row.values["code"] for row in rows)
        return [RowOutcome(row.number, row.values["code"], "created") for row in rows]

    monkeypatch.setattr("services.bulk_loads.operations.BATCH", 2)
    monkeypatch.setattr("services.work.progress.EVERY_SECONDS", 0)
    monkeypatch.setitem(known_loads(), "makers", dataclasses.replace(known_loads()["makers"], load=load))
    return reached, go_on, seen


def begin(run):
    def work():
        try:
            run_bulk_load(run)
        finally:
            connection.close()

    worker = threading.Thread(target=work)
    worker.start()
    return worker


def test_how_far_it_is_can_be_read_while_its_effect_cannot(integrator, halting):
    reached, go_on, _ = halting
    made = hand_in(integrator, "makers", ROWS)
    worker = begin(made["run"])
    assert reached.wait(PATIENCE)
    told = integrator.get(f"/api/v1/background-runs/{made['run']}").json()
    assert (told["state"], told["progress_done"], told["progress_total"]) == ("running", 4, 6)
    assert Maker.objects.count() == 0
    go_on.set()
    worker.join(PATIENCE)
    told = integrator.get(f"/api/v1/background-runs/{made['run']}").json()
    assert (told["state"], told["progress_done"], Maker.objects.count()) == ("done", 6, 6)


def test_each_report_extends_the_lease_so_a_long_load_is_not_taken_up_twice(integrator, halting, monkeypatch):
    monkeypatch.setattr("services.work.claiming.LEASE", datetime.timedelta(seconds=30))
    reached, go_on, _ = halting
    made = hand_in(integrator, "makers", ROWS)
    worker = begin(made["run"])
    assert reached.wait(PATIENCE)
    run = BackgroundRun.objects.get(pk=made["run"])
    assert run.lease_until is not None
    assert run.started_at is not None
    assert run.lease_until > run.started_at + datetime.timedelta(minutes=5)
    go_on.set()
    worker.join(PATIENCE)


def test_cancelled_between_two_batches_it_stops_there_and_leaves_nothing(integrator, halting):
    reached, go_on, seen = halting
    made = hand_in(integrator, "makers", ROWS + "late,Never Reached\n")
    worker = begin(made["run"])
    assert reached.wait(PATIENCE)
    cancelled = integrator.post(f"/api/v1/background-runs/{made['run']}/cancel", {}, format="json").json()
    assert (cancelled["state"], cancelled["progress_done"]) == ("cancelled", 4)
    go_on.set()
    worker.join(PATIENCE)
    told = integrator.get(f"/api/v1/bulk-loads/{made['id']}").json()
    assert (told["state"], told["created_rows"]) == ("cancelled", 0)
    assert "Nothing of this work stays" in told["result"]["left"]
    assert seen == ["m0", "m1", "m2", "m3", "m4", "m5"]
    assert (Maker.objects.count(), BulkLoadRow.objects.count()) == (0, 0)
