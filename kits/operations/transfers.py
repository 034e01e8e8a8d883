"""Transfers from site to site, up to the moment the goods leave: agreed on, sent, or cancelled.

Nothing is set aside when a transfer is agreed on: a job at the lender may still reserve the lots. Whoever sends first
gets what is free; a second transfer of the same kit is refused when it is to leave.
"""

import datetime
import uuid
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import connection, transaction
from django.db.models import F
from django.utils import timezone

from assets.access import has_role
from assets.calculations.written_numbers import plain
from assets.queries.sites import site_codes
from kits.calculations.allocation import Allocation, LotStock, allocate
from kits.models import Balance, Lot, Movement, MovementKind, Reservation, Transfer, TransferLine, TransferLot
from kits.operations.lending import lending_warnings
from kits.operations.movements import BalanceKey, Entry, key_of, lock_balances, post_movements
from kits.queries.items import item_for
from kits.queries.transfers import claim_at, transfer_for, transit_between
from kits.refusals import InsufficientStock, LenderWouldRunShort, NoTransitTime, WrongTransferState
from services.api.identifiers import new_id
from services.api.refusals import FieldProblem, InvalidValue, NotAllowed, NotThere
from services.api.versions import version_changed
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller

APPROVERS = ("stores", "planner", "admin")
SENDERS = ("stores", "integrator", "admin")
State = Transfer.State
LIVE = (Reservation.State.SOFT, Reservation.State.HARD)
ZERO = Decimal(0)


@dataclass(frozen=True)
class Wanted:
    """So many of an item."""

    item_id: uuid.UUID
    quantity: Decimal


@transaction.atomic(savepoint=False)
def approve_transfer(
    *,
    by: Caller,
    from_site: uuid.UUID,
    to_site: uuid.UUID,
    lines: Sequence[Wanted],
    reservation_id: uuid.UUID | None = None,
    override_reason: str = "",
    transfer_id: uuid.UUID | None = None,
) -> Transfer:
    """Agree on a transfer, by somebody who is stores, planner or admin at both sites.

    1. The transit time is known. 2. Where the lender would fall below its reorder point or its own jobs would go short,
    a reason is asked for and kept. Raises `NotThere`, `NotAllowed`, `InvalidValue`, `NoTransitTime`,
    `LenderWouldRunShort`.
    """
    _require_both(by, from_site, to_site)
    _refuse_unclear(from_site, to_site, lines)
    transit = transit_between(from_site, to_site)
    if transit is None:
        raise NoTransitTime(
            "Nobody said how long goods take between these sites.",
            remedy="POST /transit-times first, by the data owner.",
            pointer="#/to_site",
        )
    claim = _claim(to_site, reservation_id, lines)
    today = timezone.now().date()
    expected_on = today + datetime.timedelta(days=transit.days)
    lasting = max(expected_on, claim.need_date) if claim else expected_on
    warnings = lending_warnings(from_site, {one.item_id: one.quantity for one in lines}, today=today, lasting=lasting)
    if warnings and not override_reason:
        raise LenderWouldRunShort(
            " ".join(one["words"] for one in warnings),
            remedy="Lend less, or say in override_reason why it shall be all the same.",
            pointer="#/override_reason",
            warnings=warnings,
        )
    made = Transfer.objects.create(
        id=transfer_id or new_id(),
        number=_next_number(),
        from_site_id=from_site,
        to_site_id=to_site,
        days=transit.days,
        cost=transit.cost,
        currency=transit.currency,
        reservation=claim,
        warnings=warnings,
        override_reason=override_reason,
        approved_by_id=by.id,
        expected_on=expected_on,
    )
    TransferLine.objects.bulk_create(
        [
            TransferLine(transfer=made, line=number, item_id=one.item_id, quantity=one.quantity)
            for number, one in enumerate(lines, 1)
        ]
    )
    return told("transfer.approved", made, by)


