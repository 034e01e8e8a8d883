"""Telling what became of a job: in the change feed, and in the history that the job keeps of itself."""

from typing import Any

import orjson
from django.utils import timezone

from jobs.models import Job, JobEvent
from services.api.rendering import to_json
from services.changes.recording import record_change
from services.identity.callers import Caller


def tell_job(kind: str, job: Job, by: Caller | None, *, reason: str = "", **facts: Any) -> None:
    """Record a change of a job. ``facts`` stand in both; ``reason`` is what the person gave for it."""
    JobEvent.objects.create(
        job_id=job.pk,
        kind=kind,
        state=job.state,
        reason=reason,
        facts=orjson.loads(to_json(facts)),
        by_id=by.id if by else None,
    )
    record_change(
        kind,
        noun="job",
        noun_id=job.pk,
        version=job.version,
        site_id=job.site_id,
        by=by,
        body={
            "number": job.number,
            "state": job.state,
            "pump": job.pump_id,
            "kit": job.kit_id,
            "planned_start": job.planned_start,
            **({"reason": reason} if reason else {}),
            **facts,
        },
    )


def record_changed(job: Job, by: Caller) -> None:
    """Whoever saw the record before, to sign it off, has to look again: the job's version rises. To be called where
    something was added to the record of a job; the job is locked."""
    if job.state != "awaiting-sign-off":
        return
    Job.objects.filter(pk=job.pk).update(updated_at=timezone.now())
    job.refresh_from_db()
    tell_job("job.record-changed", job, by)
