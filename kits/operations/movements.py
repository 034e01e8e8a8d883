"""The ledger: the only writer of movements and balances.

A balance is the sum of its movements and is kept in their transaction. Rows are locked in one order - site, item,
lot, bin, condition - whoever comes, so two operations never wait for each other in a circle.

What was counted stays counted. A movement that happened before a shelf was counted, and is recorded after that count
was posted, was seen by whoever counted: it is written down, and in the same transaction an equal and opposite count
adjustment at the moment of the count, so the balance stays what was counted, with whatever moved since. A reversal
takes its effect when what it reverses happened: it corrects the book, not the shelf.
"""

import datetime
import uuid
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.db import connection
from django.utils import timezone

from assets.calculations.written_numbers import plain
from assets.queries.sites import default_bins
from kits.models import Balance, Condition, Movement, MovementKind
from kits.refusals import InsufficientStock
from services.api.identifiers import new_id
from services.api.many_rows import insert_many, update_many
from services.api.refusals import InvalidValue
from services.api.request_context import request_id
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller

BalanceKey = tuple[uuid.UUID, uuid.UUID, uuid.UUID, uuid.UUID, str]


@dataclass(frozen=True)
class Entry:
    """One movement to post. ``quantity`` is signed: what the balance gains. Without a bin the site's default counts."""

    kind: str
    site_id: uuid.UUID
    item_id: uuid.UUID
    lot_id: uuid.UUID
    quantity: Decimal
    occurred_at: datetime.datetime
    condition: str = Condition.USABLE
    bin_id: uuid.UUID | None = None
    reason: str = ""
    job_id: uuid.UUID | None = None
    job_number: str = ""
    order_line_id: uuid.UUID | None = None
    transfer_line_id: uuid.UUID | None = None
    reverses_id: uuid.UUID | None = None
    pair: uuid.UUID | None = None
    count_line_id: uuid.UUID | None = None
    external_id: str | None = None
    id: uuid.UUID = field(default_factory=new_id)


def post_movements(*, by: Caller, entries: Sequence[Entry]) -> list[Movement]:
    """Write movements and move their balances, all or none; callers have passed the gate and hold a transaction.

    The movements of the entries come first in the answer, then what a later count asks for in return (see above).
    Raises `InsufficientStock` where a balance, or what of it is not reserved, would fall below zero, and
    `InvalidValue` where a site has no default bin.
    """
    placed = _placed(entries)
    gains: dict[BalanceKey, Decimal] = defaultdict(Decimal)
    for bin_id, one in placed:
        gains[one.site_id, one.item_id, one.lot_id, bin_id, one.condition] += one.quantity
    balances = lock_balances(gains, make=True)
    for bin_id, one in _counted_since(placed, balances):
        placed.append((bin_id, one))
        gains[one.site_id, one.item_id, one.lot_id, bin_id, one.condition] += one.quantity
    for key, gain in gains.items():
        _move(balances[key], gain)
    update_many(list(balances.values()), ["on_hand", "updated_at"])
    movements = [_movement(one, bin_id, by) for bin_id, one in placed]
    insert_many(movements)
    record_changes([_told(one) for one in movements], by=by)
    return movements


def losses_of(entries: Sequence[Entry]) -> dict[BalanceKey, Decimal]:
    """What the balances would lose by these entries, above zero; what a posted count saw already is no loss.

    Nothing is locked. At most three queries, none where everything comes in. Raises `InvalidValue` where a site has no
    default bin.
    """
    if all(one.quantity > 0 for one in entries):
        return {}
    placed = _placed(entries)
    found = Balance.objects.filter(
        site_id__in={one.site_id for one in entries},
        item_id__in={one.item_id for one in entries},
        lot_id__in={one.lot_id for one in entries},
    )
    placed += _counted_since(placed, {key_of(one): one for one in found})
    gains: dict[BalanceKey, Decimal] = defaultdict(Decimal)
    for bin_id, one in placed:
        gains[one.site_id, one.item_id, one.lot_id, bin_id, one.condition] += one.quantity
    return {key: -gain for key, gain in gains.items() if gain < 0}


def lock_balances(keys: Iterable[BalanceKey], *, make: bool = False) -> dict[BalanceKey, Balance]:
    """The balances of these keys and no others, locked until the transaction ends, in the one order; missing ones made
    if asked.

    An operation that calls this twice names all it will need the first time: what comes later may stand before what it
    holds already. Missing ones are made before anything is locked, so whoever waits for another's new balance holds
    nothing meanwhile, and whoever locks sees every balance there is.
    """
    wanted = sorted(set(keys), key=lambda key: tuple(map(str, key)))
    if not wanted:
        return {}
    columns = [list(column) for column in zip(*wanted, strict=True)]
    if make:
        with connection.cursor() as cursor:
            cursor.execute(MAKE, [[new_id() for _ in wanted], *columns])
    return {key_of(one): one for one in Balance.objects.raw(LOCK, columns)}