def _require_both(by: Caller, *sites: uuid.UUID) -> None:
    """A site without a role is refused in the same words as one that is not there."""
    if all(has_role(by, one, *APPROVERS) for one in sites):
        known = site_codes()
        for one, name in zip(sites, ("from_site", "to_site"), strict=True):
            if one not in known:
                raise InvalidValue("There is no such site.", remedy="GET /sites lists them.", pointer=f"#/{name}")
        return
    if not any(has_role(by, one) for one in sites):
        raise NotThere("The sites are not here.", remedy="Check the ids, or ask for a role there.")
    raise NotAllowed(
        "This needs the role stores, planner or admin at both sites.",
        remedy="Ask somebody who has it at both, or an administrator.",
        required_roles=list(APPROVERS),
    )


def _refuse_unclear(from_site: uuid.UUID, to_site: uuid.UUID, lines: Sequence[Wanted]) -> None:
    if from_site == to_site:
        raise InvalidValue("Both are the same site.", remedy="Name two sites.", pointer="#/to_site")
    if not lines:
        raise InvalidValue("A transfer needs a line.", remedy="Give at least one item.", pointer="#/lines")
    seen: set[uuid.UUID] = set()
    for index, one in enumerate(lines):
        item_for(one.item_id)
        if one.quantity <= 0:
            raise InvalidValue("Must be above zero.", remedy="Give how many.", pointer=f"#/lines/{index}/quantity")
        if one.item_id in seen:
            raise InvalidValue(
                "The item stands on it twice.", remedy="Give it one line.", pointer=f"#/lines/{index}/item"
            )
        seen.add(one.item_id)


def _claim(to_site: uuid.UUID, reservation_id: uuid.UUID | None, lines: Sequence[Wanted]) -> Reservation | None:
    if reservation_id is None:
        return None
    claim = claim_at(to_site, reservation_id)
    if claim is None or claim.item_id not in {one.item_id for one in lines}:
        raise InvalidValue(
            "No job at the receiving site has such a claim on one of these items.",
            remedy="GET /reservations lists the claims.",
            pointer="#/reservation",
        )
    return claim


def _next_number() -> str:
    with connection.cursor() as cursor:
        cursor.execute("SELECT nextval('kits_transfer_number')")
        return f"T-{timezone.now():%Y}-{cursor.fetchone()[0]:05d}"


@transaction.atomic(savepoint=False)
def send_transfer(
    *,
    by: Caller,
    transfer_id: uuid.UUID,
    expected_version: int,
    quantities: Mapping[int, Decimal] | None = None,
    occurred_at: datetime.datetime | None = None,
) -> Transfer:
    """The goods leave the lender's shelves: first expired first out, over lots free and in date on arrival and, where
    it is for a job, on the job's day. ``quantities`` by line where less leaves than was agreed.

    Raises `InsufficientStock` with the lots passed over, `WrongTransferState`, `VersionChanged`, `InvalidValue`.
    """
    transfer = locked(by, transfer_id, expected_version, "from", SENDERS)
    if transfer.state != State.APPROVED:
        raise wrong_state(transfer, "sent", "approved")
    lines = list(TransferLine.objects.select_for_update(no_key=True).filter(transfer=transfer).order_by("line"))
    leaving = _leaving(lines, quantities)
    when = occurred_at or timezone.now()
    expected_on = when.date() + datetime.timedelta(days=transfer.days)
    claim = transfer.reservation
    lasting = max(expected_on, claim.need_date) if claim and claim.state in LIVE else expected_on
    stock = _stock_of(transfer.from_site_id, [one.item_id for one in lines])
    entries: list[Entry] = []
    lots: dict[tuple[uuid.UUID, uuid.UUID], Decimal] = defaultdict(Decimal)
    for line in lines:
        found = _choose(stock, line, leaving[line.line], lasting)
        for key, quantity in found.taken:
            lots[line.pk, key[2]] += quantity
            entries.append(
                Entry(
                    kind=MovementKind.TRANSFER_OUT,
                    site_id=key[0],
                    item_id=key[1],
                    lot_id=key[2],
                    bin_id=key[3],
                    quantity=-quantity,
                    occurred_at=when,
                    transfer_line_id=line.pk,
                    reason=f"transfer {transfer.number}",
                )
            )
        TransferLine.objects.filter(pk=line.pk).update(sent=leaving[line.line])
    TransferLot.objects.bulk_create(
        [TransferLot(line_id=line, lot_id=lot, sent=quantity) for (line, lot), quantity in lots.items()]
    )
    post_movements(by=by, entries=entries)
    Transfer.objects.filter(pk=transfer.pk).update(
        state=State.SENT, sent_at=when, sent_by_id=by.id, expected_on=expected_on
    )
    return told("transfer.sent", transfer, by, lines=[{"line": number, "quantity": q} for number, q in leaving.items()])


