"""Starting a job: its steps, their limits and the advice are resolved for this pump and this kit."""

import uuid
from typing import Any

from django.db import transaction
from django.utils import timezone

from jobs.calculations.conditions import ConditionError, applies
from jobs.calculations.limits import LimitUnresolvable, resolve
from jobs.calculations.split_of_jobs import left_out
from jobs.models import Characteristic, Job, JobCharacteristic, JobStep, Step
from jobs.operations.advice import advice_for
from jobs.operations.job_changes import tell_job
from jobs.operations.readiness import judge, reasons_of
from jobs.queries.job_data import job_data
from jobs.queries.jobs import job_for
from jobs.refusals import JobNotReady, ProcedureUnsound, WrongJobState
from services.api.identifiers import new_id
from services.api.refusals import FieldProblem
from services.api.versions import version_changed
from services.identity.callers import Caller


@transaction.atomic(savepoint=False)
def start_job(*, by: Caller, job_id: uuid.UUID, expected_version: int) -> Job:
    """Begin work. The first section that opens is *make safe*; nothing later can be recorded before it is confirmed.

    Raises `JobNotReady` with the reasons of this very moment, `WrongJobState`, `ProcedureUnsound`, `VersionChanged`.
    """
    job_for(by, job_id, "fitter", "supervisor")
    job = Job.objects.select_for_update(no_key=True, of=("self",)).select_related("revision").get(pk=job_id)
    if job.version != expected_version:
        raise version_changed("The job", job.version)
    if job.state not in {"planned", "ready"}:
        raise WrongJobState(
            f"Job {job.number} is {job.state.replace('-', ' ')}.",
            remedy="Only a job that is ready can be started.",
            state=job.state,
        )
    judged = judge(job)
    if not judged.ready:
        reasons = reasons_of(judged)
        raise JobNotReady(
            " ".join(one["sentence"] for one in reasons),
            remedy=" ".join(one["remedy"] for one in reasons if one["remedy"]),
            reasons=reasons,
        )
    _resolve_steps(job)
    Job.objects.filter(pk=job.pk).update(state="in-progress", started_at=timezone.now(), state_reasons=[])
    job.refresh_from_db()
    tell_job("job.started", job, by)
    return job


def _resolve_steps(job: Job) -> None:
    steps, limits, problems = resolved_steps(job)
    if problems:
        raise ProcedureUnsound(
            f"{len(problems)} places of the procedure cannot be resolved for this pump, first "
            f"{problems[0].pointer}: {problems[0].detail}",
            remedy="Complete the pump's or the kit's data, or correct the procedure.",
            problems=problems,
        )
    JobStep.objects.bulk_create(steps)
    JobCharacteristic.objects.bulk_create(limits)


def resolved_steps(job: Job) -> tuple[list[JobStep], list[JobCharacteristic], list[FieldProblem]]:
    """The steps and limits of a job as they would be if it began now, not saved; and what cannot be resolved."""
    data = job_data(job.pk)
    asked: dict[uuid.UUID, list[Characteristic]] = {}
    for one in Characteristic.objects.filter(step__revision_id=job.revision_id):
        asked.setdefault(one.step_id, []).append(one)
    steps: list[JobStep] = []
    limits: list[JobCharacteristic] = []
    problems: list[FieldProblem] = []
    before = _done_before(job)
    for step in Step.objects.filter(revision_id=job.revision_id).order_by("number"):
        earlier = before.get(step.number)
        if earlier is not None:
            steps.append(_left_to(job, step, earlier))
            continue
        try:
            does, words = applies(step.conditions, data)
        except ConditionError as error:
            problems.append(FieldProblem(f"step {step.number}", "condition", str(error)))
            continue
        row = JobStep(
            id=new_id(),
            job=job,
            step=step,
            number=step.number,
            section=step.section,
            state="open" if does else "not-applicable",
            why=words,
            advice=advice_for(step.computes, data, {}) if does else [],
        )
        steps.append(row)
        if does:
            for one in asked.get(step.pk, []):
                resolved = _limits(step, one, data, problems)
                if resolved is not None:
                    limits.append(JobCharacteristic(job_step=row, characteristic=one, code=one.code, **resolved))
    return steps, limits, problems


def _done_before(job: Job) -> dict[int, Job]:
    """Steps that a follow-up need not do, with the job that did them."""
    if job.follows_id is None:
        return {}
    rows = JobStep.objects.filter(job_id=job.follows_id).select_related("job", "done_under").order_by("number")
    done = {one.number: one.done_under or one.job for one in rows if one.state == "done" or one.done_under_id}
    seen = [(one.number, one.section, one.state) for one in rows]
    return {number: done[number] for number in left_out(seen, done_before=done, repeats=job.repeats)}


def _left_to(job: Job, step: Step, earlier: Job) -> JobStep:
    return JobStep(
        id=new_id(),
        job=job,
        step=step,
        number=step.number,
        section=step.section,
        state="not-applicable",
        why=f"Done under job {earlier.number}.",
        done_under=earlier,
    )


def _limits(
    step: Step, asked: Characteristic, data: dict[str, Any], problems: list[FieldProblem]
) -> dict[str, Any] | None:
    try:
        found = resolve(asked.limits, data)
    except LimitUnresolvable as error:
        problems.append(FieldProblem(f"step {step.number} {asked.code}", "limits", str(error)))
        return None
    return {
        "lower": found.lower,
        "upper": found.upper,
        "unit": found.unit or asked.unit,
        "words": f"{found.words} {f'Source: {found.source}.' if found.source else ''}".strip(),
    }
