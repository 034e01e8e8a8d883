"""Taking recorded work up: one worker at a time, however often it is kicked, whoever dies."""

import time
import uuid
from collections.abc import Callable, Mapping
from datetime import timedelta
from typing import Any

import orjson
import structlog
from django.conf import settings
from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone

from services.api.problems import body_of
from services.api.refusals import NotAllowed, Refusal
from services.api.rendering import to_json
from services.api.request_context import request_id
from services.identity.callers import Caller, caller_by_id
from services.identity.people import principal_exists
from services.work.models import BackgroundRun
from services.work.refusals import NeverEnded

log = structlog.get_logger(__name__)

# Longer than a task may take, so that nobody takes over from a worker that lives.
LEASE = timedelta(seconds=settings.WORK_LEASE_SECONDS)
MOST_ATTEMPTS = 5

Work = Callable[[Caller | None, BackgroundRun], Mapping[str, Any]]


def take_up(run_id: str | uuid.UUID, work: Work) -> None:
    """Do a recorded run once.

    1. Claim it: queued, or running with a lease that has run out. Lost the claim: somebody else has it.
    2. Do the work and mark it done in one transaction, so its effect and its end are one.
    3. A refusal ends it as failed with the reason; an unexpected fault leaves it to be tried again, five times.
    4. Cancelled meanwhile: the effect is undone, and that is no fault.
    """
    now = timezone.now()
    claimed = (
        BackgroundRun.objects.filter(pk=run_id)
        .filter(Q(state="queued", due_at__lte=now) | Q(state="running", lease_until__lt=now))
        .update(state="running", attempts=F("attempts") + 1, lease_until=now + LEASE, started_at=now, progress_done=0)
    )
    if not claimed:
        return
    run = BackgroundRun.objects.get(pk=run_id)
    mark = request_id.set(run.request_id or f"run-{run.pk}")
    begun = time.monotonic()
    log.info("recorded work is taken up", run=str(run.pk), kind=run.kind, attempt=run.attempts)
    try:
        _do(run, work)
        log.info("recorded work ended", run=str(run.pk), kind=run.kind, seconds=round(time.monotonic() - begun, 3))
    except LostClaim as lost:
        log.info("recorded work was undone", run=str(run.pk), kind=run.kind, reason=str(lost))
    except Exception as fault:
        last = run.attempts >= MOST_ATTEMPTS
        log.exception("recorded work failed", run=str(run.pk), kind=run.kind, attempt=run.attempts)
        BackgroundRun.objects.filter(pk=run.pk, state="running", attempts=run.attempts).update(
            state="failed" if last else "queued",
            due_at=timezone.now() + timedelta(seconds=5 * 2**run.attempts),
            ended_at=timezone.now() if last else None,
            last_error=f"{type(fault).__name__}: {fault}"[:2000],
        )
        raise
    finally:
        request_id.reset(mark)


def _do(run: BackgroundRun, work: Work) -> None:
    try:
        _refuse_endless(run)
        by = _requester(run)
        with transaction.atomic(durable=True):
            result = work(by, run)
            _end(run, state="done", result=result)
    except Refusal as refusal:
        _end(run, state="failed", result={"problem": body_of(refusal)}, last_error=refusal.detail)


def _refuse_endless(run: BackgroundRun) -> None:
    if run.attempts > MOST_ATTEMPTS:
        raise NeverEnded(
            f"It was begun {MOST_ATTEMPTS} times and no worker came to its end.",
            remedy="Ask for less at once; the worker's log tells more.",
        )


def _requester(run: BackgroundRun) -> Caller | None:
    if run.requested_by_id is None:
        return None
    if not principal_exists(run.requested_by_id):
        raise NotAllowed(
            "Whoever asked for it may no longer sign in.", remedy="Somebody who may has to ask for it again."
        )
    return caller_by_id(run.requested_by_id)


def _end(run: BackgroundRun, *, state: str, result: Mapping[str, Any], last_error: str = "") -> None:
    kept = BackgroundRun.objects.filter(pk=run.pk, state="running", attempts=run.attempts).update(
        state=state,
        result=orjson.loads(to_json(result)),
        ended_at=timezone.now(),
        lease_until=None,
        last_error=last_error[:2000],
    )
    if not kept:
        raise LostClaim(f"run {run.pk} was cancelled or taken by another worker")


class LostClaim(RuntimeError):
    """The run was cancelled, or its lease ran out and another worker has it: this effect must be undone."""


def due_runs(limit: int = 100) -> list[tuple[str, uuid.UUID]]:
    """(kind, id) of work that is due and not being done: queued, or running beyond its lease."""
    now = timezone.now()
    return list(
        BackgroundRun.objects.filter(
            Q(state="queued", due_at__lte=now - timedelta(seconds=5)) | Q(state="running", lease_until__lt=now)
        )
        .order_by("due_at", "id")
        .values_list("kind", "id")[:limit]
    )


def report_progress(run: BackgroundRun, done: int) -> None:
    """Tell how far the work is. Inside the work's own transaction call it last: the run's row is locked from here on,
    and somebody who cancels would wait. While the work goes on, `services.work.progress` tells it."""
    BackgroundRun.objects.filter(pk=run.pk, attempts=run.attempts).update(progress_done=done)
