"""Taking the kit, finishing the work, and signing it off."""

import datetime
import uuid
from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction
from django.utils import timezone

from jobs.calculations.signed_content import content_hash
from jobs.calculations.step_order import steps_in_words
from jobs.models import ExtraPart, Job, JobStep, Nonconformity, SignOff
from jobs.operations.extra_parts import withdraw
from jobs.operations.fitted_parts import fit_parts
from jobs.operations.job_changes import tell_job
from jobs.operations.job_returns import bring_back
from jobs.operations.record_chain import append_link
from jobs.operations.steps import FITTERS, running_job
from jobs.operations.under_way import happened_at
from jobs.queries.job_records import record_contents
from jobs.queries.jobs import job_for
from jobs.queries.offline_records import unsettled_count
from jobs.queries.record_rows import text
from jobs.queries.sheet_parts import worked_on
from jobs.refusals import (
    OfflineRecordsUnsettled,
    OpenNonconformity,
    RecordChanged,
    SecondPersonNeeded,
    StepIncomplete,
    WrongJobState,
)
from kits.operations import reservations
from kits.queries.reservations import issued_lots, of_job
from services.api.versions import version_changed
from services.identity.callers import Caller


@transaction.atomic(savepoint=False)
def take_kit(*, by: Caller, job_id: uuid.UUID, occurred_at: datetime.datetime | None = None) -> list[Any]:
    """The fitter takes the kit off the shelf: it is issued from the lots that were reserved. Returns the movements.
    Extra parts are taken one by one.

    Raises `WrongJobState` where the job is not in progress or nothing is reserved for it, `InvalidValue` for a time in
    the future or long ago: a lot is judged by the day on which it was taken.
    """
    job = running_job(by, job_id, *FITTERS, "stores")
    held = [one for one in of_job(job.pk) if one["state"] == "hard" and one["item"] == job.kit_id]
    if not held:
        raise WrongJobState(
            f"Nothing is reserved for job {job.number} that has not been issued.",
            remedy="Reserve the kit first, or see what was issued already.",
        )
    when = happened_at(occurred_at)
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
            f"{steps_in_words(undone).capitalize()} not done.", remedy="Confirm or release what is left.", steps=undone
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
        several = "One nonconformity is" if len(open_ones) == 1 else f"{len(open_ones)} nonconformities are"
        raise OpenNonconformity(
            f"{several} not settled, first: {open_ones[0]}",
            remedy="Measure again after the rework, or have it decided by a supervisor.",
        )


def _refuse_unsettled(job: Job) -> None:
    unsettled = unsettled_count(job.pk)
    if unsettled:
        several = "One offline record is" if unsettled == 1 else f"{unsettled} offline records are"
        raise OfflineRecordsUnsettled(
            f"{several} still to be settled on job {job.number}.",
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
    seen: str | None = None,
) -> tuple[Job, SignOff]:
    """Sign the finished job off and close it.

    1. The signer is a supervisor who did none of its steps and measured nothing on it, and names the record seen: by
    the job's version, and by its hash where ``seen`` is given. 2. Each line of the kit counts as fitted, less what came
    back; unused parts go back to stock. 3. What sat in those positions is marked as removed. 4. The signature is over a
    hash of exactly this record. 5. The record gets its link in the chain. ``returned``: ``{"part": item id,
    "quantity": Decimal, "reason": text}``. Raises `RecordChanged`, `SecondPersonNeeded`, `OpenNonconformity`,
    `OfflineRecordsUnsettled`, `WrongJobState`, `VersionChanged`.
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
    if worked_on(job.pk, by.id):
        raise SecondPersonNeeded(
            "You worked on this job yourself.",
            remedy="Ask a supervisor who did none of its steps and measured nothing on it.",
        )
    _refuse_undecided(job)
    _refuse_unsettled(job)
    refuse_other_record(job, seen)
    for one in ExtraPart.objects.filter(job=job, state="asked").order_by("id"):
        withdraw(by=by, job=job, extra_part_id=one.pk, reason="not taken until the sign-off")
    bring_back(job, [dict(one) for one in returned], by)
    fit_parts(job, by)
    at = timezone.now()
    content = record_contents([job.pk])[job.pk]
    content["signature"] = {"by": str(by.id), "role": "supervisor", "at": text(at), "remark": remark, "seen": seen}
    signature = SignOff.objects.create(
        job=job,
        kind="completion",
        by_id=by.id,
        role="supervisor",
        at=at,
        content=content,
        content_hash=content_hash(content),
        remark=remark,
    )
    link = append_link(job=job, signature=signature)
    Job.objects.filter(pk=job.pk).update(state="closed", closed_at=timezone.now())
    job.refresh_from_db()
    tell_job("job.closed", job, by, content_hash=signature.content_hash, link=link.number)
    return job, signature


def refuse_other_record(job: Job, seen: str | None) -> None:
    """Raises `RecordChanged` where the signer names a record other than the one that is there."""
    if seen is None:
        return
    now = content_hash(record_contents([job.pk])[job.pk])
    if seen != now:
        raise RecordChanged(
            f"The record of job {job.number} is not the one you name.",
            remedy="Read GET /jobs/{id}/record again, look at it, then sign with its hash.",
            pointer="#/record",
            content_hash=now,
        )
