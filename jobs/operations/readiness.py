"""Whether a job is ready for its day, computed from its reservation, its instruments and its procedure."""

import datetime
import uuid
from typing import Any

from django.db import transaction
from django.utils import timezone

from jobs.calculations.readiness import Readiness, readiness
from jobs.models import Job
from jobs.operations.job_changes import tell_job
from jobs.queries.extra_parts import extra_parts_asked
from jobs.queries.instruments import at_site
from jobs.queries.jobs import job_for
from jobs.queries.procedures import instrument_types_of, newer_is_published
from kits.operations.reservations import rate
from kits.queries.fit import fit_of
from kits.queries.reservations import of_job
from services.identity.callers import Caller


def not_gone_by(day: datetime.date) -> datetime.date:
    """The day on which something is needed at the earliest: none that has passed."""
    return max(day, timezone.now().date())


def day_of(job: Job) -> datetime.date:
    """The day it was begun, or is to be: the planned one, and today where that has passed."""
    if job.started_at is not None:
        return job.started_at.date()
    return not_gone_by(job.planned_start)


def judge(job: Job) -> Readiness:
    """What the job needs against what is there; the job comes with its revision. A fixed number of queries."""
    types, day = sorted(instrument_types_of(job.revision_id)), day_of(job)
    claims = of_job(job.pk)
    of_kit = [one for one in claims if one["item"] == job.kit_id and one["state"] in {"hard", "issued"}]
    in_hand = {one["item"] for one in claims if one["state"] in {"hard", "issued"}}
    soft = {one["item"] for one in claims if one["state"] == "soft"}
    return readiness(
        takes_kit=job.takes_kit,
        # Once work has begun the kit may have left the shelf.
        kit_reserved=any(one["state"] == "hard" or job.started_at is not None for one in of_kit),
        allocations=[(lot["lot"], lot["quantity"], lot["expires_on"]) for one in of_kit for lot in one["allocations"]],
        needed_quantity=1,
        job_date=day,
        fit_verdict=fit_of(pump_id=job.pump_id, kit_id=job.kit_id, on=day)["verdict"],
        extra_parts=[
            (number, quantity, part in in_hand - soft) for part, number, quantity in extra_parts_asked(job.pk)
        ],
        instruments=[(one["number"], one["type"], one["calibration_due"]) for one in at_site(job.site_id, types)],
        needed_instrument_types=types,
        revision_state=job.revision.state,
        goes_on_with_revision=job.follows_id is not None
        and job.revision.state == "withdrawn"
        and newer_is_published(job.revision_id),
    )


def readiness_of(*, by: Caller, job_id: uuid.UUID) -> dict[str, Any]:
    """Each thing the job needs, met or not, as of now. Raises `NotThere`."""
    job = job_for(by, job_id)
    judged = judge(job)
    return {
        "job": job.pk,
        "number": job.number,
        "state": job.state,
        "planned_start": job.planned_start,
        "ready": judged.ready,
        "requirements": [
            {"what": one.what, "met": one.met, "sentence": one.sentence, "code": one.code, "remedy": one.remedy}
            for one in judged.requirements
        ],
    }


def reasons_of(judged: Readiness) -> list[dict[str, Any]]:
    """Reasons as they are stored and answered."""
    return [{"code": one.code, "sentence": one.sentence, "remedy": one.remedy} for one in judged.reasons]


def refresh(job: Job, *, by: Caller | None) -> Job:
    """Move the job between *planned* and *ready* as the facts have it; to be called inside a transaction."""
    if job.state not in {"planned", "ready"}:
        return job
    judged = judge(job)
    state = "ready" if judged.ready else "planned"
    reasons = reasons_of(judged)
    if state == job.state and reasons == job.state_reasons:
        return job
    moved = Job.objects.filter(pk=job.pk, state=job.state).update(state=state, state_reasons=reasons)
    changed = moved and state != job.state
    job.refresh_from_db()
    if changed:
        tell_job("job.readied" if state == "ready" else "job.unreadied", job, by, reasons=reasons)
    return job


@transaction.atomic(savepoint=False)
def review_readiness(*, job_id: uuid.UUID) -> None:
    """Look again at one job whose condition may have lapsed, or whose pump may be more or less critical by now."""
    job = (
        Job.objects.select_for_update(no_key=True, of=("self",))
        .select_related("revision", "pump")
        .filter(pk=job_id)
        .first()
    )
    if job is not None:
        rate(job_id=job.pk, criticality=job.pump.criticality)
        refresh(job, by=None)
