"""Claims of jobs on stock: soft for a day, hard on lots that will be in date, issued when the fitter takes them.

The caller is an operation of jobs that has passed the gate and holds the job's lock; the order of locks is job,
reservation, balance. Everything here runs inside that operation's transaction.
"""

import datetime
import uuid
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from django.db import connection
from django.db.models import F

from assets.calculations.written_numbers import plain
from kits.calculations.allocation import Allocation as Found
from kits.calculations.allocation import LotStock, allocate
from kits.models import Allocation, Balance, Movement, MovementKind, Reservation
from kits.operations.movements import BalanceKey, Entry, key_of, lock_balances, post_movements
from kits.queries.availability import alternatives, next_receipt
from kits.refusals import InsufficientStock, LotOutOfDate, WrongReservationState
from services.api.identifiers import new_id
from services.api.refusals import InvalidValue, NotThere
from services.changes.recording import record_change
from services.identity.callers import Caller

State = Reservation.State
LIVE = (State.SOFT, State.HARD)


def plan(
    *,
    by: Caller,
    job_id: uuid.UUID,
    job_number: str,
    site_id: uuid.UUID,
    item_id: uuid.UUID,
    quantity: Decimal,
    need_date: datetime.date,
    criticality: str = "",
) -> Reservation:
    """Claim a quantity for a day without naming lots; a job's live claim on the same item is changed instead.

    ``criticality`` is that of the job's pump: where stock is scarce, it says who comes first. Raises `InvalidValue` for
    less than was issued already.
    """
    old = Reservation.objects.select_for_update(no_key=True).filter(job_id=job_id, item_id=item_id, state__in=LIVE)
    found = old.first()
    if found is None:
        found = Reservation.objects.create(
            job_id=job_id,
            job_number=job_number,
            site_id=site_id,
            item_id=item_id,
            quantity=quantity,
            need_date=need_date,
            criticality=criticality,
            by_id=by.id,
        )
    elif (found.quantity, found.need_date) != (quantity, need_date):
        if quantity < found.issued:
            raise InvalidValue(
                f"{plain(found.issued)} of it were issued already.",
                remedy="Claim at least that, or record what came back.",
                pointer="#/quantity",
            )
        if found.state == State.HARD:
            let_go(found)
        state = State.ISSUED if quantity == found.issued else State.SOFT
        Reservation.objects.filter(pk=found.pk).update(quantity=quantity, need_date=need_date, state=state)
        found.refresh_from_db()
    tell_claim("reservation.planned", found, by)
    return found


def rate(*, job_id: uuid.UUID, criticality: str) -> None:
    """A job's live claims are as critical as its pump is now."""
    claims = Reservation.objects.filter(job_id=job_id, state__in=LIVE).exclude(criticality=criticality)
    claims.update(criticality=criticality)


def reserve(*, by: Caller, reservation_id: uuid.UUID) -> Reservation:
    """Make a claim hard: first expired first out, over lots in date on the day of need, less what was issued of it.

    Raises `InsufficientStock` with lots passed over, alternatives and the next receipt; `WrongReservationState`.
    """
    claim = _locked(reservation_id)
    if claim.state == State.HARD:
        return claim
    if claim.state != State.SOFT:
        raise _wrong_state(claim, "reserved")
    balances = balances_for(claim)
    found = choose(balances.values(), claim.quantity - claim.issued, claim.need_date)
    if found.short:
        raise _refusal(by, claim, found)
    _hold(claim, [(balances[key].pk, quantity) for key, quantity in found.taken])
    tell_claim("reservation.made", claim, by)
    return claim


HOLD = """
WITH taken AS (SELECT * FROM unnest(%s::uuid[], %s::uuid[], %s::numeric[]) AS t(allocation, balance, quantity)),
held AS (UPDATE kits_balance b SET reserved = b.reserved + t.quantity FROM taken t WHERE b.id = t.balance),
named AS (
    INSERT INTO kits_allocation AS a (id, reservation_id, balance_id, quantity, issued)
    SELECT t.allocation, %s, t.balance, t.quantity, 0 FROM taken t
    ON CONFLICT (reservation_id, balance_id) DO UPDATE SET quantity = a.quantity + excluded.quantity
)
UPDATE kits_reservation SET state = 'hard' WHERE id = %s RETURNING state, version, updated_at
"""


