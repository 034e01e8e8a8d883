"""Asking for work: a row in the asking transaction, and a kick once it is committed."""

import uuid
from collections.abc import Mapping
from typing import Any

import structlog
from celery import current_app
from django.conf import settings
from django.db import transaction
from kombu.exceptions import OperationalError as BrokerDown

from services.api.request_context import request_id
from services.identity.callers import Caller
from services.work.models import BackgroundRun

log = structlog.get_logger(__name__)


def record_run(
    kind: str,
    *,
    by: Caller | None,
    arguments: Mapping[str, Any] | None = None,
    site_id: uuid.UUID | None = None,
    slot: str | None = None,
    total: int | None = None,
    run_id: uuid.UUID | None = None,
) -> uuid.UUID | None:
    """Record work of ``kind`` (a task's name) and return its id; None where its slot is already taken.

    Must run inside the transaction that asks for it. The kick may get lost: the sweep finds the row.
    """
    fields: dict[str, Any] = {
        "kind": kind,
        "slot": slot,
        "site_id": site_id,
        "arguments": dict(arguments or {}),
        "progress_total": total,
        "requested_by_id": by.id if by else None,
        "request_id": request_id.get()[:64],
    }
    if run_id is not None:
        fields["id"] = run_id
    run = BackgroundRun(**fields)
    if slot is None:
        run.save(force_insert=True)
    else:
        BackgroundRun.objects.bulk_create([run], ignore_conflicts=True)
        if not BackgroundRun.objects.filter(pk=run.pk).exists():
            return None
    transaction.on_commit(lambda: kick(kind, run.pk), robust=True)
    return run.pk


def kick(kind: str, run_id: uuid.UUID) -> None:
    """Wake a worker for a recorded run. A broker that is away is no error: the sweep comes round."""
    _send(kind, str(run_id))


def wake(task: str) -> None:
    """Wake a worker for work that stands in the database by itself and that the clock comes round to."""
    _send(task)


def _send(task: str, *arguments: str) -> None:
    if settings.CELERY_BROKER_URL == "none":
        return
    try:
        current_app.send_task(task, args=list(arguments), retry=False, ignore_result=True)
    except (BrokerDown, OSError) as error:
        log.warning("broker away, the clock will find the work", task=task, of=arguments, error=str(error))
