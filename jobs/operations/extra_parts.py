"""Parts beyond the kit, for damage that was found: asked for, taken off the shelf, or no longer wanted."""

import datetime
import uuid
from decimal import Decimal
from typing import Any

from django.db import transaction

from assets.queries.pump_models import role_codes
from jobs.models import ExtraPart, Job
from jobs.operations.jobs import PLANNERS, locked_job, wrong_state
from jobs.operations.readiness import not_gone_by, refresh
from jobs.operations.steps import FITTERS, running_job
from jobs.operations.under_way import happened_at
from jobs.queries.extra_parts import extra_part_for
from jobs.queries.findings import finding_for
from jobs.refusals import WrongExtraPartState
from kits.operations import reservations
from kits.operations.extra_claims import claim_less, claim_more
from kits.queries.lots import numbers_of_lots
from kits.queries.parts import missing_parts, retired_parts
from services.api.identifiers import new_id
from services.api.refusals import InvalidValue
from services.changes.recording import record_change
from services.identity.callers import Caller

ASKERS = (*FITTERS, *PLANNERS, "stores")
BEFORE_THE_END = ("planned", "ready", "in-progress", "on-hold")


@transaction.atomic(savepoint=False)
def ask_for_part(
    *,
    by: Caller,
    job_id: uuid.UUID,
    part_id: uuid.UUID,
    quantity: Decimal,
    role: str,
    reason: str,
    finding_id: uuid.UUID | None = None,
    extra_part_id: uuid.UUID | None = None,
) -> ExtraPart:
    """Ask for a part that the kit does not bring. It is claimed by lot where there is enough, else softly, so that
    replenishment and promise dates know of it; a job that has not begun is ready only once it is in hand.

    Raises `InvalidValue`, `InsufficientStock` where more of a part is asked for that the job holds some of already,
    `WrongJobState`.
    """
    job = locked_job(by, job_id, *ASKERS)
    if job.state not in BEFORE_THE_END:
        raise wrong_state(job, "ask for a part", "planned, in progress or on hold")
    if finding_id is not None:
        finding_for(by, finding_id, job_id=job.pk)
    made = claim_extra(
        by=by, job=job, part_id=part_id, quantity=quantity, role=role, reason=reason, finding_id=finding_id,
        extra_part_id=extra_part_id,
    )  # fmt: skip
    refresh(job, by=by)
    return made


def claim_extra(
    *,
    by: Caller,
    job: Job,
    part_id: uuid.UUID,
    quantity: Decimal,
    role: str,
    reason: str,
    finding_id: uuid.UUID | None = None,
    extra_part_id: uuid.UUID | None = None,
) -> ExtraPart:
    """The same for a job that is locked already. Raises `InvalidValue`, `InsufficientStock`."""
    known_role(role)
    if missing_parts([part_id]):
        raise InvalidValue("There is no such part.", remedy="GET /parts lists them.", pointer="#/part")
    if retired_parts([part_id]):
        raise InvalidValue(
            "This part is no longer in use.",
            remedy="GET /parts/{id}/supersessions says what took its place.",
            pointer="#/part",
        )
    claim = claim_more(
        by=by,
        job_id=job.pk,
        job_number=job.number,
        site_id=job.site_id,
        item_id=part_id,
        quantity=quantity,
        need_date=not_gone_by(job.planned_start),
        criticality=job.pump.criticality,
    )
    made = ExtraPart.objects.create(
        id=extra_part_id or new_id(),
        job=job,
        part_id=part_id,
        quantity=quantity,
        role=role,
        reason=reason,
        finding_id=finding_id,
        reservation_id=claim.pk,
        asked_by_id=by.id,
    )
    _tell("extra-part.asked", job, made, by, reason=reason, claim=claim.state)
    return made


def known_role(role: str) -> None:
    """Raises `InvalidValue` for a position that the catalogue does not know."""
    known = role_codes()
    if role not in known:
        raise InvalidValue(
            f"There is no position {role!r}.", remedy=f"Name one of: {', '.join(sorted(known))}.", pointer="#/role"
        )