def _hold(claim: Reservation, taken: Sequence[tuple[uuid.UUID, Decimal]]) -> None:
    """Lots for a claim, by balance, and the claim is hard; of one that was partly issued, the rows of what was issued
    are still there. One statement, since everybody else who wants these lots waits meanwhile."""
    columns: list[list[Any]] = [
        [new_id() for _ in taken],
        [one for one, _ in taken],
        [quantity for _, quantity in taken],
    ]
    with connection.cursor() as cursor:
        cursor.execute(HOLD, [*columns, claim.pk, claim.pk])
        claim.state, claim.version, claim.updated_at = cursor.fetchone()


def release(*, by: Caller, job_id: uuid.UUID) -> list[Reservation]:
    """Let go of whatever a job claims; what was issued already stays issued."""
    claims = list(
        Reservation.objects.select_for_update(no_key=True).filter(job_id=job_id, state__in=LIVE).order_by("id")
    )
    if len(claims) > 1:
        lock_balances(_stock_of(claims))
    for claim in claims:
        let_go(claim)
        Reservation.objects.filter(pk=claim.pk).update(state=State.RELEASED)
        claim.refresh_from_db()
        tell_claim("reservation.released", claim, by)
    return claims


def move_need_date(*, by: Caller, job_id: uuid.UUID, need_date: datetime.date) -> None:
    """The job moved to another day: claims follow. A lot that would be out of date by then is exchanged or let go."""
    claims = list(
        Reservation.objects.select_for_update(no_key=True).filter(job_id=job_id, state__in=LIVE).order_by("id")
    )
    if len(claims) > 1:
        lock_balances(_stock_of(claims))
    for claim in claims:
        was_hard = claim.state == State.HARD
        held = list(Allocation.objects.filter(reservation=claim).values_list("balance__lot__expires_on", flat=True))
        Reservation.objects.filter(pk=claim.pk).update(need_date=need_date)
        if was_hard and any(until is not None and until < need_date for until in held):
            let_go(claim)
            Reservation.objects.filter(pk=claim.pk).update(state=State.SOFT)
            reclaim(by=by, reservation_id=claim.pk)
        claim.refresh_from_db()
        tell_claim("reservation.moved", claim, by)


def reclaim(*, by: Caller, reservation_id: uuid.UUID) -> bool:
    """Try to make a soft claim hard again; where nothing is left it stays soft and the job loses *ready*."""
    try:
        reserve(by=by, reservation_id=reservation_id)
    except InsufficientStock:
        return False
    return True


def displace(*, by: Caller, losses: dict[BalanceKey, Decimal], besides: Iterable[BalanceKey] = ()) -> list[Reservation]:
    """Free what a loss will take from reserved lots: the claims with the latest need go first and look for other lots.

    Returns the claims that could not be held. To be called before the loss is posted, in its transaction, and followed
    by `still_stranded` where something comes in with it; ``besides`` are the other balances that the caller is going to
    move, locked here with the rest in the one order.
    """
    at_risk = list(
        Allocation.objects.filter(reservation__state=State.HARD, balance__lot_id__in={key[2] for key in losses})
        .select_related("balance")
        .order_by("-reservation__need_date", "-reservation_id")
    )
    touched = {one.reservation_id for one in at_risk if key_of(one.balance) in losses}
    locked = {
        one.pk: one
        for one in Reservation.objects.select_for_update(no_key=True).filter(pk__in=touched).order_by("id")
        if one.state == State.HARD
    }
    # A displaced claim looks among all lots of its item: they are locked now, not once the lost one is held already.
    balances = lock_balances([*losses, *besides, *_stock_of(locked.values())], make=True)
    moved = []
    for one in at_risk:
        key = key_of(one.balance)
        balance = balances.get(key)
        if balance is None or key not in losses or one.reservation_id not in locked:
            continue
        balance.refresh_from_db(fields=["on_hand", "reserved"])
        if balance.on_hand - losses[key] >= balance.reserved:
            continue
        let_go(locked[one.reservation_id])
        Reservation.objects.filter(pk=one.reservation_id).update(state=State.SOFT)
        moved.append(locked.pop(one.reservation_id))
    hidden = [
        (balances[key].pk, lost) for key, lost in losses.items() if key in balances and _hide(balances[key], lost)
    ]
    stranded = [claim for claim in moved if not reclaim(by=by, reservation_id=claim.pk)]
    for balance_id, lost in hidden:
        Balance.objects.filter(pk=balance_id).update(reserved=F("reserved") - lost)
    for claim in moved:
        claim.refresh_from_db()
        tell_claim("reservation.displaced", claim, by)
    return stranded


