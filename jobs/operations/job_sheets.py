"""The job sheet before the work: the job's own steps once it began, before that as they would be resolved now."""

import uuid
from typing import Any

from jobs.models import Job, JobStep, Step
from jobs.operations.starting import resolved_steps
from jobs.queries.jobs import job_for, steps
from jobs.queries.printed_jobs import heading, kit_of
from services.api.identifiers import new_id
from services.identity.callers import Caller

BEFORE = ("planned", "ready")


def sheet_data(*, by: Caller, job_id: uuid.UUID) -> dict[str, Any]:
    """Everything of the job sheet; nothing is written. Some 20 queries. Raises `NotThere`.

    Limits that cannot be resolved for this pump are named in ``unresolved``, by step.
    """
    job = job_for(by, job_id)
    head = heading(job.pk)
    data = {"job": head, "kit": kit_of(head), "unresolved": {}}
    if job.state in BEFORE or not (known := steps(job.pk)):
        expected, unresolved = _expected(job)
        return data | {"steps": expected, "unresolved": unresolved}
    return data | {"steps": known}


def _expected(job: Job) -> tuple[list[dict[str, Any]], dict[int, list[str]]]:
    found, limits, problems = resolved_steps(job)
    asked: dict[Any, list[dict[str, Any]]] = {}
    for one in limits:
        asked.setdefault(one.job_step.pk, []).append(
            {
                "code": one.code,
                "name": one.characteristic.name,
                "lower": one.lower,
                "upper": one.upper,
                "unit": one.unit,
                "words": one.words,
                "readings": one.characteristic.readings,
                "rule": one.characteristic.rule,
                "set_up": one.characteristic.set_up,
                "instrument_type": one.characteristic.instrument_type,
                "second_instrument_type": one.characteristic.second_instrument_type,
                "decision_rule": one.characteristic.decision_rule,
            }
        )
    unresolved: dict[int, list[str]] = {}
    for problem in problems:
        number = int(problem.pointer.split()[1])
        unresolved.setdefault(number, []).append(problem.detail)
    told = {one.step_id for one in found}
    # A step whose condition cannot be judged is printed with its caution, never left out.
    unsure = Step.objects.filter(revision_id=job.revision_id).exclude(pk__in=told)
    for step in unsure:
        found.append(
            JobStep(
                id=new_id(), job=job, step=step, number=step.number, section=step.section, state="open",
                why="Whether it applies to this pump cannot be told yet: ask before you leave it out.", advice=[],
            )
        )  # fmt: skip
    found.sort(key=lambda one: one.number)
    return [
        {
            "number": one.number,
            "section": one.section,
            "state": one.state,
            "why": one.why,
            "advice": one.advice,
            "title": one.step.title,
            "instruction": one.step.instruction,
            "signal_word": one.step.signal_word,
            "caution": one.step.caution,
            "tools": one.step.tools,
            "consumables": one.step.consumables,
            "positions": one.step.positions,
            "hold_point": one.step.hold_point,
            "look_at": one.step.look_at,
            "photos": one.step.photos,
            "characteristics": asked.get(one.pk, []),
        }
        for one in found
    ], unresolved
