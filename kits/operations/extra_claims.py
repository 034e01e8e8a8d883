"""Claims of a job that grow and shrink while it goes on: parts beyond its kit, asked for one after the other.

A job claims an item once, so a second need of the same part makes its claim larger. The caller holds the job's lock.
"""

import datetime
import uuid
from decimal import Decimal

from kits.models import Reservation
from kits.operations import reservations
from services.identity.callers import Caller

State = Reservation.State


def claim_more(
    *,
    by: Caller,
    job_id: uuid.UUID,
    job_number: str,
    site_id: uuid.UUID,
    item_id: uuid.UUID,
    quantity: Decimal,
    need_date: datetime.date,
    criticality: str,
) -> Reservation:
    """Claim so many more of an item for a job, by lot where there is enough, else softly.

    What was held by lot already is never given up for the larger claim: then `InsufficientStock` is raised.
    """
    old = Reservation.objects.filter(job_id=job_id, item_id=item_id, state__in=reservations.LIVE).first()
    held = old is not None and old.state == State.HARD
    claim = reservations.plan(
        by=by,
        job_id=job_id,
        job_number=job_number,
        site_id=site_id,
        item_id=item_id,
        quantity=quantity + (old.quantity if old else 0),
        need_date=old.need_date if old else need_date,
        criticality=criticality,
    )
    if held:
        claim = reservations.reserve(by=by, reservation_id=claim.pk)
    else:
        reservations.reclaim(by=by, reservation_id=claim.pk)
        claim.refresh_from_db()
    return claim


def claim_less(*, by: Caller, reservation_id: uuid.UUID, quantity: Decimal) -> None:
    """Claim so much less; what is left stays held where it was. A claim of nothing is released."""
    claim = Reservation.objects.select_for_update(no_key=True).get(pk=reservation_id)
    if claim.state not in reservations.LIVE:
        return
    held, left = claim.state == State.HARD, claim.quantity - quantity
    if left <= 0:
        reservations.let_go(claim)
        Reservation.objects.filter(pk=claim.pk).update(state=State.RELEASED)
        claim.refresh_from_db()
        reservations.tell_claim("reservation.released", claim, by)
        return
    claim = reservations.plan(
        by=by,
        job_id=claim.job_id,
        job_number=claim.job_number,
        site_id=claim.site_id,
        item_id=claim.item_id,
        quantity=left,
        need_date=claim.need_date,
        criticality=claim.criticality,
    )
    if held and claim.state == State.SOFT:
        reservations.reclaim(by=by, reservation_id=claim.pk)
