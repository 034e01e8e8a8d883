"""What arrives of a transfer: all of it, less, more, late, or never."""

import datetime
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from kits.models import (
    Balance,
    Lot,
    Movement,
    MovementKind,
    Reservation,
    Transfer,
    TransferDiscrepancy,
    TransferLine,
    TransferLot,
)
from kits.operations.arrivals import refuse_unreceivable
from kits.operations.kit_building import bin_of
from kits.operations.movements import Entry, key_of, lock_balances, post_movements
from kits.operations.reservations import reclaim
from kits.operations.transfers import locked, set_received_state, told, wrong_state
from kits.refusals import WrongTransferState
from services.api.refusals import InvalidValue
from services.api.request_context import request_id
from services.identity.callers import Caller

RECEIVERS = ("stores", "integrator", "admin")
CLOSERS = ("stores", "admin")
State = Transfer.State
RECEIVABLE = (State.SENT, State.PART_RECEIVED, State.RECEIVED, State.CLOSED_SHORT)


@dataclass(frozen=True)
class Came:
    """What came of one line: the quantity and the lot as its label says."""

    line: int
    lot: str
    quantity: Decimal


@transaction.atomic(savepoint=False)
def receive_transfer(
    *,
    by: Caller,
    transfer_id: uuid.UUID,
    expected_version: int,
    came: Sequence[Came] | None = None,
    bin_code: str = "",
    occurred_at: datetime.datetime | None = None,
) -> Transfer:
    """Put what came on a shelf of the receiver, with the lots it left with; without ``came`` all that is under way.

    More than left is recorded as it is and as a discrepancy; so is what comes after it was closed short. The claim it
    was meant for gets lots at once where it had none. Raises `WrongTransferState`, `VersionChanged`, `InvalidValue`.
    """
    transfer = locked(by, transfer_id, expected_version, "to", RECEIVERS)
    if transfer.state not in RECEIVABLE:
        raise wrong_state(transfer, "received", "sent")
    home = bin_of(transfer.to_site_id, bin_code)
    when = occurred_at or timezone.now()
    lines = {one.line: one for one in TransferLine.objects.select_for_update(no_key=True).filter(transfer=transfer)}
    known = {
        (one.line_id, one.lot.number): one
        for one in TransferLot.objects.filter(line__transfer=transfer).select_related("lot")
    }
    numbers = {one.pk: one.line for one in lines.values()}
    arrived = came
    if arrived is None:
        arrived = [
            Came(numbers[line], lot, one.sent - one.received)
            for (line, lot), one in known.items()
            if one.received < one.sent
        ]
    refuse_unreceivable(arrived, lines, remedy="Name lines of the transfer with what came of each lot.")
    claim = _waiting_claim(transfer)
    if claim is not None:
        # The claim may take other lots than those that come: all are locked at once, in the one order.
        shelf = Balance.objects.filter(site_id=claim.site_id, item_id__in={one.item_id for one in lines.values()})
        lock_balances([key_of(one) for one in shelf])
    entries = []
    for index, one in enumerate(arrived):
        line = lines[one.line]
        kept = known.get((line.pk, one.lot)) or _unexpected(line, one.lot, index)
        known[line.pk, one.lot] = kept
        late = transfer.state == State.CLOSED_SHORT
        before = max(kept.received, kept.sent) if not late else kept.received
        kept.received += one.quantity
        line.received += one.quantity
        more = kept.received - before
        if more > 0:
            reason = "came after it was closed short" if late else "more came than left"
            note_discrepancy(kept, more, reason, by)
        entries.append(
            Entry(
                kind=MovementKind.TRANSFER_IN,
                site_id=transfer.to_site_id,
                item_id=line.item_id,
                lot_id=kept.lot_id,
                bin_id=home,
                quantity=one.quantity,
                occurred_at=when,
                transfer_line_id=line.pk,
                reason=f"transfer {transfer.number}",
            )
        )
    TransferLot.objects.bulk_update(known.values(), ["received"])
    TransferLine.objects.bulk_update(lines.values(), ["received"])
    post_movements(by=by, entries=entries)
    if transfer.state != State.CLOSED_SHORT:
        set_received_state(transfer)
    if claim is not None:
        reclaim(by=by, reservation_id=claim.pk)
    facts = [{"line": one.line, "lot": one.lot, "quantity": one.quantity} for one in arrived]
    return told("transfer.received", transfer, by, lines=facts)


