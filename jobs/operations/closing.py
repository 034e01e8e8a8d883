"""Taking the kit, finishing the work, and signing it off."""

import datetime
import uuid
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from jobs.calculations.signed_content import content_hash
from jobs.models import FittedPart, Job, JobStep, Nonconformity, SignOff
from jobs.operations.record_chain import append_link
from jobs.operations.steps import FITTERS, running_job
from jobs.queries.job_records import record_contents, text
from jobs.queries.jobs import job_for
from jobs.refusals import OpenNonconformity, RecordChanged, SecondPersonNeeded, StepIncomplete, WrongJobState
from kits.operations import reservations, returns
from kits.queries.kits import kit_lines
from kits.queries.reservations import issued_lots, of_job
from services.api.refusals import InvalidValue
from services.api.versions import version_changed
from services.changes.recording import Recorded, record_change, record_changes
from services.identity.callers import Caller


@transaction.atomic(savepoint=False)
def take_kit(*, by: Caller, job_id: uuid.UUID, occurred_at: datetime.datetime | None = None) -> list[Any]:
    """The fitter takes the kit off the shelf: it is issued from the lots that were reserved. Returns the movements.

    Raises `WrongJobState` where the job is not in progress or nothing is reserved for it.
    """
    job = running_job(by, job_id, *FITTERS, "stores")
    held = [one for one in of_job(job.pk) if one["state"] == "hard"]
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
    if not issued_lots(job.pk):
        raise WrongJobState(
            f"No kit was issued for job {job.number}.", remedy="POST /jobs/{id}/take-kit records what was taken."
        )
    Job.objects.filter(pk=job.pk).update(state="awaiting-sign-off", finished_at=timezone.now())
    job.refresh_from_db()
    _tell("job.finished", job, by)
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

    1. The signer is a supervisor who did none of its steps, and names the record seen: by the job's version, and by
    its hash where ``seen`` is given. 2. Each line of the kit counts as fitted, less what came back; unused parts go
    back to stock. 3. What sat in those positions is marked as removed. 4. The signature is over a hash of exactly this
    record. 5. The record gets its link in the chain. ``returned``: ``{"part": item id, "quantity": Decimal, "reason":
    text}``. Raises `RecordChanged`, `SecondPersonNeeded`, `OpenNonconformity`, `WrongJobState`, `VersionChanged`.
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
    refuse_other_record(job, seen)
    fitted = _fit_parts(job, returned)
    _bring_back(job, returned, by)
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
    _tell_parts(job, fitted, by)
    _tell("job.closed", job, by, content_hash=signature.content_hash, link=link.number)
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


def _fit_parts(job: Job, returned: Sequence[Mapping[str, Any]]) -> list[FittedPart]:
    back: dict[uuid.UUID, Decimal] = {}
    for one in returned:
        back[one["part"]] = back.get(one["part"], Decimal(0)) + Decimal(one["quantity"])
    lots = issued_lots(job.pk)
    lot_id = lots[0]["lot_id"] if lots else None
    when = job.finished_at or timezone.now()
    fitted = []
    for line in kit_lines(job.kit_id):
        less = min(back.get(line["part_id"], Decimal(0)), line["quantity"])
        back[line["part_id"]] = back.get(line["part_id"], Decimal(0)) - less
        if line["quantity"] > less:
            fitted.append(
                FittedPart(
                    pump_id=job.pump_id,
                    role=line["role"],
                    part_id=line["part_id"],
                    quantity=line["quantity"] - less,
                    lot_id=lot_id,
                    job=job,
                    fitted_at=when,
                )
            )
    too_many = [part for part, quantity in back.items() if quantity > 0]
    if too_many:
        raise InvalidValue(
            "More came back of a part than the kit holds, or the part is not in the kit.",
            remedy="Name parts of the kit, at most their quantity.",
            pointer="#/returned",
            parts=[str(one) for one in too_many],
        )
    roles = {one.role for one in fitted}
    FittedPart.objects.filter(pump_id=job.pump_id, role__in=roles, removed_at=None).update(
        removed_at=when, removed_by_job=job
    )
    return FittedPart.objects.bulk_create(_merged(fitted))


def _merged(fitted: list[FittedPart]) -> list[FittedPart]:
    """One row for a position and part, even where the kit lists it on two lines."""
    by_key: dict[tuple[str, uuid.UUID], FittedPart] = {}
    for one in fitted:
        known = by_key.setdefault((one.role, one.part_id), one)
        if known is not one:
            known.quantity += one.quantity
    return list(by_key.values())


def _bring_back(job: Job, returned: Sequence[Mapping[str, Any]], by: Caller) -> None:
    lots = issued_lots(job.pk)
    for one in returned:
        returns.put_back_part(
            by=by,
            job_id=job.pk,
            job_number=job.number,
            site_id=job.site_id,
            part_id=one["part"],
            quantity=Decimal(one["quantity"]),
            kit_lot_id=lots[0]["lot_id"],
            reason=str(one.get("reason") or "not used"),
            occurred_at=timezone.now(),
        )


def _tell_parts(job: Job, fitted: Sequence[FittedPart], by: Caller) -> None:
    record_changes(
        [
            Recorded(
                "fitted-part.fitted",
                "fitted-part",
                one.pk,
                1,
                job.site_id,
                {"pump": one.pump_id, "role": one.role, "part": one.part_id, "quantity": one.quantity, "job": job.pk},
            )
            for one in fitted
        ],
        by=by,
    )


def _tell(kind: str, job: Job, by: Caller, **facts: Any) -> None:
    record_change(
        kind,
        noun="job",
        noun_id=job.pk,
        version=job.version,
        site_id=job.site_id,
        by=by,
        body={"number": job.number, "state": job.state, "pump": job.pump_id, **facts},
    )
