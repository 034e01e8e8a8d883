"""What of a job's execution stands on its overhaul record beside steps and measurements. One query each.

Corrected findings and bookings do not count and are not printed; the signed record holds them too.
"""

import uuid
from typing import Any

from django.db.models import Q

from jobs.models import Attachment, ExtraPart, Finding, JobReturn, OfflineRecord
from jobs.queries.work_bookings import totals_of
from services.api.rows import plain_rows


def execution_of(job: dict[str, Any]) -> dict[str, Any]:
    """Findings, parts beyond the kit, returns, booked time, attachments, offline records that were not applied. Six
    queries."""
    return {
        "findings": _findings(job["id"]),
        "extra_parts": _extra_parts(job["id"]),
        "returns": _returns(job["id"]),
        "work": totals_of(job["id"]),
        "attachments": _attachments(job),
        "offline_records": _kept_beside(job["id"]),
    }


def _findings(job_id: uuid.UUID) -> list[dict[str, Any]]:
    rows = Finding.objects.filter(job_id=job_id, corrected_by=None).order_by("step_number", "id")
    return plain_rows(
        rows.values(
            "id", "step_number", "role", "observed", "mode", "mechanism", "bearing_damage", "cause",
            "replacement_reason", "occurred_at", "by__name",
        )
    )  # fmt: skip


def _extra_parts(job_id: uuid.UUID) -> list[dict[str, Any]]:
    rows = ExtraPart.objects.filter(job_id=job_id).exclude(state=ExtraPart.State.WITHDRAWN).order_by("id")
    return plain_rows(rows.values("role", "part__number", "part__name", "quantity", "reason", "state", "taken_from"))


def _returns(job_id: uuid.UUID) -> list[dict[str, Any]]:
    rows = JobReturn.objects.filter(job_id=job_id).order_by("id")
    return plain_rows(
        rows.values("item__number", "item__name", "lot__number", "quantity", "condition", "reason", "by__name", "at")
    )


def _attachments(job: dict[str, Any]) -> list[dict[str, Any]]:
    """Those of the record: what is attached after the job was closed does not change its paper."""
    until = Q(recorded_at__lte=job["closed_at"]) if job["closed_at"] else Q()
    rows = Attachment.objects.filter(until, job_id=job["id"]).order_by("id")
    return plain_rows(
        rows.values("name", "caption", "step_number", "finding_id", "finding__role", "file__sha256", "by__name")
    )


def _kept_beside(job_id: uuid.UUID) -> list[dict[str, Any]]:
    rows = OfflineRecord.objects.filter(job_id=job_id).exclude(state=OfflineRecord.State.APPLIED).order_by("id")
    return plain_rows(
        rows.values(
            "kind", "occurred_at", "content", "state", "sentence", "by__name", "settled_by__name", "settled_because"
        )
    )
