"""Moving a job to another day, and handing it over to another person."""

import datetime
import uuid
from typing import Any

from django.db import transaction

from assets.queries.pumps import pump_for
from jobs.models import Job
from jobs.operations.jobs import (
    PLANNERS,
    WORKERS,
    locked_job,
    must_work_there,
    revision_for_pump,
    told,
    wrong_state,
)
from jobs.operations.readiness import not_gone_by, refresh
from jobs.queries.jobs import LIVE
from jobs.refusals import WrongJobState
from kits.operations import reservations
from services.api.refusals import InvalidValue
from services.api.versions import version_changed
from services.identity.callers import Caller
from services.identity.people import name_of


@transaction.atomic(savepoint=False)
def reschedule_job(
    *,
    by: Caller,
    job_id: uuid.UUID,
    expected_version: int,
    planned_start: datetime.date,
    planned_end: datetime.date | None = None,
    reason: str = "",
) -> Job:
    """Move the window, by its whole length where no end is given. What the job claims is needed on the new day: lots
    that would be out of date by then are exchanged or let go, and *ready* is judged again.

    Before work begins both ends move, afterwards only the last day. Raises `WrongJobState`, `InvalidValue`,
    `VersionChanged`.
    """
    job = _seen(by, job_id, expected_version, *PLANNERS)
    before: dict[str, Any] = {"from_start": job.planned_start, "from_end": job.planned_end}
    _move(job, by, planned_start, planned_end)
    return refresh(told("job.rescheduled", job, by, reason=reason, planned_end=job.planned_end, **before), by=by)


@transaction.atomic(savepoint=False)
def hand_over_job(*, by: Caller, job_id: uuid.UUID, expected_version: int, to: uuid.UUID | None, note: str = "") -> Job:
    """Hand a live job over to another fitter or supervisor of its site; None takes it from everybody.

    The note says how things stand; who had it before stays in the job's history. Raises `InvalidValue`,
    `WrongJobState`, `VersionChanged`.
    """
    job = _seen(by, job_id, expected_version, *PLANNERS, *WORKERS)
    if job.state not in LIVE:
        raise wrong_state(job, "be handed over", "planned or under way")
    before = job.assignee_id
    _give(job, to, "#/to")
    return told(
        "job.handed-over", job, by, reason=note, from_assignee=before, to_assignee=to, to_name=name_of(to) if to else ""
    )


@transaction.atomic(savepoint=False)
def change_job(*, by: Caller, job_id: uuid.UUID, expected_version: int, **changes: Any) -> Job:
    """Move the window or hand over to another assignee, before or during the work, without a word why; before it, go
    over to another published revision of a procedure for the pump, as where the one planned was superseded.

    Raises `InvalidValue`, `NoPublishedProcedure`, `WrongJobState`, `VersionChanged`.
    """
    job = _seen(by, job_id, expected_version, *PLANNERS)
    before: dict[str, Any] = {
        "from_start": job.planned_start, "from_end": job.planned_end, "from_assignee": job.assignee_id,
    }  # fmt: skip
    _move(job, by, changes.get("planned_start", job.planned_start), changes.get("planned_end"))
    if "assignee_id" in changes and changes["assignee_id"] != job.assignee_id:
        _give(job, changes["assignee_id"], "#/assignee")
    if "revision_id" in changes and changes["revision_id"] != job.revision_id:
        before |= {"from_revision": job.revision_id, "to_revision": changes["revision_id"]}
        _follow(job, by, changes["revision_id"])
    job = told("job.rescheduled", job, by, **before, to_assignee=changes.get("assignee_id", job.assignee_id))
    return refresh(job, by=by)


def _seen(by: Caller, job_id: uuid.UUID, expected_version: int, *roles: str) -> Job:
    job = locked_job(by, job_id, *roles)
    if job.version != expected_version:
        raise version_changed("The job", job.version)
    return job


def _move(job: Job, by: Caller, start: datetime.date, end: datetime.date | None) -> None:
    if job.state not in LIVE:
        raise wrong_state(job, "be moved", "planned or under way")
    end = end or start + (job.planned_end - job.planned_start)
    if end < start:
        raise InvalidValue(
            "The window ends before it begins.", remedy="Give an end on or after the start.", pointer="#/planned_end"
        )
    if start != job.planned_start:
        if _has_begun(job):
            raise wrong_state(job, "be moved to another day", "planned or ready")
        reservations.move_need_date(by=by, job_id=job.pk, need_date=not_gone_by(start))
    Job.objects.filter(pk=job.pk).update(planned_start=start, planned_end=end)
    job.refresh_from_db()


def _has_begun(job: Job) -> bool:
    return (job.held_from if job.state == "on-hold" else job.state) not in {"planned", "ready"}


def _follow(job: Job, by: Caller, revision_id: uuid.UUID) -> None:
    if _has_begun(job):
        raise wrong_state(job, "go over to another revision", "planned or ready")
    if job.follows_id is not None:
        raise WrongJobState(
            f"Job {job.number} goes on with the revision of the job before.",
            remedy="Leave it; its steps are those that were left there.",
        )
    configuration = pump_for(by, job.pump_id).pump_model.configuration
    Job.objects.filter(pk=job.pk).update(revision_id=revision_for_pump(by, revision_id, configuration))
    # The row that was read came with the revision of before.
    job.refresh_from_db()


def _give(job: Job, to: uuid.UUID | None, pointer: str) -> None:
    if to is not None:
        must_work_there(to, job.site_id, pointer)
    Job.objects.filter(pk=job.pk).update(assignee_id=to)
