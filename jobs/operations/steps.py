"""Confirming steps, and releasing hold points by a second person."""

import datetime
import uuid

from django.db import transaction
from django.utils import timezone

from jobs.calculations.signed_content import content_hash
from jobs.calculations.step_completeness import unmet
from jobs.calculations.step_order import Standing, obstacle, steps_in_words
from jobs.models import Job, JobCharacteristic, JobStep, Measurement, Nonconformity, SignOff
from jobs.operations.under_way import happened_at
from jobs.queries.attachments import photos_lacking
from jobs.queries.job_records import step_content
from jobs.queries.jobs import job_for
from jobs.refusals import HoldPointWaits, MakeSafeFirst, SecondPersonNeeded, StepIncomplete, StepNotOpen, WrongJobState
from services.api.refusals import FieldProblem, NotThere
from services.api.versions import version_changed
from services.changes.recording import record_change
from services.identity.callers import Caller

FITTERS = ("fitter", "supervisor")


def running_job(by: Caller, job_id: uuid.UUID, *roles: str) -> Job:
    """The job, locked, if work on it is going on. Raises `WrongJobState`."""
    job_for(by, job_id, *roles)
    job = Job.objects.select_for_update(no_key=True, of=("self",)).select_related("revision").get(pk=job_id)
    if job.state != "in-progress":
        raise WrongJobState(
            f"Job {job.number} is {job.state.replace('-', ' ')}.",
            remedy="Only a job in progress takes records; start or resume it first.",
            state=job.state,
        )
    return job


def open_step(job: Job, number: int) -> JobStep:
    """The step, if it may be worked on now.

    Raises `NotThere`, `StepNotOpen`, `MakeSafeFirst` while an earlier make-safe step is unconfirmed, `HoldPointWaits`
    while an earlier hold point waits.
    """
    steps = list(JobStep.objects.filter(job=job).select_related("step").order_by("number"))
    step = next((one for one in steps if one.number == number), None)
    if step is None:
        raise NotThere(f"Job {job.number} has no step {number}.", remedy="Read the job's steps.")
    found = obstacle((standing(one) for one in steps), number)
    if found is None:
        return step
    if found.code == "step-not-open":
        raise StepNotOpen(
            f"Step {number} is {step.state.replace('-', ' ')}.", remedy="Read the steps again.", state=step.state
        )
    if found.code == "make-safe-first":
        raise MakeSafeFirst(
            f"Make-safe {steps_in_words(found.numbers)} not confirmed.",
            remedy="Confirm them on site first: isolated, locked and tagged, proved dead, drained, cool.",
            unconfirmed=list(found.numbers),
        )
    raise HoldPointWaits(
        f"Hold point {found.numbers[0]} comes first.",
        remedy="Have it confirmed, and released by another person with the role supervisor.",
        hold_points=list(found.numbers),
    )


def standing(step: JobStep) -> Standing:
    """A step as the order of steps looks at it."""
    return Standing(step.number, step.section, step.state, step.step.hold_point)


@transaction.atomic(savepoint=False)
def confirm_step(
    *, by: Caller, job_id: uuid.UUID, number: int, occurred_at: datetime.datetime | None = None, note: str = ""
) -> JobStep:
    """Confirm that a step is done. A hold point then waits for another person.

    Raises `StepIncomplete` where a measurement is missing, rejected or not proved and not conceded; `InvalidValue` for
    a time in the future, long ago or before the job began; and what `open_step` raises.
    """
    job = running_job(by, job_id, *FITTERS)
    step = open_step(job, number)
    when = happened_at(occurred_at, started=job.started_at)
    problems = [*_incomplete(step), *_photos_lacking(step)]
    if problems:
        raise StepIncomplete(
            " ".join(one.detail for one in problems),
            remedy="Measure again, rework, or have it conceded by somebody else; attach the photos that are wanted.",
            problems=problems,
        )
    state = "awaiting-release" if step.step.hold_point else "done"
    JobStep.objects.filter(pk=step.pk).update(state=state, done_by_id=by.id, done_at=when, note=note)
    step.refresh_from_db()
    _tell("job-step.confirmed", job, step, by)
    return step


def _photos_lacking(step: JobStep) -> list[FieldProblem]:
    lacking = photos_lacking(step)
    return [FieldProblem("photos", "photos-lacking", f"Photos still wanted: {lacking}.")] if lacking else []


def _incomplete(step: JobStep) -> list[FieldProblem]:
    asked = list(JobCharacteristic.objects.filter(job_step=step).values_list("id", "code"))
    if not asked:
        return []
    latest = {
        one.job_characteristic_id: (one.pk, one.verdict)
        for one in Measurement.objects.filter(job_characteristic__job_step=step).order_by("occurred_at", "attempt")
    }
    conceded = set(
        Nonconformity.objects.filter(
            job_characteristic__job_step=step, disposition="use-as-is", decided_by__isnull=False
        ).values_list("measurement_id", flat=True)
    )
    return [FieldProblem(one.code, one.why, one.sentence) for one in unmet(asked, latest, conceded)]


@transaction.atomic(savepoint=False)
def release_hold_point(
    *, by: Caller, job_id: uuid.UUID, number: int, expected_version: int, remark: str = ""
) -> JobStep:
    """Release a hold point after looking, by a person who neither did the step nor measured at it; signed over what was
    seen.

    Raises `SecondPersonNeeded`, `StepNotOpen`, `VersionChanged`.
    """
    job = running_job(by, job_id, "supervisor")
    step = JobStep.objects.select_related("step").filter(job=job, number=number).first()
    if step is None:
        raise NotThere(f"Job {job.number} has no step {number}.", remedy="Read the job's steps.")
    if step.state != "awaiting-release":
        raise StepNotOpen(
            f"Step {number} is {step.state.replace('-', ' ')}, not waiting for release.",
            remedy="It must be a hold point that has been confirmed.",
            state=step.state,
        )
    if step.version != expected_version:
        raise version_changed("The step", step.version)
    if step.done_by_id == by.id:
        raise SecondPersonNeeded(
            "You did this step yourself.", remedy="Ask another person with the role supervisor to look."
        )
    if Measurement.objects.filter(job_characteristic__job_step=step, by_id=by.id).exists():
        raise SecondPersonNeeded(
            "You measured at this step yourself.", remedy="Ask another person with the role supervisor to look."
        )
    content = step_content(job.pk, number)
    now = timezone.now()
    JobStep.objects.filter(pk=step.pk).update(state="done", released_by_id=by.id, released_at=now)
    SignOff.objects.create(
        job=job,
        kind=SignOff.Kind.HOLD_POINT,
        step_number=number,
        by_id=by.id,
        role="supervisor",
        at=now,
        content=content,
        content_hash=content_hash(content),
        remark=remark,
    )
    step.refresh_from_db()
    _tell("job-step.released", job, step, by)
    return step


def _tell(kind: str, job: Job, step: JobStep, by: Caller) -> None:
    record_change(
        kind,
        noun="job-step",
        noun_id=step.pk,
        version=step.version,
        site_id=job.site_id,
        by=by,
        body={"job": job.pk, "job_number": job.number, "step": step.number, "state": step.state},
    )
