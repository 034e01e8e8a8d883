"""Reading what was found."""

import uuid
from typing import Any

from django.db.models import QuerySet

from assets.access import narrow
from jobs.models import Finding
from services.api.models import as_uuid
from services.api.refusals import NotThere
from services.api.rows import plain_rows
from services.identity.callers import Caller


def findings(*, by: Caller) -> QuerySet[Finding]:
    """Findings of jobs at granted sites, corrected ones included."""
    return narrow(Finding.objects.all(), by, path="job__site_id")


def finding_for(by: Caller, finding_id: Any, *, job_id: uuid.UUID) -> Finding:
    """A finding of this job. Raises `NotThere`."""
    found = findings(by=by).filter(pk=as_uuid(finding_id), job_id=job_id).first()
    if found is None:
        raise NotThere("The job has no such finding.", remedy="GET /jobs/{id}/findings lists them.")
    return found


def standing_findings(job_id: uuid.UUID) -> list[dict[str, Any]]:
    """A job's findings that no later one corrects, in the order recorded. One query."""
    return plain_rows(
        Finding.objects.filter(job_id=job_id, corrected_by=None)
        .order_by("id")
        .values(
            "id", "role", "observed", "mode", "mechanism", "bearing_damage", "cause", "replacement_reason",
            "step_number", "occurred_at", "by__name",
        )
    )  # fmt: skip
