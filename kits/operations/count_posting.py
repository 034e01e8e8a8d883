"""Posting a reviewed count: the ledger takes over what was found, once.

The rule. The book figure of a line is the sum of the movements that *happened* up to the moment at which the line was
counted, whenever they were recorded. The difference between what was counted and that figure is posted as happening at
that moment, so what moved between counting and posting is neither lost nor doubled. What happened before the count and
is recorded after the posting was seen by whoever counted; the ledger answers it with an opposite adjustment (see
`kits.operations.movements`). A shelf stands on one live sheet at a time, and is counted after its sheet was made, so no
two counts post the same difference.
"""

import uuid
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import F

from kits.calculations.counting import needs_second_person, worth
from kits.models import Balance, Count, CountLine, MovementKind, StockDiscrepancy
from kits.operations.counts import end_count, locked_count, require_state, require_version
from kits.operations.lots import LotWanted, ensure_lots, lots_known
from kits.operations.movements import BalanceKey, Entry, lock_balances, post_movements
from kits.operations.reservations import displace, still_stranded
from kits.queries.count_plan import settings_of
from kits.queries.counts import REVIEWERS, book_of
from kits.refusals import InsufficientStock
from kits.refusals_counts import AnotherPersonNeeded, CountContradicted
from services.api.refusals import Busy
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller

ZERO = Decimal(0)


@transaction.atomic(savepoint=False)
def post_count(*, by: Caller, count_id: uuid.UUID, expected_version: int, reason: str = "") -> Count:
    """Post what was counted: one count adjustment for each line that differs. What a loss takes from reserved lots is
    first reserved elsewhere or released, and the job is then no longer ready.

    Raises `WrongCountState` where it was posted or is not counted, `VersionChanged`, `AnotherPersonNeeded` where the
    caller counted a line whose difference is above the site's limit, `CountContradicted` where more left a shelf since
    than was counted there, `CureDateMissing`, `LotsDiffer`, `Busy`.
    """
    count = locked_count(by, count_id, *REVIEWERS)
    require_state(count, "posted", Count.State.COUNTED)
    require_version(count, expected_version)
    lines = list(CountLine.objects.filter(count=count).select_related("item").order_by("line"))
    keys = _shelves(by, count, lines)
    seen = book_of(count.pk)
    losses = {
        keys[one.pk]: seen[one.pk] - _counted(one) for one in lines if one.pk in keys and seen[one.pk] > _counted(one)
    }
    stranded = displace(by=by, losses=losses, besides=keys.values())
    balances = lock_balances(keys.values(), make=True)
    book = book_of(count.pk)
    if book != seen:
        raise Busy("Others are moving what was counted.", remedy="Nothing was posted; repeat the request.")
    for one in lines:
        one.book, one.difference = book[one.pk], _counted(one) - book[one.pk]
    _refuse_alone(by, count, lines)
    changed = [one for one in lines if one.difference]
    _refuse_contradicted(changed, keys, balances)
    CountLine.objects.bulk_update(lines, ["book", "difference"], batch_size=1000)
    _post(by, count, changed, keys)
    # What was found in another place may serve those who lost it here.
    stranded = still_stranded(by=by, claims=stranded)
    for one in lines:
        if one.pk in keys:
            Balance.objects.filter(pk=balances[keys[one.pk]].pk).update(counted_at=one.counted_at)
    end_count(
        "count.posted", count, by, Count.State.POSTED, reason,
        lines=len(lines), adjusted=[one.line for one in changed],
        jobs_without_stock=sorted(str(one.job_id) for one in stranded),
    )  # fmt: skip
    _settle(by, count, lines)
    return count


def _counted(line: CountLine) -> Decimal:
    return line.quantity if line.quantity is not None else ZERO


