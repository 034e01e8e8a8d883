"""What of a job's execution stands in its record beside steps and measurements. Each function is one query."""

import uuid
from collections.abc import Sequence

from jobs.calculations.signed_content import signable
from jobs.models import Attachment, ExtraPart, Finding, JobReturn, OfflineRecord, WorkBooking
from jobs.queries.record_rows import Rows, grouped, text


def findings_recorded(job_ids: Sequence[uuid.UUID]) -> Rows:
    """Every finding, those that were corrected later included."""
    rows = Finding.objects.filter(job_id__in=job_ids).order_by("job_id", "id").values(
        "id", "job_id", "step_number", "role", "observed", "mode", "mechanism", "bearing_damage", "cause",
        "replacement_reason", "nonconformity_id", "corrects_id", "occurred_at", "recorded_at", "by_id", "by__name",
    )  # fmt: skip
    told = ("role", "observed", "mode", "mechanism", "bearing_damage", "cause", "replacement_reason")
    return grouped(
        rows,
        lambda one: {
            "id": text(one["id"]),
            "step": one["step_number"],
            **{name: one[name] for name in told},
            "nonconformity": text(one["nonconformity_id"]),
            "corrects": text(one["corrects_id"]),
            "occurred_at": text(one["occurred_at"]),
            "recorded_at": text(one["recorded_at"]),
            "by": text(one["by_id"]),
            "_people": {text(one["by_id"]): one["by__name"]},
        },
    )


def extra_parts_taken(job_ids: Sequence[uuid.UUID]) -> Rows:
    """Parts beyond the kit that were taken, with the lots they came from."""
    rows = ExtraPart.objects.filter(job_id__in=job_ids, state="taken").order_by("job_id", "id").values(
        "id", "job_id", "role", "part_id", "quantity", "taken_from", "reason", "finding_id", "asked_by_id",
        "taken_by_id", "taken_at", "part__number", "asked_by__name", "taken_by__name",
    )  # fmt: skip
    return grouped(
        rows,
        lambda one: {
            "id": text(one["id"]),
            "role": one["role"],
            "part": text(one["part_id"]),
            "quantity": text(one["quantity"]),
            "lots": signable(one["taken_from"]),
            "reason": one["reason"],
            "finding": text(one["finding_id"]),
            "asked_by": text(one["asked_by_id"]),
            "taken_by": text(one["taken_by_id"]),
            "taken_at": text(one["taken_at"]),
            "_people": {
                text(one["asked_by_id"]): one["asked_by__name"],
                text(one["taken_by_id"]): one["taken_by__name"],
            },
            "_parts": {text(one["part_id"]): one["part__number"]},
        },
    )


def returns_recorded(job_ids: Sequence[uuid.UUID]) -> Rows:
    """What came back unused, during the job and at its end."""
    rows = JobReturn.objects.filter(job_id__in=job_ids).order_by("job_id", "id").values(
        "id", "job_id", "item_id", "quantity", "condition", "reason", "movement_id", "extra_part_id", "by_id", "at",
        "by__name", "item__number",
    )  # fmt: skip
    return grouped(
        rows,
        lambda one: {
            "id": text(one["id"]),
            "part": text(one["item_id"]),
            "quantity": text(one["quantity"]),
            "condition": one["condition"],
            "reason": one["reason"],
            "movement": text(one["movement_id"]),
            "extra_part": text(one["extra_part_id"]),
            "by": text(one["by_id"]),
            "at": text(one["at"]),
            "_people": {text(one["by_id"]): one["by__name"]},
            "_parts": {text(one["item_id"]): one["item__number"]},
        },
    )


def work_recorded(job_ids: Sequence[uuid.UUID]) -> Rows:
    """Time that was booked, corrections included."""
    rows = WorkBooking.objects.filter(job_id__in=job_ids).order_by("job_id", "id").values(
        "id", "job_id", "step_number", "section", "person_id", "minutes", "started_at", "ended_at", "note",
        "corrects_id", "by_id", "at", "person__name", "by__name",
    )  # fmt: skip
    return grouped(
        rows,
        lambda one: {
            "id": text(one["id"]),
            "step": one["step_number"],
            "section": one["section"],
            "person": text(one["person_id"]),
            "minutes": one["minutes"],
            "started_at": text(one["started_at"]),
            "ended_at": text(one["ended_at"]),
            "note": one["note"],
            "corrects": text(one["corrects_id"]),
            "by": text(one["by_id"]),
            "at": text(one["at"]),
            "_people": {text(one["person_id"]): one["person__name"], text(one["by_id"]): one["by__name"]},
        },
    )


def attachments_recorded(job_ids: Sequence[uuid.UUID]) -> Rows:
    """Photos and documents by their content. Later ones are not of the record."""
    rows = Attachment.objects.filter(job_id__in=job_ids).order_by("job_id", "id").values(
        "id", "job_id", "name", "caption", "step_number", "finding_id", "measurement_id", "nonconformity_id",
        "file__sha256", "by_id", "occurred_at", "recorded_at", "by__name",
    )  # fmt: skip
    return grouped(
        rows,
        lambda one: {
            "id": text(one["id"]),
            "name": one["name"],
            "caption": one["caption"],
            "step": one["step_number"],
            "finding": text(one["finding_id"]),
            "measurement": text(one["measurement_id"]),
            "nonconformity": text(one["nonconformity_id"]),
            "sha256": text(one["file__sha256"]),
            "by": text(one["by_id"]),
            "occurred_at": text(one["occurred_at"]),
            "recorded_at": text(one["recorded_at"]),
            "_people": {text(one["by_id"]): one["by__name"]},
        },
    )


def offline_records_kept(job_ids: Sequence[uuid.UUID]) -> Rows:
    """Records made without a connection, by the hash of what came, with what became of each."""
    rows = OfflineRecord.objects.filter(job_id__in=job_ids).order_by("job_id", "id").values(
        "id", "job_id", "client_id", "kind", "digest", "state", "code", "settled_by_id", "settled_because", "by_id",
        "by__name", "settled_by__name",
    )  # fmt: skip
    return grouped(
        rows,
        lambda one: {
            "id": text(one["id"]),
            "client_id": text(one["client_id"]),
            "kind": one["kind"],
            "digest": one["digest"],
            "state": one["state"],
            "code": one["code"],
            "by": text(one["by_id"]),
            "settled_by": text(one["settled_by_id"]),
            "settled_because": one["settled_because"],
            "_people": {text(one["by_id"]): one["by__name"], text(one["settled_by_id"]): one["settled_by__name"]},
        },
    )
