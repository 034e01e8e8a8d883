"""What the store records by hand: receipts without an order, issues, losses, moves between bins, quarantine."""

import datetime
import uuid
from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal

from django.db import transaction

from assets.access import require_role
from assets.queries.sites import bin_at, default_bins
from kits.models import Condition, Movement, MovementKind, Reservation
from kits.operations.count_settings import open_discrepancy
from kits.operations.lots import LotWanted, ensure_lots
from kits.operations.movements import Entry, keys_of, losses_of, post_movements
from kits.operations.reservations import displace, still_stranded
from kits.queries.items import item_for
from kits.queries.stock import on_hand_of
from kits.refusals import InsufficientStock
from services.api.identifiers import new_id
from services.api.refusals import InvalidValue
from services.identity.callers import Caller

KEEPERS = ("stores", "integrator", "admin")


@dataclass(frozen=True)
class StockEntry:
    """One thing that happened on a shelf. ``quantity`` is what was moved, positive; a count's difference is signed.

    An issue that ``happened`` is never refused for want of stock: what the book lacks becomes a discrepancy.
    """

    kind: str
    site_id: uuid.UUID
    item_id: uuid.UUID
    lot: str
    quantity: Decimal
    occurred_at: datetime.datetime
    bin: str = ""
    to_bin: str = ""
    condition: str = Condition.USABLE
    cure_date: datetime.date | None = None
    reason: str = ""
    id: uuid.UUID | None = None
    happened: bool = False


@transaction.atomic(savepoint=False)
def record_entry(*, by: Caller, entry: StockEntry) -> list[Movement]:
    """Record what happened at a site where the caller keeps stock; a loss frees what was reserved of it first.

    Nothing is posted, and the answer is empty, where an issue happened of which the book knows nothing. Raises
    `InsufficientStock`, `InvalidValue`, `NotThere`, `NotAllowed`, `CureDateMissing`.
    """
    require_role(by, entry.site_id, *KEEPERS, what="The site")
    item_for(entry.item_id)
    if entry.quantity == 0 or (entry.quantity < 0 and entry.kind != MovementKind.COUNT_ADJUSTMENT):
        raise InvalidValue(
            "The quantity must be above zero.",
            remedy="Give what was moved; only a count's difference may be negative.",
            pointer="#/quantity",
        )
    bin_id = _bin(entry.site_id, entry.bin, "#/bin")
    wanted = LotWanted(entry.item_id, entry.lot, entry.occurred_at.date(), entry.cure_date)
    lot = ensure_lots([wanted], by=by)[wanted.item_id, wanted.number]
    entries = _SHAPES[entry.kind](entry, lot.pk, bin_id)
    stranded: list[Reservation] = []
    if entry.kind == MovementKind.ISSUE and entry.happened:
        entries = _as_far_as_the_book_goes(by, entry, entries[0])
    elif entry.kind != MovementKind.ISSUE and (losses := losses_of(entries)):
        stranded = displace(by=by, losses=losses, besides=keys_of(entries))
    if not entries:
        return []
    try:
        posted = post_movements(by=by, entries=entries)
    except InsufficientStock as refused:
        raise InsufficientStock(
            refused.detail, remedy=refused.remedy, pointer="#/quantity", **dict(refused.facts)
        ) from refused
    still_stranded(by=by, claims=stranded)
    return posted


def _as_far_as_the_book_goes(by: Caller, entry: StockEntry, issue: Entry) -> list[Entry]:
    """The issue as far as the book knows of stock, taken from jobs where it must; the rest is kept as a discrepancy."""
    losses = losses_of([issue])
    if not losses:
        return [issue]
    ((key, lost),) = losses.items()
    there = on_hand_of(key)
    taken = min(lost, there)
    if taken:
        displace(by=by, losses={key: taken})
    if taken < lost:
        open_discrepancy(
            by=by,
            site_id=entry.site_id,
            item_id=entry.item_id,
            lot_id=issue.lot_id,
            quantity=lost - taken,
            occurred_at=entry.occurred_at,
            reason=entry.reason,
        )
    return [replace(issue, quantity=-taken)] if taken else []


def _bin(site_id: uuid.UUID, code: str, pointer: str) -> uuid.UUID:
    found = bin_at(site_id, code) if code else default_bins({site_id}).get(site_id)
    if found is None:
        raise InvalidValue(
            f"The site has no bin {code}." if code else "The site has no default bin.",
            remedy="Name one of the site's bins.",
            pointer=pointer,
        )
    return found


def _entry(entry: StockEntry, lot_id: uuid.UUID, bin_id: uuid.UUID, sign: int, **other: object) -> Entry:
    fields: dict[str, object] = {
        "kind": entry.kind,
        "site_id": entry.site_id,
        "item_id": entry.item_id,
        "lot_id": lot_id,
        "bin_id": bin_id,
        "condition": entry.condition,
        "quantity": sign * entry.quantity,
        "occurred_at": entry.occurred_at,
        "reason": entry.reason,
        **other,
    }
    if entry.id is not None and "id" not in other:
        fields["id"] = entry.id
    return Entry(**fields)  # type: ignore[arg-type]


def _comes_in(entry: StockEntry, lot_id: uuid.UUID, bin_id: uuid.UUID) -> list[Entry]:
    return [_entry(entry, lot_id, bin_id, 1)]


def _goes_out(entry: StockEntry, lot_id: uuid.UUID, bin_id: uuid.UUID) -> list[Entry]:
    return [_entry(entry, lot_id, bin_id, -1)]


def _moves_bin(entry: StockEntry, lot_id: uuid.UUID, bin_id: uuid.UUID) -> list[Entry]:
    target = _bin(entry.site_id, entry.to_bin, "#/to_bin")
    if target == bin_id:
        raise InvalidValue("It lies in that bin already.", remedy="Name another bin.", pointer="#/to_bin")
    pair = new_id()
    return [
        _entry(entry, lot_id, bin_id, -1, pair=pair),
        _entry(entry, lot_id, target, 1, pair=pair, id=new_id()),
    ]


def _changes_condition(entry: StockEntry, lot_id: uuid.UUID, bin_id: uuid.UUID) -> list[Entry]:
    """``condition`` is the one it has afterwards."""
    before = Condition.QUARANTINED if entry.condition == Condition.USABLE else Condition.USABLE
    pair = new_id()
    return [
        _entry(entry, lot_id, bin_id, -1, pair=pair, condition=before),
        _entry(entry, lot_id, bin_id, 1, pair=pair, id=new_id()),
    ]


_SHAPES: dict[str, Callable[[StockEntry, uuid.UUID, uuid.UUID], list[Entry]]] = {
    MovementKind.RECEIPT: _comes_in,
    MovementKind.RETURN: _comes_in,
    MovementKind.COUNT_ADJUSTMENT: _comes_in,
    MovementKind.ISSUE: _goes_out,
    MovementKind.SCRAP: _goes_out,
    MovementKind.BIN_MOVE: _moves_bin,
    MovementKind.CONDITION_CHANGE: _changes_condition,
}
BY_HAND = tuple(str(one) for one in _SHAPES)
