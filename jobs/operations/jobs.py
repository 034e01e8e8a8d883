"""Planning jobs and moving them through their life, up to the start."""

import datetime
import uuid
from decimal import Decimal
from typing import Any

from django.db import connection, transaction

from assets.access import require_role
from assets.queries.people import holds_role
from assets.queries.pumps import pump_for
from jobs.calculations.job_states import StateRefused, check_move
from jobs.models import Job
from jobs.operations.job_changes import tell_job
from jobs.operations.readiness import not_gone_by, refresh
from jobs.queries.jobs import job_for
from jobs.queries.procedures import published_for, revisions
from jobs.refusals import KitDoesNotFit, NoPublishedProcedure, WrongJobState
from kits.operations import reservations
from kits.queries.fit import fit_of
from kits.queries.kits import released_kit
from kits.queries.reservations import issued_lots, of_job
from services.api.identifiers import new_id
from services.api.refusals import InvalidValue
from services.api.versions import version_changed
from services.identity.callers import Caller

PLANNERS = ("planner", "supervisor", "admin")
WORKERS = ("fitter", "supervisor")
FITTING = ("fits", "fits-with-notes")


@transaction.atomic(savepoint=False)
def plan_job(
    *,
    by: Caller,
    pump_id: uuid.UUID,
    kit_id: uuid.UUID,
    planned_start: datetime.date,
    planned_end: datetime.date | None = None,
    revision_id: uuid.UUID | None = None,
    assignee_id: uuid.UUID | None = None,
    job_id: uuid.UUID | None = None,
    number: str = "",
) -> Job:
    """Plan an overhaul of a pump with a kit that fits it; claims the kit softly for the day.

    1. The pump is at a site where the caller plans. 2. The kit is released and its computed fit is *fits* or *fits
    with notes*. 3. The procedure is the revision named, or the one published for the pump's configuration. 4. Whoever
    does it works at the pump's site.
    Raises `NotThere`, `NotAllowed`, `KitDoesNotFit`, `NoPublishedProcedure`, `InvalidValue`.
    """
    pump = pump_for(by, pump_id)
    require_role(by, pump.site_id, *PLANNERS, what="The pump")
    end = planned_end or planned_start
    if end < planned_start:
        raise InvalidValue(
            "The window ends before it begins.", remedy="Give an end on or after the start.", pointer="#/planned_end"
        )
    if assignee_id is not None:
        must_work_there(assignee_id, pump.site_id, "#/assignee")
    kit = released_kit(kit_id)
    fit = fit_of(pump_id=pump.pk, kit_id=kit_id, on=planned_start)
    if fit["verdict"] not in FITTING:
        raise KitDoesNotFit(
            f"Kit {kit['number']} {kit['revision']} for pump {pump.tag}: {fit['verdict'].replace('-', ' ')}.",
            remedy="Choose a kit that fits; GET /pumps/{id}/fits ranks them with reasons.",
            pointer="#/kit",
            verdict=fit["verdict"],
            reasons=fit["reasons"],
        )
    job = Job.objects.create(
        id=job_id or new_id(),
        number=number or next_number(planned_start),
        pump_id=pump.pk,
        site_id=pump.site_id,
        revision_id=revision_for_pump(by, revision_id, pump.pump_model.configuration),
        kit_id=kit_id,
        planned_start=planned_start,
        planned_end=end,
        assignee_id=assignee_id,
        planned_by_id=by.id,
    )
    reservations.plan(
        by=by,
        job_id=job.pk,
        job_number=job.number,
        site_id=job.site_id,
        item_id=kit_id,
        quantity=Decimal(1),
        need_date=not_gone_by(planned_start),
        criticality=pump.criticality,
    )
    tell_job("job.planned", job, by, assignee=assignee_id)
    return refresh(Job.objects.select_related("revision").get(pk=job.pk), by=by)


def must_work_there(person: uuid.UUID, site_id: uuid.UUID, pointer: str) -> None:
    """Raises `InvalidValue`, at the field ``pointer``, for who is no fitter or supervisor at the site."""
    if not holds_role(person, site_id, *WORKERS):
        raise InvalidValue(
            "There is no such fitter or supervisor at the job's site.",
            remedy="Name somebody who holds one of these roles there.",
            pointer=pointer,
        )


def revision_for_pump(by: Caller, revision_id: uuid.UUID | None, configuration: str) -> uuid.UUID:
    """The published revision named, or the only one there is for pumps of a configuration.

    Raises `NoPublishedProcedure`.
    """
    if revision_id is not None:
        found = revisions(by=by).filter(pk=revision_id, state="published").select_related("procedure").first()
        if found is None:
            raise NoPublishedProcedure(
                "The revision named is not a published one.",
                remedy="Choose a published revision, or name none.",
                pointer="#/procedure_revision",
            )
        if found.procedure.configuration != configuration:
            raise NoPublishedProcedure(
                f"{found.procedure.code} is for pumps that are {found.procedure.configuration}; this one is "
                f"{configuration}.",
                remedy="Choose a published revision for pumps of this configuration, or name none.",
                pointer="#/procedure_revision",
            )
        return found.pk
    offered = published_for(configuration)
    if len(offered) == 1:
        return uuid.UUID(str(offered[0]["id"]))
    detail = (
        f"No procedure is published for the configuration {configuration}."
        if not offered
        else f"{len(offered)} procedures are published for the configuration {configuration}."
    )
    raise NoPublishedProcedure(
        detail,
        remedy="Name the revision.",
        pointer="#/procedure_revision",
        published=[
            {"revision": str(one["id"]), "procedure": one["procedure__code"], "title": one["procedure__title"]}
            for one in offered
        ],
    )


