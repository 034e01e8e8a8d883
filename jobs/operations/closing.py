"""Taking the kit, finishing the work, and signing it off."""

import datetime
import uuid
from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction
from django.utils import timezone

from jobs.calculations.signed_content import content_hash
from jobs.models import ExtraPart, FittedPart, Job, JobStep, Nonconformity, SignOff
from jobs.operations.extra_parts import withdraw
from jobs.operations.fitted_parts import fit_parts
from jobs.operations.job_changes import tell_job
from jobs.operations.job_returns import bring_back
from jobs.operations.steps import FITTERS, running_job
from jobs.queries.execution_record import execution_to_sign, returns_to_sign
from jobs.queries.jobs import job_for, measurement_rows
from jobs.queries.offline_records import unsettled_count
from jobs.refusals import OfflineRecordsUnsettled, OpenNonconformity, SecondPersonNeeded, StepIncomplete, WrongJobState
from kits.operations import reservations
from kits.queries.reservations import issued_lots, of_job
from services.api.versions import version_changed
from services.identity.callers import Caller


@transaction.atomic(savepoint=False)
def take_kit(*, by: Caller, job_id: uuid.UUID, occurred_at: datetime.datetime | None = None) -> list[Any]:
    """The fitter takes the kit off the shelf: it is issued from the lots that were reserved. Returns the movements.
    Extra parts are taken one by one.

    Raises `WrongJobState` where the job is not in progress or nothing is reserved for it.
    """
    job = running_job(by, job_id, *FITTERS, "stores")
    held = [one for one in of_job(job.pk) if one["state"] == "hard" and one["item"] == job.kit_id]
    if not held:
        raise WrongJobState(
            f"Nothing is reserved for job {job.number} that has not been issued.",
            remedy="Reserve the kit first, or see what was issued already.",
        )
    when = occurred_at or timezone.now()
    return [
        movement for one in held for movement in reservations.issue(by=by, reservation_id=one["id"], occurred_at=when)
    ]


@transaction.atomic(savepoint=False)
def finish_job(*, by: Caller, job_id: uuid.UUID, expected_version: int) -> Job:
    """All steps are done, nothing is undecided, the kit was issued: the job waits for its sign-off.

    Raises `StepIncomplete`, `OpenNonconformity`, `WrongJobState`, `VersionChanged`.
    """
    job = running_job(by, job_id, *FITTERS)
    if job.version != expected_version:
        raise version_changed("The job", job.version)
    undone = list(
        JobStep.objects.filter(job=job, state__in=["open", "awaiting-release"])
        .order_by("number")
        .values_list("number", flat=True)
    )
    if undone:
        raise StepIncomplete(
            f"Steps {', '.join(map(str, undone))} are not done.", remedy="Confirm or release them.", steps=undone
        )
    _refuse_undecided(job)
    _refuse_unsettled(job)
    if job.takes_kit and not any(one["item_id"] == job.kit_id for one in issued_lots(job.pk)):
        raise WrongJobState(
            f"No kit was issued for job {job.number}.", remedy="POST /jobs/{id}/take-kit records what was taken."
        )
    Job.objects.filter(pk=job.pk).update(state="awaiting-sign-off", finished_at=timezone.now())
    job.refresh_from_db()
    tell_job("job.finished", job, by)
    return job


def _refuse_undecided(job: Job) -> None:
    open_ones = list(
        Nonconformity.objects.filter(job=job).exclude(state="closed").values_list("description", flat=True)
    )
    if open_ones:
        raise OpenNonconformity(
            f"{len(open_ones)} nonconformities are not settled, first: {open_ones[0]}",
            remedy="Measure again after the rework, or have it decided by a supervisor.",
        )


def _refuse_unsettled(job: Job) -> None:
    unsettled = unsettled_count(job.pk)
    if unsettled:
        raise OfflineRecordsUnsettled(
            f"{unsettled} offline records of job {job.number} wait or conflict with others.",
            remedy="A supervisor applies each or sets it aside: GET /offline-records?job=… lists them.",
            unsettled=unsettled,
        )


