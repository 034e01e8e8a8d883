"""Splitting a job: what must wait becomes a follow-up job, and the pump goes back together without it.

The rule, what can wait and what cannot, stands in `jobs.calculations.split_of_jobs`.
"""

import datetime
import uuid
from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.db import transaction

from jobs.calculations.split_of_jobs import refused_moves
from jobs.models import ExtraPart, Job, JobStep
from jobs.operations.extra_parts import claim_extra, withdraw
from jobs.operations.jobs import PLANNERS, locked_job, next_number, told, wrong_state
from jobs.operations.readiness import not_gone_by, refresh
from jobs.refusals import CannotBeSplit
from kits.operations import reservations
from kits.operations.extra_claims import claim_less
from kits.queries.reservations import issued_lots, of_job
from services.api.identifiers import new_id
from services.api.refusals import FieldProblem, InvalidValue
from services.api.versions import version_changed
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller


@transaction.atomic(savepoint=False)
def split_job(
    *,
    by: Caller,
    job_id: uuid.UUID,
    expected_version: int,
    reason: str,
    steps: Collection[int],
    planned_start: datetime.date,
    planned_end: datetime.date | None = None,
    repeats: Collection[int] = (),
    moves_kit: bool = False,
    extra_parts: Collection[uuid.UUID] = (),
    parts: Sequence[Mapping[str, Any]] = (),
    follow_up_id: uuid.UUID | None = None,
) -> Job:
    """Move open steps to a follow-up job on the same pump, with the same revision and a number of its own.

    1. The job is in progress, or held from there. 2. The steps can wait. 3. The follow-up begins *planned*; it makes
    safe, dismantles, closes up and tests anew, does what was moved and ``repeats``, and nothing that was done before.
    4. The kit moves along where ``moves_kit``, as long as it was not issued; else the follow-up takes no kit.
    5. ``extra_parts`` asked for here and not taken, and ``parts`` (part, quantity, role, reason), are claimed for it.

    What is not settled stays: a rejected measurement has to be conceded before the pump goes back. Returns the
    follow-up. Raises `CannotBeSplit`, `InvalidValue`, `WrongJobState`, `VersionChanged`.
    """
    job = locked_job(by, job_id, *PLANNERS)
    if job.version != expected_version:
        raise version_changed("The job", job.version)
    if (job.held_from if job.state == "on-hold" else job.state) != "in-progress":
        raise wrong_state(job, "be split", "in progress, or on hold from there")
    end = planned_end or planned_start
    if end < planned_start:
        raise InvalidValue(
            "The window ends before it begins.", remedy="Give an end on or after the start.", pointer="#/planned_end"
        )
    rows = list(JobStep.objects.filter(job=job).order_by("number"))
    _refuse_what_stays(rows, steps, repeats)
    follow_up = Job.objects.create(
        id=follow_up_id or new_id(),
        number=next_number(planned_start),
        pump_id=job.pump_id,
        site_id=job.site_id,
        revision_id=job.revision_id,
        kit_id=job.kit_id,
        planned_start=planned_start,
        planned_end=end,
        planned_by_id=by.id,
        follows=job,
        takes_kit=moves_kit,
        repeats=sorted(set(repeats)),
    )
    if moves_kit:
        _move_kit(job, follow_up, by)
    _move_steps(job, follow_up, steps, by)
    for one in _asked_here(job, extra_parts):
        withdraw(by=by, job=job, extra_part_id=one.pk, reason=f"moved to job {follow_up.number}")
        claim_extra(
            by=by, job=follow_up, part_id=one.part_id, quantity=one.quantity, role=one.role, reason=one.reason,
            finding_id=one.finding_id,
        )  # fmt: skip
    for part in parts:
        claim_extra(
            by=by, job=follow_up, part_id=part["part"], quantity=Decimal(part["quantity"]), role=part["role"],
            reason=part.get("reason") or reason,
        )  # fmt: skip
    facts = {"steps": sorted(set(steps)), "follow_up": follow_up.pk, "follow_up_number": follow_up.number}
    told("job.split", job, by, reason=reason, **facts)
    made = Job.objects.select_related("revision", "pump").get(pk=follow_up.pk)
    told("job.planned", made, by, reason=reason, follows=job.pk, follows_number=job.number)
    return refresh(made, by=by)


def _refuse_what_stays(rows: Sequence[JobStep], steps: Collection[int], repeats: Collection[int]) -> None:
    refused = refused_moves([(one.number, one.section, one.state) for one in rows], steps)
    if refused:
        raise CannotBeSplit(
            " ".join(one.words for one in refused),
            remedy="Name open steps of dismantling, cleaning, inspecting or assembling.",
            problems=[FieldProblem("#/steps", "stays", one.words) for one in refused],
        )
    unknown = sorted(set(repeats) - {one.number for one in rows})
    if unknown:
        raise InvalidValue(
            f"The job has no step {unknown[0]}.", remedy="Name numbers of its steps.", pointer="#/repeats"
        )


def _move_kit(job: Job, follow_up: Job, by: Caller) -> None:
    if not job.takes_kit or any(one["item_id"] == job.kit_id for one in issued_lots(job.pk)):
        raise CannotBeSplit(
            f"The kit of job {job.number} was issued, or is not this job's.",
            remedy="Return it unopened first, or let it stay and name the parts that the follow-up needs.",
        )
    for one in of_job(job.pk):
        if one["item"] == job.kit_id and one["state"] in {"soft", "hard"}:
            claim_less(by=by, reservation_id=one["id"], quantity=one["quantity"])
    Job.objects.filter(pk=job.pk).update(takes_kit=False)
    reservations.plan(
        by=by,
        job_id=follow_up.pk,
        job_number=follow_up.number,
        site_id=follow_up.site_id,
        item_id=follow_up.kit_id,
        quantity=Decimal(1),
        need_date=not_gone_by(follow_up.planned_start),
        criticality=job.pump.criticality,
    )


def _move_steps(job: Job, follow_up: Job, steps: Collection[int], by: Caller) -> None:
    moved = JobStep.objects.filter(job=job, number__in=set(steps))
    moved.update(state="moved", moved_to=follow_up)
    record_changes(
        [
            Recorded(
                "job-step.moved",
                "job-step",
                one.pk,
                one.version,
                job.site_id,
                {
                    "job": job.pk, "job_number": job.number, "step": one.number, "state": one.state,
                    "follow_up": follow_up.pk,
                },
            )
            for one in moved.order_by("number")
        ],
        by=by,
    )  # fmt: skip


def _asked_here(job: Job, wanted: Collection[uuid.UUID]) -> list[ExtraPart]:
    found = list(ExtraPart.objects.filter(job=job, pk__in=list(wanted), state="asked").order_by("id"))
    if len(found) < len(set(wanted)):
        raise InvalidValue(
            "One of the extra parts is not of this job, or was taken or withdrawn.",
            remedy="GET /jobs/{id}/extra-parts says how each stands.",
            pointer="#/extra_parts",
        )
    return found
