"""What was done on a pump: its jobs, and where the record of each is."""

import uuid
from typing import Any

from django.db.models import OuterRef, Subquery

from jobs.models import SignOff
from jobs.queries.jobs import jobs
from services.api.rows import plain_rows
from services.identity.callers import Caller

MOST_JOBS = 40


def jobs_of_pump(*, by: Caller, pump_id: uuid.UUID) -> list[dict[str, Any]]:
    """Jobs of a pump at granted sites, the latest day first, at most 40, each with the hash of its record where it was
    signed off. One query."""
    signed = SignOff.objects.filter(job=OuterRef("pk"), kind=SignOff.Kind.COMPLETION)
    rows = plain_rows(
        jobs(by=by)
        .filter(pump_id=pump_id)
        .order_by("-planned_start", "-number")
        .annotate(content_hash=Subquery(signed.values("content_hash")[:1]))
        .values("id", "number", "state", "planned_start", "closed_at", "content_hash", "revision__procedure__title",
                "assignee__name")[:MOST_JOBS]
    )  # fmt: skip
    return [one | {"digest": (one["content_hash"] or "").removeprefix("sha256:")} for one in rows]
