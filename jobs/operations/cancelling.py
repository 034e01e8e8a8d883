"""Cancelling a job: what it claims is let go, and what it asked for beyond its kit is withdrawn."""

import uuid

from django.db import transaction

from jobs.models import ExtraPart, Job
from jobs.operations.extra_parts import withdraw
from jobs.operations.jobs import PLANNERS, moved_job, told
from kits.operations import reservations
from services.identity.callers import Caller


@transaction.atomic(savepoint=False)
def cancel_job(*, by: Caller, job_id: uuid.UUID, expected_version: int, reason: str) -> Job:
    """Cancel the job, release what it claims and withdraw what it asked for. What was taken comes back as returns."""
    job = moved_job(by, job_id, expected_version, "cancel", *PLANNERS)
    reservations.release(by=by, job_id=job.pk)
    for one in ExtraPart.objects.filter(job=job, state="asked").order_by("id"):
        withdraw(by=by, job=job, extra_part_id=one.pk, reason=reason)
    reasons = [{"code": "cancelled", "sentence": reason, "remedy": ""}]
    Job.objects.filter(pk=job.pk).update(state="cancelled", held_from="", state_reasons=reasons)
    return told("job.cancelled", job, by, reason=reason)