def _shelves(by: Caller, count: Count, lines: Sequence[CountLine]) -> dict[uuid.UUID, BalanceKey]:
    """The balance of each line; lots that were found and are new are made. A lot that nobody knows and of which nothing
    lies there has none."""
    lots = lots_known((one.item_id, one.lot_number) for one in lines)
    wanted = [
        LotWanted(one.item_id, one.lot_number, one.counted_at.date(), one.cure_date)
        for one in lines
        if (one.item_id, one.lot_number) not in lots or one.cure_date is not None
        if one.counted_at is not None and one.quantity
    ]
    lots |= ensure_lots(wanted, by=by) if wanted else {}
    return {
        one.pk: (
            count.site_id, one.item_id, lots[one.item_id, one.lot_number].pk, one.bin_id, one.condition
        )
        for one in lines
        if (one.item_id, one.lot_number) in lots
    }  # fmt: skip


def _refuse_alone(by: Caller, count: Count, lines: Sequence[CountLine]) -> None:
    settings = settings_of(count.site_id)
    own = [
        one.line
        for one in lines
        if one.counted_by_id == by.id
        and needs_second_person(
            one.difference or ZERO,
            worth(one.difference or ZERO, one.item.cost, one.item.currency),
            settings.value_limit,
            settings.currency,
        )
    ]
    if own:
        raise AnotherPersonNeeded(
            f"You counted {_named(own)}, and the difference is above the limit of the site.",
            remedy="Let somebody else of stores look at it and post it.",
            lines=own,
        )


def _refuse_contradicted(
    changed: Sequence[CountLine], keys: dict[uuid.UUID, BalanceKey], balances: dict[BalanceKey, Balance]
) -> None:
    wrong = [one.line for one in changed if balances[keys[one.pk]].on_hand + (one.difference or ZERO) < 0]
    if wrong:
        raise CountContradicted(
            f"More was taken since {_named(wrong)} was counted than was counted there.",
            remedy="Send that back to be counted again.",
            lines=wrong,
        )


def _post(by: Caller, count: Count, changed: Sequence[CountLine], keys: dict[uuid.UUID, BalanceKey]) -> None:
    entries = []
    for one in changed:
        site_id, item_id, lot_id, bin_id, condition = keys[one.pk]
        if one.counted_at is None or one.difference is None:
            continue
        entries.append(
            Entry(
                kind=MovementKind.COUNT_ADJUSTMENT,
                site_id=site_id,
                item_id=item_id,
                lot_id=lot_id,
                bin_id=bin_id,
                condition=condition,
                quantity=one.difference,
                occurred_at=one.counted_at,
                reason=f"count {count.number}, line {one.line}",
                count_line_id=one.pk,
            )
        )
    if not entries:
        return
    try:
        post_movements(by=by, entries=entries)
    except InsufficientStock as refused:
        raise CountContradicted(
            f"A loss would take what jobs hold: {refused.detail}",
            remedy="Release a reservation of it, or send the lines back to be counted again.",
            lines=[one.line for one in changed if (one.difference or ZERO) < 0],
        ) from refused


def _named(lines: Sequence[int]) -> str:
    return f"{'line' if len(lines) == 1 else 'lines'} {', '.join(map(str, lines))}"


def _settle(by: Caller, count: Count, lines: Sequence[CountLine]) -> None:
    """What was reported missing before it was counted is answered by what was counted."""
    reported = StockDiscrepancy.objects.select_for_update(no_key=True, of=("self",)).filter(
        site_id=count.site_id, item_id__in={one.item_id for one in lines}, settled_by=None
    )
    settled: list[StockDiscrepancy] = []
    for one in reported.annotate(lot_number=F("lot__number")).order_by("id"):
        number: Any = getattr(one, "lot_number", None)
        of_it = [
            line.counted_at
            for line in lines
            if line.item_id == one.item_id and (number is None or number == line.lot_number)
        ]
        if of_it and all(moment is not None and moment >= one.occurred_at for moment in of_it):
            settled.append(one)
    StockDiscrepancy.objects.filter(pk__in=[one.pk for one in settled]).update(settled_by=count)
    record_changes(
        [
            Recorded(
                "discrepancy.settled", "discrepancy", one.pk, one.version + 1, one.site_id,
                {"item": one.item_id, "count": count.number},
            )
            for one in settled
        ],
        by=by,
    )  # fmt: skip