def still_stranded(*, by: Caller, claims: Sequence[Reservation]) -> list[Reservation]:
    """What was displaced tries once more, now that what came in with the loss is posted: goods that only lie elsewhere
    stay with their job. Returns the claims that hold nothing still."""
    return [claim for claim in claims if not reclaim(by=by, reservation_id=claim.pk)]


def _stock_of(claims: Iterable[Reservation]) -> list[BalanceKey]:
    """What lies usable of the claimed items at their sites: whatever these claims hold or may come to hold."""
    wanted = {(one.site_id, one.item_id) for one in claims}
    if not wanted:
        return []
    there = Balance.objects.filter(
        site_id__in={site for site, _ in wanted}, item_id__in={item for _, item in wanted}, condition="usable",
        on_hand__gt=0,
    )  # fmt: skip
    return [key_of(one) for one in there if (one.site_id, one.item_id) in wanted]


def _hide(balance: Balance, lost: Decimal) -> int:
    """Count what will be lost as taken, so that a displaced claim does not choose it again."""
    enough = Balance.objects.filter(pk=balance.pk, condition="usable", on_hand__gte=F("reserved") + lost)
    return enough.update(reserved=F("reserved") + lost)


def issue(
    *, by: Caller, reservation_id: uuid.UUID, occurred_at: datetime.datetime, quantity: Decimal | None = None
) -> list[Movement]:
    """The fitter takes what is reserved: it leaves the shelf from exactly those lots.

    Raises `WrongReservationState`, `LotOutOfDate` where a lot's last day has passed, `InvalidValue`.
    """
    claim = _locked(reservation_id)
    if claim.state != State.HARD:
        raise _wrong_state(claim, "issued")
    wanted = claim.quantity - claim.issued if quantity is None else quantity
    if not 0 < wanted <= claim.quantity - claim.issued:
        raise InvalidValue(
            f"{claim.quantity - claim.issued:f} of the reservation can still be issued.",
            remedy="Take at most that.",
            pointer="#/quantity",
        )
    held = list(Allocation.objects.filter(reservation=claim).select_related("balance__lot").order_by("id"))
    _refuse_out_of_date(held, occurred_at.date())
    lock_balances([key_of(one.balance) for one in held])
    entries = []
    for one in sorted(held, key=lambda each: (each.balance.lot.expires_on or datetime.date.max, str(each.pk))):
        take = min(wanted, one.quantity - one.issued)
        if take <= 0:
            continue
        wanted -= take
        Allocation.objects.filter(pk=one.pk).update(issued=F("issued") + take)
        Balance.objects.filter(pk=one.balance_id).update(reserved=F("reserved") - take)
        entries.append(_issue_of(claim, one.balance, take, occurred_at))
    movements = post_movements(by=by, entries=entries)
    # Of the entries, not of the movements: where the shelf was counted since, the ledger adds what answers them.
    done = claim.issued - sum((one.quantity for one in entries), Decimal(0))
    Reservation.objects.filter(pk=claim.pk).update(
        issued=done, state=State.ISSUED if done == claim.quantity else State.HARD
    )
    claim.refresh_from_db()
    tell_claim("reservation.issued", claim, by)
    return movements


def _issue_of(claim: Reservation, balance: Balance, quantity: Decimal, occurred_at: datetime.datetime) -> Entry:
    return Entry(
        kind=MovementKind.ISSUE,
        site_id=balance.site_id,
        item_id=balance.item_id,
        lot_id=balance.lot_id,
        bin_id=balance.bin_id,
        quantity=-quantity,
        occurred_at=occurred_at,
        job_id=claim.job_id,
        job_number=claim.job_number,
    )