@transaction.atomic(savepoint=False)
def reserve_extra_part(*, by: Caller, extra_part_id: uuid.UUID) -> ExtraPart:
    """Hold lots for an extra part that could only be claimed softly, now that some came in.

    Raises `InsufficientStock` with the alternatives, `WrongExtraPartState`.
    """
    asked = extra_part_for(by, extra_part_id, *ASKERS)
    job = locked_job(by, asked.job_id, *ASKERS)
    extra = _asked(asked.pk)
    reservations.reserve(by=by, reservation_id=extra.reservation_id)
    refresh(job, by=by)
    return extra


@transaction.atomic(savepoint=False)
def take_extra_part(*, by: Caller, extra_part_id: uuid.UUID, occurred_at: datetime.datetime | None = None) -> ExtraPart:
    """The fitter takes the part off the shelf: it is issued from the lots that were reserved, or from what has come
    in meanwhile.

    Raises `InsufficientStock` with the alternatives, `WrongExtraPartState`, `WrongJobState`, `LotOutOfDate`,
    `InvalidValue` for a time in the future or long ago.
    """
    asked = extra_part_for(by, extra_part_id, *FITTERS, "stores")
    job = running_job(by, asked.job_id, *FITTERS, "stores")
    extra = _asked(asked.pk)
    when = happened_at(occurred_at)
    reservations.reserve(by=by, reservation_id=extra.reservation_id)
    moved = [
        one
        for one in reservations.issue(
            by=by, reservation_id=extra.reservation_id, occurred_at=when, quantity=extra.quantity
        )
        if one.kind == "issue"
    ]
    numbers = numbers_of_lots({one.lot_id for one in moved})
    ExtraPart.objects.filter(pk=extra.pk).update(
        state="taken",
        taken_by_id=by.id,
        taken_at=when,
        taken_from=[
            {"lot": str(one.lot_id), "lot_number": numbers[one.lot_id], "quantity": str(-one.quantity)} for one in moved
        ],
    )
    extra.refresh_from_db()
    _tell("extra-part.taken", job, extra, by)
    return extra


@transaction.atomic(savepoint=False)
def withdraw_extra_part(*, by: Caller, extra_part_id: uuid.UUID, reason: str) -> ExtraPart:
    """The part is not needed after all; its claim is let go. Raises `WrongExtraPartState`."""
    asked = extra_part_for(by, extra_part_id, *ASKERS)
    job = locked_job(by, asked.job_id, *ASKERS)
    extra = withdraw(by=by, job=job, extra_part_id=asked.pk, reason=reason)
    refresh(job, by=by)
    return extra


def withdraw(*, by: Caller, job: Job, extra_part_id: uuid.UUID, reason: str) -> ExtraPart:
    """The same for a job that is locked already."""
    extra = _asked(extra_part_id)
    claim_less(by=by, reservation_id=extra.reservation_id, quantity=extra.quantity)
    ExtraPart.objects.filter(pk=extra.pk).update(state="withdrawn", withdrawn_reason=reason)
    extra.refresh_from_db()
    _tell("extra-part.withdrawn", job, extra, by, reason=reason)
    return extra


def _asked(extra_part_id: uuid.UUID) -> ExtraPart:
    extra = ExtraPart.objects.select_for_update(no_key=True).get(pk=extra_part_id)
    if extra.state != "asked":
        raise WrongExtraPartState(
            f"The extra part is {extra.state} already.",
            remedy="What was taken comes back by POST /jobs/{id}/returns.",
            state=extra.state,
        )
    return extra


def _tell(kind: str, job: Job, extra: ExtraPart, by: Caller, **facts: Any) -> None:
    record_change(
        kind,
        noun="extra-part",
        noun_id=extra.pk,
        version=extra.version,
        site_id=job.site_id,
        by=by,
        body={
            "job": job.pk,
            "job_number": job.number,
            "part": extra.part_id,
            "quantity": extra.quantity,
            "role": extra.role,
            "state": extra.state,
            **facts,
        },
    )
