"""What is not as it must be, and what becomes of it."""

import datetime
import uuid
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from jobs.calculations.printed_quantities import unit_name
from jobs.calculations.signed_content import content_hash
from jobs.calculations.written_limits import legible, lower_limit, upper_limit
from jobs.models import Job, JobCharacteristic, JobStep, Measurement, Nonconformity, SignOff
from jobs.operations.job_changes import record_changed
from jobs.queries.job_records import concession_content
from jobs.queries.jobs import job_for
from jobs.queries.jobs import nonconformities as visible
from jobs.queries.judging import Asked
from jobs.refusals import SecondPersonNeeded, WrongJobState
from services.api.refusals import InvalidValue, NotThere, WrongState
from services.api.versions import version_changed
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller


def raise_for_rejection(*, by: Caller, job: Job, measured: Measurement, asked: JobCharacteristic) -> Nonconformity:
    """A rejected measurement becomes a nonconformity by itself; called inside the measurement's transaction."""
    found = rejected(
        by=by, job=job, asked_id=asked.pk, asked=Asked.of(asked), measured=measured.pk, value=measured.value
    )
    found.save(force_insert=True)
    _tell("nonconformity.raised", job, found, by)
    return found


def rejected(
    *, by: Caller, job: Job, asked_id: uuid.UUID, asked: Asked, measured: uuid.UUID, value: Decimal
) -> Nonconformity:
    """The nonconformity that a rejected measurement is, not yet saved; ``value`` is what was measured."""
    return Nonconformity(
        job=job,
        measurement_id=measured,
        job_characteristic_id=asked_id,
        description=(
            f"{asked.name}: {legible(value, asked.unit)} {unit_name(asked.unit)} was rejected ({_limits(asked)})."
        ),
        # It may be told of before it is saved.
        extent="",
        raised_by_id=by.id,
    )


def _limits(asked: Asked) -> str:
    low = "" if asked.lower is None else f"at least {lower_limit(asked.lower, asked.unit)}"
    high = "" if asked.upper is None else f"at most {upper_limit(asked.upper, asked.unit)}"
    return f"{' and '.join(filter(None, (low, high))) or 'no limits'} {unit_name(asked.unit)}"


def settle_by_measurement(*, by: Caller, job: Job, asked: JobCharacteristic, when: datetime.datetime) -> None:
    """A re-measurement accepted ``when`` closes what earlier ones raised; undecided ones count as reworked."""
    raised = Nonconformity.objects.filter(job_characteristic=asked, measurement__occurred_at__lte=when)
    for one in raised.exclude(state="closed"):
        Nonconformity.objects.filter(pk=one.pk).update(
            state="closed", disposition=one.disposition or "rework", closed_at=timezone.now()
        )
        one.refresh_from_db()
        _tell("nonconformity.closed", job, one, by)


@transaction.atomic(savepoint=False)
def raise_nonconformity(
    *, by: Caller, job_id: uuid.UUID, description: str, role: str = "", nonconformity_id: uuid.UUID | None = None
) -> Nonconformity:
    """Found damage, or anything else that is not as it must be."""
    job = _locked(by, job_id, "fitter", "supervisor")
    if job.state not in {"in-progress", "awaiting-sign-off", "on-hold"}:
        raise WrongJobState(
            f"Job {job.number} is {job.state.replace('-', ' ')}.", remedy="Raise it on a job that is under way."
        )
    given = {"id": nonconformity_id} if nonconformity_id else {}
    found = Nonconformity.objects.create(job=job, role=role, description=description, raised_by_id=by.id, **given)
    _tell("nonconformity.raised", job, found, by)
    record_changed(job, by)
    return found


def _locked(by: Caller, job_id: uuid.UUID, *roles: str) -> Job:
    """The job, locked: so that nothing is raised or decided on it while it is signed off."""
    job_for(by, job_id, *roles)
    return Job.objects.select_for_update(no_key=True, of=("self",)).select_related("site").get(pk=job_id)


@transaction.atomic(savepoint=False)
def decide(
    *,
    by: Caller,
    nonconformity_id: uuid.UUID,
    expected_version: int,
    disposition: str,
    reason: str,
    extent: str = "",
) -> Nonconformity:
    """Rework, replace, or use it as it is: a concession, with its reason and its extent.

    A concession is given by a supervisor who neither raised it nor worked on the job, and signed over what was seen.
    *Use as is* settles it; the other two stay open until a later measurement is accepted, or, for found damage,
    until it is closed. Raises `SecondPersonNeeded`, `InvalidValue`, `WrongState`, `VersionChanged`.
    """
    known = visible(by=by).filter(pk=nonconformity_id).values_list("job_id", flat=True).first()
    if known is None:
        raise NotThere("The nonconformity is not here.", remedy="Check the id.")
    job = _locked(by, known, "supervisor")
    found = Nonconformity.objects.select_for_update(no_key=True, of=("self",)).get(pk=nonconformity_id)
    if found.version != expected_version:
        raise version_changed("The nonconformity", found.version)
    if found.state == "closed":
        raise WrongState("It is closed.", remedy="Raise a new one where something is wrong again.")
    conceded = disposition == Nonconformity.Disposition.USE_AS_IS
    if conceded:
        _may_concede(by, job, found, extent)
    settled = conceded or found.job_characteristic_id is None
    now = timezone.now()
    Nonconformity.objects.filter(pk=found.pk).update(
        disposition=disposition,
        state="closed" if settled else "decided",
        decided_by_id=by.id,
        decided_at=now,
        decision_reason=reason,
        extent=extent,
        closed_at=now if settled else None,
    )
    found.refresh_from_db()
    if conceded:
        _sign_concession(by, job, found, now)
    _tell("nonconformity.decided", job, found, by)
    record_changed(job, by)
    return found


def _may_concede(by: Caller, job: Job, found: Nonconformity, extent: str) -> None:
    if found.raised_by_id == by.id:
        raise SecondPersonNeeded("You raised it yourself.", remedy="A concession is given by somebody else.")
    did_steps = JobStep.objects.filter(job=job, done_by_id=by.id).exists()
    if did_steps or Measurement.objects.filter(job=job, by_id=by.id).exists():
        raise SecondPersonNeeded(
            "You worked on this job yourself.",
            remedy="A concession is given by a supervisor who did none of its steps and measured nothing on it.",
        )
    if not extent.strip():
        raise InvalidValue(
            "A concession says what it holds for.",
            remedy="Name the part and how long it may stay: until the next overhaul, for so many hours.",
            pointer="#/extent",
        )


def _sign_concession(by: Caller, job: Job, found: Nonconformity, at: datetime.datetime) -> None:
    """The signature over the nonconformity, what was measured, and the decision."""
    content = concession_content(job.pk, found.pk)
    SignOff.objects.create(
        job=job,
        kind=SignOff.Kind.CONCESSION,
        nonconformity=found,
        by_id=by.id,
        role="supervisor",
        at=at,
        content=content,
        content_hash=content_hash(content),
        remark="",
    )


def _tell(kind: str, job: Job, found: Nonconformity, by: Caller) -> None:
    record_changes([nonconformity_change(kind, job, found)], by=by)


def nonconformity_change(kind: str, job: Job, found: Nonconformity, version: int | None = None) -> Recorded:
    """What is told of a nonconformity; ``version`` where it is another than that of what was read."""
    return Recorded(
        kind,
        "nonconformity",
        found.pk,
        version or found.version,
        job.site_id,
        {
            "job": job.pk,
            "state": found.state,
            "disposition": found.disposition,
            "description": found.description,
            "extent": found.extent,
        },
    )