def next_number(day: datetime.date) -> str:
    """The number of a job planned for a day."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT nextval('jobs_job_number')")
        return f"J-{day:%Y}-{cursor.fetchone()[0]:05d}"


@transaction.atomic(savepoint=False)
def reserve_kit(*, by: Caller, job_id: uuid.UUID) -> Job:
    """Claim the job's kit by lots that will be in date on its day. Raises `InsufficientStock` with alternatives."""
    job = locked_job(by, job_id, *PLANNERS, "stores")
    if job.state not in {"planned", "ready", "in-progress"}:
        raise wrong_state(job, "have its kit reserved", "planned, ready or in progress")
    if not job.takes_kit:
        raise WrongJobState(
            f"Job {job.number} takes no kit of its own.", remedy="Ask for the parts it needs as extra parts."
        )
    if job.state == "in-progress" and any(one["item_id"] == job.kit_id for one in issued_lots(job.pk)):
        raise WrongJobState(f"The kit of job {job.number} was issued.", remedy="Return it unopened to take another.")
    claims = [one for one in of_job(job.pk) if one["item"] == job.kit_id and one["state"] in {"soft", "hard"}]
    needed_on = not_gone_by(job.planned_start)
    if claims and claims[0]["need_date"] < needed_on:
        # Lots that were in date on a day gone by may be out of date now.
        reservations.move_need_date(by=by, job_id=job.pk, need_date=needed_on)
    if not claims:
        claim = reservations.plan(
            by=by,
            job_id=job.pk,
            job_number=job.number,
            site_id=job.site_id,
            item_id=job.kit_id,
            quantity=Decimal(1),
            need_date=needed_on,
            criticality=job.pump.criticality,
        )
        claim_id = claim.pk
    else:
        claim_id = claims[0]["id"]
    reservations.reserve(by=by, reservation_id=claim_id)
    return refresh(job, by=by)


@transaction.atomic(savepoint=False)
def hold_job(*, by: Caller, job_id: uuid.UUID, expected_version: int, reason: str) -> Job:
    """Put the job on hold from whatever live state it is in."""
    job = moved_job(by, job_id, expected_version, "hold", *PLANNERS, *WORKERS)
    reasons = [{"code": "held", "sentence": reason, "remedy": "Resume it once that is settled."}]
    Job.objects.filter(pk=job.pk).update(state="on-hold", held_from=job.state, state_reasons=reasons)
    return told("job.held", job, by, reason=reason)


@transaction.atomic(savepoint=False)
def resume_job(*, by: Caller, job_id: uuid.UUID, expected_version: int) -> Job:
    """Go on from where the hold came."""
    job = moved_job(by, job_id, expected_version, "resume", *PLANNERS, *WORKERS)
    Job.objects.filter(pk=job.pk).update(state=job.held_from or "planned", held_from="", state_reasons=[])
    return refresh(told("job.resumed", job, by), by=by)


def moved_job(by: Caller, job_id: uuid.UUID, expected_version: int, action: str, *roles: str) -> Job:
    """The job, locked, as it was seen and in a state from which the action can be taken. Raises `WrongJobState`."""
    job = locked_job(by, job_id, *roles)
    if job.version != expected_version:
        raise version_changed("The job", job.version)
    try:
        check_move(job.state, action)
    except StateRefused as refused:
        raise WrongJobState(str(refused), remedy="See what is possible from here.", state=job.state) from refused
    return job


def locked_job(by: Caller, job_id: uuid.UUID, *roles: str) -> Job:
    """The job, locked, where the caller has one of the roles. Raises `NotThere`, `NotAllowed`."""
    job = job_for(by, job_id, *roles)
    return Job.objects.select_for_update(no_key=True, of=("self",)).select_related("revision", "pump").get(pk=job.pk)


def wrong_state(job: Job, what: str, needed: str) -> WrongJobState:
    """The refusal for a job in another state than is needed."""
    return WrongJobState(
        f"Job {job.number} is {job.state.replace('-', ' ')}; to {what} it must be {needed}.",
        remedy="Read the job again and see what is possible.",
        state=job.state,
    )


def told(kind: str, job: Job, by: Caller, *, reason: str = "", **facts: Any) -> Job:
    """The job as it is now, once that is told."""
    job.refresh_from_db()
    tell_job(kind, job, by, reason=reason, **facts)
    return job
