"""Health, readiness, metrics, and the id that follows a request."""

import json
import logging
import re
from datetime import timedelta

import pytest
import structlog
from django.db import OperationalError, connection
from django.test import Client
from django.utils import timezone

from services.api.request_context import request_id
from services.changes.models import Change
from services.observability import health
from services.observability.logging import configure, hide_secrets
from services.observability.request_ids import TASK_HEADER, put_off, send_along, take_on
from services.work.models import BackgroundRun

pytestmark = pytest.mark.django_db


def test_alive_is_answered_without_asking_anything(django_assert_num_queries):
    with django_assert_num_queries(0):
        assert Client().get("/healthz").json() == {"status": "alive"}


def test_ready_names_database_migrations_and_broker():
    answer = Client().get("/readyz")
    assert answer.json()["checks"] == {"database": "ok", "migrations": "ok", "broker": "ok"}
    assert answer.status_code == 200


def test_not_ready_says_what_is_not(settings, monkeypatch):
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    monkeypatch.setattr(health, "_migrated", False)
    answer = Client().get("/readyz")
    assert answer.status_code == 503
    assert answer.json()["checks"]["broker"] == "cannot be reached"


def test_a_migration_that_is_not_applied_is_named(monkeypatch):
    monkeypatch.setattr(health, "_migrated", False)
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM django_migrations WHERE app = 'jobs'")
    answer = Client().get("/readyz")
    assert (answer.status_code, answer.json()["status"]) == (503, "not ready")
    assert re.fullmatch(r"\d+ not applied", answer.json()["checks"]["migrations"])


def test_a_database_that_is_away_is_named_without_its_secrets(monkeypatch):
    def away():
        raise OperationalError("connection to secret-host failed")

    monkeypatch.setattr(health.connection, "cursor", away)
    answer = Client().get("/readyz")
    assert answer.status_code == 503
    assert answer.json()["checks"] == {"database": "cannot be reached", "broker": "ok", "migrations": "cannot be read"}
    assert b"secret-host" not in answer.content


def test_metrics_tell_how_long_the_oldest_recorded_work_waits():
    due = timezone.now() - timedelta(minutes=10)
    for minutes, state in ((0, "queued"), (3, "running"), (-60, "done")):
        BackgroundRun.objects.create(
            kind="kits.tasks.run_replenishment", state=state, due_at=due + timedelta(minutes=minutes)
        )
    text = Client().get("/metrics").content.decode()
    assert "backpull_runs_waiting 2.0" in text
    (age,) = re.findall(r"^backpull_runs_oldest_seconds ([\d.]+)", text, flags=re.M)
    assert 600 <= float(age) < 660


def test_what_was_refused_leaves_a_line_under_its_id(caplog):
    with caplog.at_level(logging.INFO, logger="services.observability.metrics"):
        Client().get("/api/v1/me?token=bp_1_2")
        Client().get("/healthz")
    told = [record.msg for record in caplog.records if isinstance(record.msg, dict)]
    assert [(one["path"], one["status"]) for one in told] == [("/api/v1/me", 401)]
    assert len(told[0]["request_id"]) == 36
    assert not [record for record in caplog.records if record.name == "django.request"]


def test_metrics_count_by_route_never_by_path(cast):
    cast.client("reader").get(f"/api/v1/sites/{cast.north.pk}")
    text = Client().get("/metrics").content.decode()
    assert 'route="api/v1/sites/<uuid:site>"' in text
    assert str(cast.north.pk) not in text
    assert "backpull_runs_waiting 0.0" in text


def test_a_sane_request_id_is_taken_over_and_a_wild_one_replaced():
    assert Client().get("/healthz", headers={"X-Request-ID": "erp-4711-abc"}).headers["X-Request-ID"] == "erp-4711-abc"
    wild = Client().get("/healthz", headers={"X-Request-ID": "a\x0bb; drop"}).headers["X-Request-ID"]
    assert "drop" not in wild
    assert len(wild) == 36


def test_what_a_request_changes_carries_its_id(cast):
    body = {"code": "harrow", "name": "Harrow Sealing"}
    headers = {"X-Request-ID": "erp-4711-abc", "Idempotency-Key": "k"}
    answer = cast.client("data-owner").post("/api/v1/suppliers", body, format="json", headers=headers)
    assert answer.status_code == 201, answer.content
    assert Change.objects.get(kind="supplier.registered").request_id == "erp-4711-abc"


def test_a_problem_carries_the_id_too():
    answer = Client().get("/api/v1/nothing-here", headers={"X-Request-ID": "erp-4711-abc"})
    assert (answer.status_code, answer.json()["request_id"]) == (404, "erp-4711-abc")


def test_a_task_logs_under_the_id_of_the_request_that_kicked_it():
    mark = request_id.set("erp-4711-abc")
    headers: dict[str, str] = {}
    send_along(headers=headers)
    request_id.reset(mark)
    assert headers == {TASK_HEADER: "erp-4711-abc"}
    task = type("Task", (), {"request": type("Request", (), headers)()})()
    take_on(task=task, task_id="t1")
    assert request_id.get() == "erp-4711-abc"
    put_off()
    assert request_id.get() == ""


def test_secrets_are_not_logged():
    event = hide_secrets(None, "info", {"event": "x", "access_token": "bp_1_2", "Password": "p", "pump": "P-117"})
    assert event == {"event": "x", "access_token": "…", "Password": "…", "pump": "P-117"}


def test_a_log_line_of_production_is_one_json_object_with_the_request_id():
    settings = configure(development=False)
    formatter = structlog.stdlib.ProcessorFormatter(
        foreign_pre_chain=settings["formatters"]["lines"]["foreign_pre_chain"],
        processors=settings["formatters"]["lines"]["processors"],
    )
    mark = request_id.set("erp-4711-abc")
    record = logging.LogRecord("kits", logging.WARNING, __file__, 1, "stock is short", None, None)
    line = json.loads(formatter.format(record))
    request_id.reset(mark)
    assert (line["event"], line["level"], line["request_id"]) == ("stock is short", "warning", "erp-4711-abc")
