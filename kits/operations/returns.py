"""What comes back from a job: a kit that was not opened, or single parts of one that was."""

import datetime
import uuid
from decimal import Decimal

from assets.calculations.written_numbers import plain
from kits.models import Condition, Lot, Movement, MovementKind
from kits.operations.lots import LotWanted, ensure_lots
from kits.operations.movements import Entry, post_movements
from kits.queries.movements import out_for_job
from kits.refusals import TooMuchReturned
from services.api.refusals import NotThere
from services.identity.callers import Caller


def take_back(
    *,
    by: Caller,
    job_id: uuid.UUID,
    movement_id: uuid.UUID,
    quantity: Decimal,
    reason: str,
    occurred_at: datetime.datetime,
) -> list[Movement]:
    """Put an unopened kit or part back on the shelf it was issued from. Raises `TooMuchReturned`, `NotThere`."""
    taken = Movement.objects.filter(pk=movement_id, job_id=job_id, kind=MovementKind.ISSUE).first()
    if taken is None:
        raise NotThere("No such issue was made for this job.", remedy="Read what was issued for the job.")
    out = out_for_job(job_id, taken.lot_id)
    if not 0 < quantity <= out:
        raise TooMuchReturned(
            f"{plain(out)} of lot {taken.lot.number} are out for job {taken.job_number}.",
            remedy="Return at most that.",
            pointer="#/quantity",
        )
    return post_movements(
        by=by,
        entries=[
            Entry(
                kind=MovementKind.RETURN,
                site_id=taken.site_id,
                item_id=taken.item_id,
                lot_id=taken.lot_id,
                bin_id=taken.bin_id,
                quantity=quantity,
                occurred_at=occurred_at,
                job_id=job_id,
                job_number=taken.job_number,
                reason=reason,
            )
        ],
    )


def take_back_from_lot(
    *,
    by: Caller,
    job_id: uuid.UUID,
    job_number: str,
    site_id: uuid.UUID,
    item_id: uuid.UUID,
    lot_id: uuid.UUID,
    quantity: Decimal,
    reason: str,
    occurred_at: datetime.datetime,
    condition: str = Condition.USABLE,
    bin_id: uuid.UUID | None = None,
) -> Movement:
    """What left by its own lot and was not opened comes back to that lot. Raises `TooMuchReturned`."""
    out = out_for_job(job_id, lot_id)
    if not 0 < quantity <= out:
        raise TooMuchReturned(
            f"{out.normalize():f} of that lot are out for job {job_number}.",
            remedy="Return at most that.",
            pointer="#/quantity",
        )
    posted = post_movements(
        by=by,
        entries=[
            Entry(
                kind=MovementKind.RETURN,
                site_id=site_id,
                item_id=item_id,
                lot_id=lot_id,
                bin_id=bin_id,
                condition=condition,
                quantity=quantity,
                occurred_at=occurred_at,
                job_id=job_id,
                job_number=job_number,
                reason=reason,
            )
        ],
    )
    return posted[0]


def put_back_part(
    *,
    by: Caller,
    job_id: uuid.UUID,
    job_number: str,
    site_id: uuid.UUID,
    part_id: uuid.UUID,
    quantity: Decimal,
    kit_lot_id: uuid.UUID,
    reason: str,
    occurred_at: datetime.datetime,
    condition: str = Condition.QUARANTINED,
    bin_id: uuid.UUID | None = None,
) -> Movement:
    """A part of an opened kit comes back: a lot of its own, as old as the kit's, quarantined until it is looked at.

    That loose parts wait for a look is common practice, no source. Who has looked says so with ``condition``.
    """
    kit_lot = Lot.objects.get(pk=kit_lot_id)
    wanted = LotWanted(part_id, f"{kit_lot.number}/{job_number}", kit_lot.received_on, kit_lot.cure_date)
    lot = ensure_lots([wanted], by=by)[wanted.item_id, wanted.number]
    posted = post_movements(
        by=by,
        entries=[
            Entry(
                kind=MovementKind.RETURN,
                site_id=site_id,
                item_id=part_id,
                lot_id=lot.pk,
                bin_id=bin_id,
                condition=condition,
                quantity=quantity,
                occurred_at=occurred_at,
                job_id=job_id,
                job_number=job_number,
                reason=reason,
            )
        ],
    )
    return posted[0]