def _leaving(lines: Sequence[TransferLine], quantities: Mapping[int, Decimal] | None) -> dict[int, Decimal]:
    leaving = {one.line: one.quantity for one in lines}
    problems = []
    for index, (number, quantity) in enumerate((quantities or {}).items()):
        if number not in leaving:
            problems.append(FieldProblem(f"#/lines/{index}/line", "no-such-line", f"Line {number} is not on it."))
        elif not 0 <= quantity <= leaving[number]:
            problems.append(
                FieldProblem(f"#/lines/{index}/quantity", "out-of-range", f"Between 0 and {plain(leaving[number])}.")
            )
        else:
            leaving[number] = quantity
    if not problems and not any(leaving.values()):
        problems.append(FieldProblem("#/lines", "empty", "Nothing would leave."))
    if problems:
        raise InvalidValue(
            " ".join(one.detail for one in problems),
            remedy="Send at most what was agreed, or cancel the transfer.",
            problems=problems,
        )
    return leaving


def _stock_of(site_id: uuid.UUID, items: Sequence[uuid.UUID]) -> dict[BalanceKey, Balance]:
    held = Balance.objects.filter(site_id=site_id, item_id__in=items, condition="usable", on_hand__gt=0)
    balances = lock_balances([key_of(one) for one in held])
    lots = Lot.objects.in_bulk({one.lot_id for one in balances.values()})
    for one in balances.values():
        one.lot = lots[one.lot_id]
    return balances


def _choose(
    stock: Mapping[BalanceKey, Balance], line: TransferLine, quantity: Decimal, lasting: datetime.date
) -> Allocation[BalanceKey]:
    lots = [
        LotStock(key, one.lot.number, one.lot.expires_on, one.lot.received_on, one.on_hand - one.reserved)
        for key, one in stock.items()
        if one.item_id == line.item_id
    ]
    found = allocate(lots=lots, quantity=quantity, on=lasting)
    if found.short:
        raise InsufficientStock(
            f"Line {line.line}: {plain(found.short)} of {plain(quantity)} short. Reserved lots stay, and "
            f"lots must be in date on {lasting}.",
            remedy="Send less, cancel the transfer, or release a reservation first.",
            pointer="#/lines",
            line=line.line,
            passed_over=[
                {
                    "lot": one.lot_number,
                    "expires_on": one.usable_until.isoformat() if one.usable_until else None,
                    "reason": one.reason,
                }
                for one in found.passed_over
            ],
        )
    return found


