"""Undoing a movement: nothing is changed or deleted, a new movement names the one it reverses.

What a count found is reversed like anything else; the shelf then counts as not counted, and is due again.
"""

import uuid

from django.db import transaction
from django.utils import timezone

from kits.models import Balance, Movement, MovementKind
from kits.operations.movements import BalanceKey, Entry, keys_of, lock_balances, losses_of, post_movements
from kits.operations.orders import take_off_receipt
from kits.operations.reservations import displace, still_stranded
from kits.operations.transfer_receipts import take_off_transfer
from kits.queries.movements import movement_for
from kits.refusals import AlreadyReversed
from services.api.identifiers import new_id
from services.identity.callers import Caller

KEEPERS = ("stores", "integrator", "admin")


@transaction.atomic(savepoint=False)
def reverse_movement(*, by: Caller, movement_id: uuid.UUID, reason: str) -> list[Movement]:
    """Reverse a movement, both sides of it where it has two; an order's receipt is taken off the order again, and
    what came with a transfer is under way again.

    Raises `AlreadyReversed`, `InsufficientStock` where what came in has gone since, `NotThere`, `NotAllowed`.
    """
    asked = movement_for(by, movement_id, *KEEPERS)
    sides = [asked]
    if asked.pair is not None:
        sides = list(Movement.objects.select_for_update().filter(pair=asked.pair, reverses=None).order_by("id"))
    if any(one.reverses_id is not None for one in sides):
        raise AlreadyReversed("A reversal cannot be reversed.", remedy="Record what really happened as a new movement.")
    if Movement.objects.filter(reverses_id__in=[one.pk for one in sides]).exists():
        raise AlreadyReversed("The movement was reversed already.", remedy="Read the movement again.")
    pair = new_id() if asked.pair is not None else None
    entries = [_opposite(one, reason, pair) for one in sides]
    for one in sides:
        if one.kind == MovementKind.RECEIPT and one.order_line_id is not None:
            take_off_receipt(by=by, line_id=one.order_line_id, quantity=one.quantity)
        if one.transfer_line_id is not None:
            take_off_transfer(by=by, movement=one, line_id=one.transfer_line_id)
    stranded = displace(by=by, losses=losses_of(entries), besides=keys_of(entries))
    counted = [_shelf(one) for one in sides if one.count_line_id is not None]
    if counted:
        taken_back = [one.pk for one in lock_balances(counted).values()]
        Balance.objects.filter(pk__in=taken_back).update(counted_at=None)
    posted = post_movements(by=by, entries=entries)
    still_stranded(by=by, claims=stranded)
    return posted


def _shelf(movement: Movement) -> BalanceKey:
    return movement.site_id, movement.item_id, movement.lot_id, movement.bin_id, movement.condition


def _opposite(movement: Movement, reason: str, pair: uuid.UUID | None) -> Entry:
    return Entry(
        kind=movement.kind,
        site_id=movement.site_id,
        item_id=movement.item_id,
        lot_id=movement.lot_id,
        bin_id=movement.bin_id,
        condition=movement.condition,
        quantity=-movement.quantity,
        occurred_at=timezone.now(),
        reason=reason,
        job_id=movement.job_id,
        job_number=movement.job_number,
        order_line_id=movement.order_line_id,
        transfer_line_id=movement.transfer_line_id,
        reverses_id=movement.pk,
        pair=pair,
    )
