"""What was taken for a job and not used comes back: to its bin, usable, or into quarantine until somebody looked."""

import uuid
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from assets.access import require_role
from assets.queries.sites import bin_at
from jobs.models import ExtraPart, Job, JobReturn
from jobs.operations.job_changes import record_changed
from jobs.operations.jobs import locked_job, wrong_state
from jobs.operations.steps import FITTERS
from jobs.queries.extra_parts import came_back
from kits.operations import returns
from kits.queries.kits import kit_lines
from kits.queries.movements import out_for_job
from kits.queries.reservations import issued_lots
from kits.refusals import TooMuchReturned
from services.api.refusals import InvalidValue
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller

ZERO = Decimal(0)
TAKEN_BACK = ("in-progress", "on-hold", "awaiting-sign-off", "cancelled")


@transaction.atomic(savepoint=False)
def return_from_job(
    *,
    by: Caller,
    job_id: uuid.UUID,
    item_id: uuid.UUID,
    quantity: Decimal,
    reason: str,
    condition: str = "",
    bin_code: str = "",
    extra_part_id: uuid.UUID | None = None,
) -> list[JobReturn]:
    """Record what came back, and where it lies now.

    An unopened kit and an unopened extra part go back to their own lot, usable unless said otherwise. A single part of
    an opened kit becomes a lot of its own and waits in quarantine; only stores or a supervisor, who have looked at it,
    may call it usable (common practice, no source). Raises `TooMuchReturned`, `InvalidValue`, `WrongJobState`.
    """
    job = locked_job(by, job_id, *FITTERS, "stores")
    if job.state not in TAKEN_BACK:
        raise wrong_state(job, "take parts back", "under way, waiting for its sign-off or cancelled")
    if quantity <= 0:
        raise InvalidValue("Nothing comes back.", remedy="Say how many, above 0.", pointer="#/quantity")
    bin_id = bin_at(job.site_id, bin_code) if bin_code else None
    if bin_code and bin_id is None:
        raise InvalidValue(f"The site has no bin {bin_code}.", remedy="Name one of its bins.", pointer="#/bin")
    if extra_part_id is not None:
        kept = _extra_part(job, by, extra_part_id, item_id, quantity, reason, condition or "usable", bin_id)
    elif item_id == job.kit_id:
        kept = _whole_kit(job, by, quantity, reason, condition or "usable", bin_id)
    else:
        if condition == "usable":
            require_role(by, job.site_id, "stores", "supervisor", what="The job")
        kept = [_kit_part(job, by, item_id, quantity, reason, condition or "quarantined", bin_id)]
    record_changed(job, by)
    return kept


def bring_back(job: Job, returned: Sequence[dict[str, Any]], by: Caller) -> None:
    """What is handed in at the sign-off: of the kit first, then of extra parts of the same kind, all to quarantine.

    Raises `InvalidValue` where more came back than was taken.
    """
    for one in returned:
        part, left = uuid.UUID(str(one["part"])), Decimal(one["quantity"])
        if left == 0:
            continue
        reason = str(one.get("reason") or "not used")
        of_kit = min(left, _kit_part_out(job, part))
        if of_kit > 0:
            _kit_part(job, by, part, of_kit, reason, "quarantined", None)
            left -= of_kit
        for extra in ExtraPart.objects.filter(job=job, part_id=part, state="taken").order_by("id"):
            of_extra = min(left, extra.quantity - came_back(job.pk).get((part, extra.pk), ZERO))
            if of_extra > 0:
                _extra_part(job, by, extra.pk, part, of_extra, reason, "quarantined", None)
                left -= of_extra
        if left > 0:
            raise InvalidValue(
                "More came back of a part than the kit holds and was taken beside it, or it was never taken.",
                remedy="Name parts that were taken for the job, at most their quantity.",
                pointer="#/returned",
                parts=[str(part)],
            )


def _kit_part_out(job: Job, part_id: uuid.UUID) -> Decimal:
    if not _kit_lots(job):
        return ZERO
    of_kit = sum((one["quantity"] for one in kit_lines(job.kit_id) if one["part_id"] == part_id), ZERO)
    return of_kit - came_back(job.pk).get((part_id, None), ZERO)


