"""What holds of the stores whatever happens, asked of the database."""

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db import connection
from django.db.models import F, Q, Sum

from kits.models import Allocation, Balance, Count, Movement, Reservation, Transfer, TransferDiscrepancy, TransferLot
from kits.queries.movements import ledger_differences
from kits.queries.transfers import transfer_differences
from services.changes.models import Change

ZERO = Decimal(0)


@dataclass
class Ended:
    """What was seen closed, with the state it was in."""

    seen: dict[Any, str] = field(default_factory=dict)


def holds(ended: Ended) -> None:
    """Everything."""
    assert ledger_differences() == []
    assert transfer_differences() == []
    nothing_is_negative_or_oversold()
    claims_hold_what_they_say()
    goods_on_the_way_are_accounted_for()
    what_is_closed_stays_closed(ended)
    every_change_was_told()


def nothing_is_negative_or_oversold() -> None:
    wrong = Q(on_hand__lt=0) | Q(reserved__lt=0) | Q(reserved__gt=F("on_hand"))
    assert not Balance.objects.filter(wrong).exists()
    assert not Balance.objects.filter(condition="quarantined", reserved__gt=0).exists()


def claims_hold_what_they_say() -> None:
    """A hard claim holds lots of its item at its site, in date on its day, for all that was not issued; no other claim
    holds anything."""
    held: dict[Any, Decimal] = {}
    issued: dict[Any, Decimal] = {}
    for one in Allocation.objects.select_related("reservation", "balance__lot"):
        claim, balance = one.reservation, one.balance
        issued[claim.pk] = issued.get(claim.pk, ZERO) + one.issued
        if one.quantity == one.issued:
            continue
        held[claim.pk] = held.get(claim.pk, ZERO) + one.quantity - one.issued
        assert (balance.site_id, balance.item_id, balance.condition) == (claim.site_id, claim.item_id, "usable")
        assert balance.lot.expires_on is None or balance.lot.expires_on >= claim.need_date
    for claim in Reservation.objects.all():
        left = claim.quantity - claim.issued
        assert held.get(claim.pk, ZERO) == (left if claim.state == "hard" else 0), claim.state
        assert issued.get(claim.pk, ZERO) == claim.issued
        assert claim.state != "issued" or left == 0
        assert claim.state not in {"soft", "hard"} or left > 0


def goods_on_the_way_are_accounted_for() -> None:
    """Of each lot that left: what came, what is under way, or what was written off with a reason."""
    noted = {
        (line, lot): total
        for line, lot, total in TransferDiscrepancy.objects.values_list("line_id", "lot_id")
        .annotate(total=Sum("quantity"))
        .order_by()
    }
    for one in TransferLot.objects.select_related("line__transfer"):
        off = noted.get((one.line_id, one.lot_id), ZERO)
        state = one.line.transfer.state
        if state == Transfer.State.CLOSED_SHORT:
            assert one.received - one.sent == off
        else:
            assert off == max(one.received - one.sent, ZERO)
        assert state != Transfer.State.RECEIVED or one.received >= one.sent
        assert state != Transfer.State.CANCELLED or (one.sent, one.received) == (0, 0)


def what_is_closed_stays_closed(ended: Ended) -> None:
    now = {
        (noun, pk): state
        for noun, model in (("claim", Reservation), ("transfer", Transfer), ("count", Count))
        for pk, state in model.objects.values_list("pk", "state")
        if state in {"issued", "released", "cancelled", "closed-short", "posted"}
    }
    assert ended.seen.items() <= now.items()
    ended.seen = now


UNTOLD = """
SELECT 'movement', m.id FROM kits_movement m
WHERE (SELECT count(*) FROM changes_change c WHERE c.noun = 'movement' AND c.noun_id = m.id AND c.by_id = m.by_id) <> 1
UNION ALL
SELECT noun, id FROM (
    SELECT 'reservation' AS noun, id, version FROM kits_reservation
    UNION ALL SELECT 'transfer', id, version FROM kits_transfer
    UNION ALL SELECT 'count', id, version FROM kits_count
    UNION ALL SELECT 'discrepancy', id, version FROM kits_stockdiscrepancy
) thing
WHERE version IS DISTINCT FROM (
    SELECT max(c.noun_version) FROM changes_change c
    WHERE c.noun = thing.noun AND c.noun_id = thing.id AND c.by_id IS NOT NULL
)
"""


def every_change_was_told() -> None:
    """Each movement once, of everything else the version it has now, with who did it."""
    with connection.cursor() as cursor:
        cursor.execute(UNTOLD)
        assert cursor.fetchall() == []
    assert Change.objects.filter(kind="stock.moved").count() == Movement.objects.count()