@transaction.atomic(savepoint=False)
def cancel_transfer(*, by: Caller, transfer_id: uuid.UUID, expected_version: int, reason: str) -> Transfer:
    """Before the goods left, by either site; afterwards by the lender, who has them back: they return to the shelves
    they came from, as reversals. Raises `WrongTransferState` once something arrived, `VersionChanged`."""
    seen = transfer_for(by, transfer_id)
    sent = seen.state != State.APPROVED
    transfer = locked(by, transfer_id, expected_version, "from" if sent else "either", SENDERS if sent else APPROVERS)
    if transfer.state not in {State.APPROVED, State.SENT}:
        raise wrong_state(transfer, "cancelled", "approved or sent")
    left = list(
        Movement.objects.filter(
            site_id=transfer.from_site_id,
            item_id__in=TransferLine.objects.filter(transfer=transfer).values("item_id"),
            occurred_at=transfer.sent_at,
            transfer_line__transfer=transfer,
            reverses=None,
            reversed_by=None,
        ).order_by("id")
    )
    post_movements(
        by=by,
        entries=[
            Entry(
                kind=one.kind,
                site_id=one.site_id,
                item_id=one.item_id,
                lot_id=one.lot_id,
                bin_id=one.bin_id,
                quantity=-one.quantity,
                occurred_at=timezone.now(),
                transfer_line_id=one.transfer_line_id,
                reverses_id=one.pk,
                reason=reason,
            )
            for one in left
        ],
    )
    TransferLine.objects.filter(transfer=transfer).update(sent=0)
    TransferLot.objects.filter(line__transfer=transfer).update(sent=0)
    Transfer.objects.filter(pk=transfer.pk).update(state=State.CANCELLED, closed_reason=reason)
    return told("transfer.cancelled", transfer, by, reason=reason)


def locked(by: Caller, transfer_id: uuid.UUID, expected_version: int, side: str, roles: Sequence[str]) -> Transfer:
    """The transfer in the version that was seen, locked, for somebody with one of the roles at the lender (``from``),
    the receiver (``to``) or one of them (``either``). Raises `NotThere`, `NotAllowed`, `VersionChanged`."""
    found = transfer_for(by, transfer_id)
    sites = {"from": [found.from_site_id], "to": [found.to_site_id], "either": [found.from_site_id, found.to_site_id]}
    if not any(has_role(by, one, *roles) for one in sites[side]):
        where = {"from": "the lending site", "to": "the receiving site", "either": "one of its sites"}[side]
        raise NotAllowed(
            f"This needs the role {' or '.join(roles)} at {where}.",
            remedy="Ask somebody with that role there.",
            required_roles=list(roles),
        )
    transfer = (
        Transfer.objects.select_for_update(no_key=True, of=("self",)).select_related("reservation").get(pk=found.pk)
    )
    if transfer.version != expected_version:
        raise version_changed("The transfer", transfer.version)
    return transfer


def wrong_state(transfer: Transfer, what: str, needed: str) -> WrongTransferState:
    """The refusal that names the state it is in."""
    return WrongTransferState(
        f"Transfer {transfer.number} is {transfer.state.replace('-', ' ')}; to be {what} it must be {needed}.",
        remedy="Read the transfer again and see what is possible.",
        state=transfer.state,
    )


def told(kind: str, transfer: Transfer, by: Caller, **facts: Any) -> Transfer:
    """Record the change once for each site, so that whoever follows one of them hears of it."""
    Transfer.objects.filter(pk=transfer.pk).update(updated_at=timezone.now())
    transfer.refresh_from_db()
    body = {
        "number": transfer.number,
        "state": transfer.state,
        "from_site": transfer.from_site_id,
        "to_site": transfer.to_site_id,
        "expected_on": transfer.expected_on,
        **facts,
    }
    record_changes(
        [
            Recorded(kind, "transfer", transfer.pk, transfer.version, site, body)
            for site in (transfer.from_site_id, transfer.to_site_id)
        ],
        by=by,
    )
    return transfer


def set_received_state(transfer: Transfer) -> None:
    """What the lines say, while it is not closed."""
    still_open = TransferLot.objects.filter(line__transfer=transfer, received__lt=F("sent")).exists()
    some = TransferLine.objects.filter(transfer=transfer, received__gt=0).exists()
    state = State.SENT if not some else State.PART_RECEIVED if still_open else State.RECEIVED
    Transfer.objects.filter(pk=transfer.pk).update(state=state)