@transaction.atomic(savepoint=False)
def sign_off(
    *,
    by: Caller,
    job_id: uuid.UUID,
    expected_version: int,
    returned: Sequence[Mapping[str, Any]] = (),
    remark: str = "",
) -> tuple[Job, SignOff]:
    """Sign the finished job off and close it.

    1. The signer is a supervisor who did none of its steps. 2. Each line of the kit counts as fitted, less what came
    back; unused parts go back to stock. 3. What sat in those positions is marked as removed. 4. The signature is over
    a hash of exactly this record. ``returned``: ``{"part": item id, "quantity": Decimal, "reason": text}``.
    """
    job_for(by, job_id, "supervisor")
    job = Job.objects.select_for_update(no_key=True, of=("self",)).select_related("pump", "revision").get(pk=job_id)
    if job.version != expected_version:
        raise version_changed("The job", job.version)
    if job.state != "awaiting-sign-off":
        raise WrongJobState(
            f"Job {job.number} is {job.state.replace('-', ' ')}, not waiting for its sign-off.",
            remedy="The fitter finishes it first.",
            state=job.state,
        )
    if JobStep.objects.filter(job=job, done_by_id=by.id).exists():
        raise SecondPersonNeeded(
            "You did steps of this job yourself.", remedy="Ask another person with the role supervisor."
        )
    _refuse_undecided(job)
    for one in ExtraPart.objects.filter(job=job, state="asked").order_by("id"):
        withdraw(by=by, job=job, extra_part_id=one.pk, reason="not taken until the sign-off")
    bring_back(job, [dict(one) for one in returned], by)
    fitted = fit_parts(job, by)
    content = signed_record(job, fitted, returns_to_sign(job.pk)) | execution_to_sign(job.pk)
    signature = SignOff.objects.create(
        job=job,
        kind="completion",
        by_id=by.id,
        role="supervisor",
        content=content,
        content_hash=content_hash(content),
        remark=remark,
    )
    Job.objects.filter(pk=job.pk).update(state="closed", closed_at=timezone.now())
    job.refresh_from_db()
    tell_job("job.closed", job, by, content_hash=signature.content_hash)
    return job, signature


def signed_record(job: Job, fitted: Sequence[FittedPart], back: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Exactly what is signed: JSON-safe, decimals and times as text."""
    steps = (
        JobStep.objects.filter(job=job)
        .order_by("number")
        .values_list("number", "state", "done_by_id", "done_at", "released_by_id", "released_at", "note")
    )
    return {
        "job": job.number,
        "pump": {"tag": job.pump.tag, "serial_number": job.pump.serial_number, "id": str(job.pump_id)},
        "procedure_content": job.revision.content_hash,
        "kit": str(job.kit_id),
        "lots": [{"lot": one["lot"], "quantity": str(one["quantity"])} for one in issued_lots(job.pk)],
        "steps": [
            {
                "number": number,
                "state": state,
                "done_by": str(done_by) if done_by else None,
                "done_at": done_at.isoformat() if done_at else None,
                "released_by": str(released_by) if released_by else None,
                "released_at": released_at.isoformat() if released_at else None,
                "note": note,
            }
            for number, state, done_by, done_at, released_by, released_at, note in steps
        ],
        "measurements": [
            {
                "id": str(one["id"]),
                "step": one["step"],
                "characteristic": one["characteristic"],
                "attempt": one["attempt"],
                "readings": one["readings"],
                "unit": one["unit"],
                "value": str(one["value"]),
                "expanded_uncertainty": str(one["expanded_uncertainty"]),
                "lower": None if one["lower"] is None else str(one["lower"]),
                "upper": None if one["upper"] is None else str(one["upper"]),
                "limits_unit": one["limits_unit"],
                "verdict": one["verdict"],
                "instrument": one["instrument"],
                "occurred_at": one["occurred_at"].isoformat(),
            }
            for one in measurement_rows(job.pk)
        ],
        "nonconformities": [
            {"id": str(pk), "disposition": disposition, "description": description}
            for pk, disposition, description in Nonconformity.objects.filter(job=job)
            .order_by("id")
            .values_list("id", "disposition", "description")
        ],
        "fitted": [{"role": one.role, "part": str(one.part_id), "quantity": str(one.quantity)} for one in fitted],
        "returned": [dict(one) for one in back],
    }
