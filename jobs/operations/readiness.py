"""Whether a job is ready for its day, computed from its reservation, its instruments and its procedure."""

import uuid
from typing import Any

from django.db import transaction

from jobs.calculations.readiness import Readiness, readiness
from jobs.models import Job
from jobs.queries.instruments import at_site
from jobs.queries.procedures import instrument_types_of
from kits.operations.reservations import rate
from kits.queries.reservations import of_job
from services.changes.recording import record_change
from services.identity.callers import Caller


def judge(job: Job) -> Readiness:
    """What the job needs against what is there. Four queries."""
    types = sorted(instrument_types_of(job.revision_id))
    claims = [one for one in of_job(job.pk) if one["item"] == job.kit_id and one["state"] in {"hard", "issued"}]
    held = [lot for one in claims for lot in one["allocations"]]
    return readiness(
        kit_reserved=any(one["state"] == "hard" for one in claims),
        allocations=[(lot["lot"], lot["quantity"], lot["expires_on"]) for lot in held],
        needed_quantity=1,
        job_date=job.planned_start,
        instruments=[(one["number"], one["type"], one["calibration_due"]) for one in at_site(job.site_id, types)],
        needed_instrument_types=types,
        revision_state=job.revision.state,
    )


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
    if moved and state != job.state:
        record_change(
            "job.readied" if state == "ready" else "job.unreadied",
            noun="job",
            noun_id=job.pk,
            version=job.version + 1,
            site_id=job.site_id,
            by=by,
            body={"number": job.number, "state": state, "reasons": reasons},
        )
    job.refresh_from_db()
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
