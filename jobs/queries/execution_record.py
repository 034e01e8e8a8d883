"""What of a job's execution is signed beside its steps and measurements: JSON-safe, decimals and times as text."""

import uuid
from typing import Any

from jobs.models import Attachment, ExtraPart, JobReturn
from jobs.queries.findings import standing_findings


def returns_to_sign(job_id: uuid.UUID) -> list[dict[str, Any]]:
    """Everything that came back, during the job and at its end. One query."""
    rows = JobReturn.objects.filter(job_id=job_id).order_by("id")
    return [
        {"part": str(item), "quantity": str(quantity), "condition": condition, "reason": reason}
        for item, quantity, condition, reason in rows.values_list("item_id", "quantity", "condition", "reason")
    ]


def execution_to_sign(job_id: uuid.UUID) -> dict[str, Any]:
    """Findings that stand, extra parts that were taken, and the hash of each attachment. Three queries."""
    return {
        "findings": [
            {
                "id": str(one["id"]),
                "role": one["role"],
                "observed": one["observed"],
                "mode": one["mode"],
                "mechanism": one["mechanism"],
                "bearing_damage": one["bearing_damage"],
                "cause": one["cause"],
                "replacement_reason": one["replacement_reason"],
            }
            for one in standing_findings(job_id)
        ],
        "extra_parts": [
            {"role": role, "part": str(part), "quantity": str(quantity), "lots": taken_from, "reason": reason}
            for role, part, quantity, taken_from, reason in ExtraPart.objects.filter(job_id=job_id, state="taken")
            .order_by("id")
            .values_list("role", "part_id", "quantity", "taken_from", "reason")
        ],
        "attachments": [
            {"id": str(pk), "name": name, "sha256": digest}
            for pk, name, digest in Attachment.objects.filter(job_id=job_id)
            .order_by("id")
            .values_list("id", "name", "file__sha256")
        ],
    }