MAKE = """
INSERT INTO kits_balance (id, site_id, item_id, lot_id, bin_id, condition, on_hand, reserved)
SELECT w.*, 0, 0
FROM unnest(%s::uuid[], %s::uuid[], %s::uuid[], %s::uuid[], %s::uuid[], %s::text[])
    AS w(id, site, item, lot, bin, condition)
WHERE NOT EXISTS (
    SELECT FROM kits_balance b
    WHERE (b.site_id, b.item_id, b.lot_id, b.bin_id, b.condition) = (w.site, w.item, w.lot, w.bin, w.condition)
)
ON CONFLICT DO NOTHING
"""
LOCK = """
SELECT b.* FROM kits_balance b
JOIN unnest(%s::uuid[], %s::uuid[], %s::uuid[], %s::uuid[], %s::text[]) AS w(site, item, lot, bin, condition)
    ON (b.site_id, b.item_id, b.lot_id, b.bin_id, b.condition) = (w.site, w.item, w.lot, w.bin, w.condition)
ORDER BY b.site_id, b.item_id, b.lot_id, b.bin_id, b.condition
FOR NO KEY UPDATE OF b
"""


def key_of(balance: Balance) -> BalanceKey:
    """What a balance is kept under."""
    return balance.site_id, balance.item_id, balance.lot_id, balance.bin_id, balance.condition


def keys_of(entries: Sequence[Entry]) -> list[BalanceKey]:
    """The balances that entries move. Raises `InvalidValue` where a site has no default bin."""
    return [(one.site_id, one.item_id, one.lot_id, bin_id, one.condition) for bin_id, one in _placed(entries)]


def _placed(entries: Sequence[Entry]) -> list[tuple[uuid.UUID, Entry]]:
    homeless = {one.site_id for one in entries if one.bin_id is None}
    homes = default_bins(homeless) if homeless else {}
    if homeless - set(homes):
        raise InvalidValue(
            "The site has no default bin.", remedy="Make one of its bins the default, or name a bin.", pointer="#/bin"
        )
    return [(one.bin_id or homes[one.site_id], one) for one in entries]


def _counted_since(
    placed: Sequence[tuple[uuid.UUID, Entry]], balances: dict[BalanceKey, Balance]
) -> list[tuple[uuid.UUID, Entry]]:
    """What takes back the effect of entries that a posted count saw already. No query where nothing was counted."""
    late = []
    for bin_id, one in placed:
        balance = balances.get((one.site_id, one.item_id, one.lot_id, bin_id, one.condition))
        if one.count_line_id is None and balance is not None and balance.counted_at is not None:
            late.append((balance.counted_at, bin_id, one))
    origins: dict[uuid.UUID | None, tuple[str, datetime.datetime]] = {}
    if reversed_ids := [one.reverses_id for _, _, one in late if one.reverses_id]:
        rows = Movement.objects.filter(pk__in=reversed_ids).values_list("id", "kind", "occurred_at")
        origins = {pk: (kind, at) for pk, kind, at in rows}
    found = []
    for counted_at, bin_id, one in late:
        kind, at = origins.get(one.reverses_id, ("", one.occurred_at))
        if at > counted_at or kind == MovementKind.COUNT_ADJUSTMENT:
            continue
        answer = Entry(
            kind=MovementKind.COUNT_ADJUSTMENT,
            site_id=one.site_id,
            item_id=one.item_id,
            lot_id=one.lot_id,
            condition=one.condition,
            quantity=-one.quantity,
            occurred_at=counted_at,
            reason=f"counted at {counted_at:%Y-%m-%d %H:%M} UTC, after what was recorded late happened",
        )
        found.append((bin_id, answer))
    return found


def _move(balance: Balance, gain: Decimal) -> None:
    after = balance.on_hand + gain
    if gain < 0 and after < balance.reserved:
        free = balance.on_hand - balance.reserved
        raise InsufficientStock(
            f"{plain(free)} free of {plain(balance.on_hand)} on hand; {plain(-gain)} asked for.",
            remedy="Take less, take another lot, or release a reservation first.",
            free=str(free),
            on_hand=str(balance.on_hand),
            reserved=str(balance.reserved),
        )
    balance.on_hand = after
    balance.updated_at = timezone.now()


def _movement(entry: Entry, bin_id: uuid.UUID, by: Caller) -> Movement:
    return Movement(
        id=entry.id,
        kind=entry.kind,
        site_id=entry.site_id,
        bin_id=bin_id,
        item_id=entry.item_id,
        lot_id=entry.lot_id,
        condition=entry.condition,
        quantity=entry.quantity,
        occurred_at=entry.occurred_at,
        by_id=by.id,
        reason=entry.reason,
        job_id=entry.job_id,
        job_number=entry.job_number,
        order_line_id=entry.order_line_id,
        transfer_line_id=entry.transfer_line_id,
        reverses_id=entry.reverses_id,
        pair=entry.pair,
        count_line_id=entry.count_line_id,
        external_id=entry.external_id,
        request_id=request_id.get()[:64],
    )


def _told(movement: Movement) -> Recorded:
    return Recorded(
        "stock.moved",
        "movement",
        movement.pk,
        1,
        movement.site_id,
        {
            "kind": movement.kind,
            "item": movement.item_id,
            "lot": movement.lot_id,
            "quantity": movement.quantity,
            "condition": movement.condition,
            "occurred_at": movement.occurred_at,
            "job": movement.job_number,
        },
    )
