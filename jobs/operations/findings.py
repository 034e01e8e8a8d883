"""What the fitter found, position by position. Nothing is overwritten: a correction stands beside what it corrects."""

import datetime
import uuid
from typing import Any

from django.db import transaction

from jobs.calculations.failure_codes import (
    BEARING_DAMAGE,
    FAILURE_MECHANISMS,
    FAILURE_MODES,
    REPLACEMENT_REASONS,
    FailureCode,
    is_bearing,
)
from jobs.models import Finding, Job
from jobs.operations.extra_parts import known_role
from jobs.operations.job_changes import record_changed
from jobs.operations.nonconformities import raise_nonconformity
from jobs.operations.steps import FITTERS
from jobs.operations.under_way import happened_at, job_under_way, step_reached
from jobs.queries.findings import finding_for
from jobs.refusals import AlreadyCorrected
from services.api.identifiers import new_id
from services.api.refusals import InvalidValue
from services.changes.recording import record_change
from services.identity.callers import Caller


@transaction.atomic(savepoint=False)
def record_finding(
    *,
    by: Caller,
    job_id: uuid.UUID,
    role: str,
    observed: str,
    mode: str,
    mechanism: str = "",
    bearing_damage: str = "",
    cause: str = "",
    replacement_reason: str = "",
    step: int | None = None,
    needs_decision: bool = False,
    corrects: uuid.UUID | None = None,
    occurred_at: datetime.datetime | None = None,
    finding_id: uuid.UUID | None = None,
) -> Finding:
    """Record what was seen at a position, in codes of open standards and in words.

    With ``needs_decision`` a nonconformity is raised, which somebody must decide before the job can be finished.
    Bearing damage is of bearings only. The same id sent again returns the first record.

    Raises `InvalidValue`, `MakeSafeFirst`, `AlreadyCorrected`, `WrongJobState`.
    """
    job = job_under_way(by, job_id, "take a finding", *FITTERS)
    when = happened_at(occurred_at)
    sent_before = (
        None
        if finding_id is None
        else Finding.objects.filter(
            pk=finding_id, job=job, by_id=by.id, role=role, mode=mode, observed=observed
        ).first()
    )
    if sent_before is not None:
        return sent_before
    known_role(role)
    _known_codes(role, mode, mechanism, bearing_damage, replacement_reason)
    if step is not None:
        step_reached(job, step)
    earlier = None
    if corrects is not None:
        earlier = finding_for(by, corrects, job_id=job.pk)
        if Finding.objects.filter(corrects=earlier).exists():
            raise AlreadyCorrected(
                "This finding was corrected before.", remedy="Read the findings again and correct the last one."
            )
    raised = None
    if needs_decision:
        raised = raise_nonconformity(by=by, job_id=job.pk, role=role, description=observed)
    found = Finding.objects.create(
        id=finding_id or new_id(),
        job=job,
        pump_id=job.pump_id,
        step_number=step,
        role=role,
        observed=observed,
        mode=mode,
        mechanism=mechanism,
        bearing_damage=bearing_damage,
        cause=cause,
        replacement_reason=replacement_reason,
        nonconformity=raised,
        corrects=earlier,
        occurred_at=when,
        by_id=by.id,
    )
    _tell(job, found, by)
    record_changed(job, by)
    return found


def _known_codes(role: str, mode: str, mechanism: str, bearing_damage: str, replacement_reason: str) -> None:
    _known(mode, FAILURE_MODES, "mode", "failure mode of ISO 14224")
    if mechanism:
        _known(mechanism, FAILURE_MECHANISMS, "mechanism", "failure mechanism of ISO 14224")
    if bearing_damage:
        _known(bearing_damage, BEARING_DAMAGE, "bearing_damage", "damage mode of ISO 15243")
        if not is_bearing(role):
            raise InvalidValue(
                f"ISO 15243 describes damage to rolling bearings; {role} is none.",
                remedy="Leave bearing_damage out, or name the bearing's position.",
                pointer="#/bearing_damage",
            )
    if replacement_reason and replacement_reason not in REPLACEMENT_REASONS:
        raise InvalidValue(
            f"{replacement_reason!r} is no reason for replacing a part.",
            remedy=f"Choose from: {', '.join(REPLACEMENT_REASONS)}.",
            pointer="#/replacement_reason",
        )


def _known(code: str, table: dict[str, FailureCode], field: str, words: str) -> None:
    if code not in table:
        raise InvalidValue(
            f"{code!r} is no {words} that is kept here.",
            remedy="GET /failure-codes lists them with what they mean.",
            pointer=f"#/{field}",
        )


def _tell(job: Job, found: Finding, by: Caller) -> None:
    body: dict[str, Any] = {
        "job": job.pk,
        "job_number": job.number,
        "pump": job.pump_id,
        "role": found.role,
        "mode": found.mode,
        "mechanism": found.mechanism,
        "bearing_damage": found.bearing_damage,
        "nonconformity": found.nonconformity_id,
        "corrects": found.corrects_id,
    }
    record_change("finding.recorded", noun="finding", noun_id=found.pk, site_id=job.site_id, by=by, body=body)