def _kit_lots(job: Job) -> list[dict[str, Any]]:
    return [one for one in issued_lots(job.pk) if one["item_id"] == job.kit_id]


def _kit_part(
    job: Job, by: Caller, part_id: uuid.UUID, quantity: Decimal, reason: str, condition: str, bin_id: uuid.UUID | None
) -> JobReturn:
    out = _kit_part_out(job, part_id)
    if quantity > out:
        raise TooMuchReturned(
            f"{max(out, ZERO).normalize():f} of it are out with the kit of job {job.number}.",
            remedy="Return at most that; name the extra part where it was taken beside the kit.",
            pointer="#/quantity",
        )
    moved = returns.put_back_part(
        by=by,
        job_id=job.pk,
        job_number=job.number,
        site_id=job.site_id,
        part_id=part_id,
        quantity=quantity,
        kit_lot_id=_kit_lots(job)[0]["lot_id"],
        reason=reason,
        occurred_at=timezone.now(),
        condition=condition,
        bin_id=bin_id,
    )
    return _kept(job, by, moved, reason, None)


def _whole_kit(
    job: Job, by: Caller, quantity: Decimal, reason: str, condition: str, bin_id: uuid.UUID | None
) -> list[JobReturn]:
    lots = _kit_lots(job)
    if not lots or any(item != job.kit_id and extra is None for item, extra in came_back(job.pk)):
        raise InvalidValue(
            "The kit was not issued, or parts of it came back singly, so that it is not whole.",
            remedy="Return the single parts that were not used.",
            pointer="#/item",
        )
    moved = returns.take_back_from_lot(
        by=by,
        job_id=job.pk,
        job_number=job.number,
        site_id=job.site_id,
        item_id=job.kit_id,
        lot_id=lots[0]["lot_id"],
        quantity=quantity,
        reason=reason,
        occurred_at=timezone.now(),
        condition=condition,
        bin_id=bin_id,
    )
    return [_kept(job, by, moved, reason, None)]


def _extra_part(
    job: Job,
    by: Caller,
    extra_part_id: uuid.UUID,
    item_id: uuid.UUID,
    quantity: Decimal,
    reason: str,
    condition: str,
    bin_id: uuid.UUID | None,
) -> list[JobReturn]:
    extra = ExtraPart.objects.filter(pk=extra_part_id, job=job, part_id=item_id).first()
    if extra is None:
        raise InvalidValue(
            "The job has no such extra part.", remedy="GET /jobs/{id}/extra-parts lists them.", pointer="#/extra_part"
        )
    out = extra.quantity - came_back(job.pk).get((extra.part_id, extra.pk), ZERO) if extra.state == "taken" else ZERO
    if quantity > out:
        raise TooMuchReturned(
            f"{out.normalize():f} of it are out for job {job.number}.",
            remedy="Return at most that.",
            pointer="#/quantity",
        )
    kept = []
    for one in extra.taken_from:
        lot_id = uuid.UUID(one["lot"])
        part = min(quantity, Decimal(one["quantity"]), out_for_job(job.pk, lot_id))
        if part <= 0:
            continue
        quantity -= part
        moved = returns.take_back_from_lot(
            by=by,
            job_id=job.pk,
            job_number=job.number,
            site_id=job.site_id,
            item_id=extra.part_id,
            lot_id=lot_id,
            quantity=part,
            reason=reason,
            occurred_at=timezone.now(),
            condition=condition,
            bin_id=bin_id,
        )
        kept.append(_kept(job, by, moved, reason, extra.pk))
    return kept


def _kept(job: Job, by: Caller, moved: Any, reason: str, extra_part_id: uuid.UUID | None) -> JobReturn:
    made = JobReturn.objects.create(
        job=job,
        item_id=moved.item_id,
        quantity=moved.quantity,
        extra_part_id=extra_part_id,
        lot_id=moved.lot_id,
        condition=moved.condition,
        movement_id=moved.pk,
        reason=reason,
        by_id=by.id,
    )
    body = {
        "job": job.pk, "job_number": job.number, "item": made.item_id, "quantity": made.quantity,
        "condition": made.condition, "reason": reason,
    }  # fmt: skip
    record_changes([Recorded("job-return.recorded", "job-return", made.pk, 1, job.site_id, body)], by=by)
    return made