def _refuse_out_of_date(held: Sequence[Allocation], day: datetime.date) -> None:
    for one in held:
        until = one.balance.lot.expires_on
        if until is not None and until < day and one.issued < one.quantity:
            raise LotOutOfDate(
                f"Lot {one.balance.lot.number} could be fitted until {until}.",
                remedy="Reserve again: another lot in date is chosen if there is one.",
                lot=one.balance.lot.number,
                expires_on=until.isoformat(),
            )


def balances_for(claim: Reservation) -> dict[BalanceKey, Balance]:
    """What lies usable of the claimed item at its site, locked, with the lots."""
    there = Balance.objects.filter(
        site_id=claim.site_id, item_id=claim.item_id, condition="usable", on_hand__gt=0
    ).select_related("lot")
    # The lots are read before anything is locked: others wait from then on.
    lots = {key_of(one): one.lot for one in there}
    balances = lock_balances(lots)
    for key, one in balances.items():
        one.lot = lots[key]
    return balances


def choose(balances: Iterable[Balance], quantity: Decimal, on: datetime.date) -> Found:
    """Which lots a claim would take for a day, and what would be short."""
    return allocate(
        lots=[
            LotStock(
                key=key_of(one),
                lot_number=one.lot.number,
                usable_until=one.lot.expires_on,
                received_on=one.lot.received_on,
                free=one.on_hand - one.reserved,
            )
            for one in balances
        ],
        quantity=quantity,
        on=on,
    )


def _refusal(by: Caller, claim: Reservation, found: Found) -> InsufficientStock:
    return InsufficientStock(
        f"{plain(found.short)} of {plain(claim.quantity)} short: nothing more is free and in date on "
        f"{claim.need_date}.",
        remedy="Ask for a transfer, wait for the next receipt, or move the job.",
        item=str(claim.item_id),
        passed_over=[
            {
                "lot": one.lot_number,
                "expires_on": one.usable_until.isoformat() if one.usable_until else None,
                "reason": one.reason,
            }
            for one in found.passed_over
        ],
        alternatives=alternatives(by, item_id=claim.item_id, site_id=claim.site_id, on=claim.need_date),
        next_receipt=next_receipt(item_id=claim.item_id, site_id=claim.site_id),
    )


def let_go(claim: Reservation) -> None:
    """Free the lots a claim holds, except what was issued of them."""
    held = list(Allocation.objects.filter(reservation=claim, issued__lt=F("quantity")).select_related("balance"))
    lock_balances([key_of(one.balance) for one in held])
    for one in held:
        left = one.quantity - one.issued
        Balance.objects.filter(pk=one.balance_id).update(reserved=F("reserved") - left)
        if one.issued:
            Allocation.objects.filter(pk=one.pk).update(quantity=one.issued)
        else:
            Allocation.objects.filter(pk=one.pk).delete()


def _locked(reservation_id: uuid.UUID) -> Reservation:
    claim = Reservation.objects.select_for_update(no_key=True).filter(pk=reservation_id).first()
    if claim is None:
        raise NotThere("The reservation is not here.", remedy="Read the job's reservations again.")
    return claim


def _wrong_state(claim: Reservation, what: str) -> WrongReservationState:
    return WrongReservationState(
        f"The reservation of job {claim.job_number} is {claim.state}; it cannot be {what} now.",
        remedy="Read the job again and see what is possible.",
        state=claim.state,
    )


def tell_claim(kind: str, claim: Reservation, by: Caller | None, **facts: Any) -> None:
    """Record what became of a claim."""
    record_change(
        kind,
        noun="reservation",
        noun_id=claim.pk,
        version=claim.version,
        site_id=claim.site_id,
        by=by,
        body={
            "job": claim.job_number,
            "item": claim.item_id,
            "quantity": claim.quantity,
            "issued": claim.issued,
            "need_date": claim.need_date,
            "state": claim.state,
            **facts,
        },
    )