def _unexpected(line: TransferLine, number: str, index: int) -> TransferLot:
    """A lot that did not leave, by the lender's books; it must be a known one, since its age must be known."""
    lot = Lot.objects.filter(item_id=line.item_id, number=number).first()
    if lot is None:
        raise InvalidValue(
            f"No lot {number} of this item is known.",
            remedy="Check the label. A lot nobody has seen is recorded as a receipt, with its cure date.",
            pointer=f"#/lines/{index}/lot",
        )
    return TransferLot.objects.create(line=line, lot=lot)


def _waiting_claim(transfer: Transfer) -> Reservation | None:
    """Locked before any balance: locks are taken in the order reservation, balance."""
    if transfer.reservation_id is None:
        return None
    return Reservation.objects.select_for_update(no_key=True).filter(pk=transfer.reservation_id, state="soft").first()


def note_discrepancy(kept: TransferLot, quantity: Decimal, reason: str, by: Caller) -> None:
    """Record that more (above zero) or less of a lot came than left."""
    TransferDiscrepancy.objects.create(
        line_id=kept.line_id,
        lot_id=kept.lot_id,
        quantity=quantity,
        reason=reason,
        by_id=by.id,
        request_id=request_id.get()[:64],
    )


@transaction.atomic(savepoint=False)
def close_transfer_short(*, by: Caller, transfer_id: uuid.UUID, expected_version: int, reason: str) -> Transfer:
    """The rest will not come: what is missing of each lot is recorded with the reason. Raises `WrongTransferState`,
    `VersionChanged`."""
    transfer = locked(by, transfer_id, expected_version, "to", CLOSERS)
    if transfer.state not in {State.SENT, State.PART_RECEIVED}:
        raise wrong_state(transfer, "closed short", "sent or part received")
    missing = list(TransferLot.objects.filter(line__transfer=transfer, received__lt=F("sent")).order_by("id"))
    for one in missing:
        note_discrepancy(one, one.received - one.sent, reason, by)
    Transfer.objects.filter(pk=transfer.pk).update(state=State.CLOSED_SHORT, closed_reason=reason)
    return told("transfer.closed-short", transfer, by, reason=reason)


def take_off_transfer(*, by: Caller, movement: Movement, line_id: uuid.UUID) -> None:
    """A movement of a transfer is being reversed: what came is under way again. What left comes back by cancelling.

    Raises `WrongTransferState` for what left, and where more came than left or the transfer is closed.
    """
    transfer = Transfer.objects.select_for_update(no_key=True).get(lines__pk=line_id)
    kept = TransferLot.objects.get(line_id=line_id, lot_id=movement.lot_id)
    if movement.kind == MovementKind.TRANSFER_OUT:
        raise WrongTransferState(
            f"What left with transfer {transfer.number} comes back by cancelling it.",
            remedy="POST /transfers/{id}/cancel, once the lender has the goods back.",
            state=transfer.state,
        )
    if transfer.state == State.CLOSED_SHORT or kept.received > kept.sent:
        raise WrongTransferState(
            f"Transfer {transfer.number} recorded a discrepancy of this lot already.",
            remedy="Count the shelf and record the difference.",
            state=transfer.state,
        )
    TransferLot.objects.filter(pk=kept.pk).update(received=F("received") - movement.quantity)
    TransferLine.objects.filter(pk=line_id).update(received=F("received") - movement.quantity)
    set_received_state(transfer)
    told("transfer.receipt-reversed", transfer, by)
