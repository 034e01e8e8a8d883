"""Count sheets: made, filled in by whoever counts, handed in, sent back, cancelled. Posting has a file of its own."""

import datetime
import uuid
from collections.abc import Sequence
from typing import Any

from django.db import connection, transaction
from django.utils import timezone

from assets.access import require_role
from assets.queries.sites import bins_by_code
from kits.calculations.counting import needs_second_person, worth
from kits.models import Balance, Count, CountLine
from kits.queries.count_plan import count_plan, settings_of, shelves_to_count
from kits.queries.counts import COUNTERS, LIVE, REVIEWERS, book_of, count_for, live_sheets_of
from kits.refusals_counts import LinesUncounted, WrongCountState
from services.api.refusals import AlreadyThere, InvalidValue
from services.api.versions import version_changed
from services.changes.recording import record_change
from services.identity.callers import Caller

State = Count.State
# A sheet that one person can work through; larger stores make several.
MOST_LINES = 2000


@transaction.atomic(savepoint=False)
def make_count(
    *,
    by: Caller,
    site_id: uuid.UUID,
    item_ids: Sequence[uuid.UUID] | None = None,
    bins: Sequence[str] | None = None,
    planned_until: datetime.date | None = None,
    blind: bool = True,
    id: uuid.UUID | None = None,
) -> Count:
    """A sheet of everything that lies at a site, or only of some items, of some bins (by code), or of what the plan
    wants counted up to a day. What stands on another live sheet already is left to that.

    Raises `InvalidValue` where there is nothing to count or more than one sheet holds, `AlreadyThere`, `NotAllowed`,
    `NotThere`.
    """
    require_role(by, site_id, *REVIEWERS, what="The site")
    if sum(one is not None for one in (item_ids, bins, planned_until)) > 1:
        raise InvalidValue(
            "Items, bins and planned_until choose in different ways.", remedy="Give one of them.", pointer="#/items"
        )
    now = timezone.now()
    shelves = shelves_to_count(site_id, now)
    if bins is not None:
        known = bins_by_code([site_id])
        for place, code in enumerate(bins):
            if (site_id, code) not in known:
                raise InvalidValue(
                    f"The site has no bin {code}.", remedy="Name its bins by code.", pointer=f"#/bins/{place}"
                )
        shelves = shelves.filter(bin_id__in=[known[site_id, code] for code in bins])
    if planned_until is not None:
        planned = count_plan(by, site_id, now=now, until=planned_until)["planned"]
        item_ids = [one["item"] for one in planned]
    if item_ids is not None:
        shelves = shelves.filter(item_id__in=item_ids)
    lines = _lines(shelves.select_related("lot").order_by("bin__code", "item__number", "lot__number", "condition"))
    if id is not None and Count.objects.filter(pk=id).exists():
        raise AlreadyThere("A count has this id already.", remedy="Make a new id.", pointer="#/id")
    made = Count.objects.create(
        **({"id": id} if id else {}), number=_next_number(), site_id=site_id, blind=blind, made_by_id=by.id
    )
    for number, line in enumerate(lines, 1):
        line.count, line.line = made, number
    CountLine.objects.bulk_create(lines, batch_size=1000)
    tell_count("count.made", made, by, lines=len(lines))
    return made


def _lines(shelves: Any) -> list[CountLine]:
    balances: list[Balance] = list(shelves[: 2 * MOST_LINES + 1])
    elsewhere = live_sheets_of([(one.bin_id, one.item_id, one.lot.number, one.condition) for one in balances])
    lines = [
        CountLine(bin_id=one.bin_id, item_id=one.item_id, lot_number=one.lot.number, condition=one.condition)
        for one in balances
        if (one.bin_id, one.item_id, one.lot.number, one.condition) not in elsewhere
    ]
    if not lines:
        raise InvalidValue(
            f"All of it is being counted already, on {', '.join(sorted(set(elsewhere.values())))}."
            if elsewhere
            else "Nothing that was chosen lies at the site.",
            remedy="End that count first, or choose something else to count.",
        )
    if len(lines) > MOST_LINES:
        raise InvalidValue(
            f"That is more than the {MOST_LINES} lines of a sheet.",
            remedy="Make a sheet for some bins or items, or for what the plan wants counted.",
            pointer="#/bins",
        )
    return lines


def _next_number() -> str:
    with connection.cursor() as cursor:
        cursor.execute("SELECT nextval('kits_count_number')")
        return f"SC-{cursor.fetchone()[0]:06d}"


@transaction.atomic(savepoint=False)
def submit_count(*, by: Caller, count_id: uuid.UUID, expected_version: int) -> Count:
    """Everything is counted: the sheet goes to review.

    Where the first count of a line differs from the book by more than the site's limit, the sheet stays open and asks
    for that line once more, from another person (common practice, no source); what the book says is not told.
    Raises `LinesUncounted`, `WrongCountState`, `VersionChanged`.
    """
    count = locked_count(by, count_id, *COUNTERS)
    require_state(count, "submitted", State.OPEN)
    require_version(count, expected_version)
    lines = list(CountLine.objects.filter(count=count).select_related("item").order_by("line"))
    left = [one.line for one in lines if one.state != CountLine.State.COUNTED]
    if left:
        raise LinesUncounted(
            f"{len(left)} of {len(lines)} lines are not counted yet.",
            remedy="Count them; enter 0 where nothing lies.",
            lines=left,
        )
    settings, book = settings_of(count.site_id), book_of(count.pk)
    again = []
    for one in lines:
        difference = (one.quantity or 0) - book[one.pk]
        value = worth(difference, one.item.cost, one.item.currency)
        first = one.not_by_id is None
        if first and needs_second_person(difference, value, settings.value_limit, settings.currency):
            again.append(one)
    _ask_again(again, "Another person counts it once more.")
    fields: dict[str, Any] = {"state": State.COUNTED, "submitted_by_id": by.id, "submitted_at": timezone.now()}
    if again:
        fields |= {"state": State.OPEN, "round": count.round + 1}
    Count.objects.filter(pk=count.pk).update(**fields)
    return _told("count.submitted", count, by, recount=[one.line for one in again])


@transaction.atomic(savepoint=False)
def send_back_count(
    *, by: Caller, count_id: uuid.UUID, expected_version: int, lines: Sequence[int], reason: str
) -> Count:
    """Some lines are to be counted again, by another person than before. Raises `WrongCountState`, `VersionChanged`,
    `InvalidValue` for a line that is not on the sheet."""
    count = locked_count(by, count_id, *REVIEWERS)
    require_state(count, "sent back", State.COUNTED)
    require_version(count, expected_version)
    known = {one.line: one for one in CountLine.objects.filter(count=count)}
    for place, line in enumerate(lines):
        if line not in known:
            raise InvalidValue(
                f"The sheet has no line {line}.", remedy="Name lines of the sheet.", pointer=f"#/lines/{place}"
            )
    _ask_again([known[line] for line in dict.fromkeys(lines)], reason)
    Count.objects.filter(pk=count.pk).update(state=State.OPEN, round=count.round + 1)
    return _told("count.sent-back", count, by, recount=sorted(set(lines)), reason=reason)


def _ask_again(lines: Sequence[CountLine], reason: str) -> None:
    for one in lines:
        one.state, one.not_by_id, one.recount_reason = CountLine.State.RECOUNT, one.counted_by_id, reason
    CountLine.objects.bulk_update(lines, ["state", "not_by", "recount_reason"], batch_size=1000)


@transaction.atomic(savepoint=False)
def cancel_count(*, by: Caller, count_id: uuid.UUID, expected_version: int, reason: str) -> Count:
    """Nothing is posted, and what was entered is kept. Raises `WrongCountState`, `VersionChanged`."""
    count = locked_count(by, count_id, *REVIEWERS)
    require_state(count, "cancelled", *LIVE)
    require_version(count, expected_version)
    return end_count("count.cancelled", count, by, State.CANCELLED, reason)


def end_count(kind: str, count: Count, by: Caller, state: str, reason: str, **facts: Any) -> Count:
    """Close a sheet for good. Its lines are closed first: afterwards nothing of it can change."""
    CountLine.objects.filter(count=count).update(live=False)
    Count.objects.filter(pk=count.pk).update(
        state=state, decided_by_id=by.id, decided_at=timezone.now(), decision_reason=reason
    )
    return _told(kind, count, by, **facts)


def locked_count(by: Caller, count_id: uuid.UUID, *roles: str) -> Count:
    """A sheet that nobody else changes until the transaction ends. Raises `NotThere`, `NotAllowed`."""
    count_for(by, count_id, *roles)
    return Count.objects.select_for_update(no_key=True).get(pk=count_id)


def require_version(count: Count, expected_version: int) -> None:
    """Raises `VersionChanged` where the sheet is not what was seen."""
    if count.version != expected_version:
        raise version_changed("The count", count.version)


def require_state(count: Count, what: str, *states: str) -> None:
    """Raises `WrongCountState`."""
    if count.state not in states:
        raise WrongCountState(
            f"Count {count.number} is {count.state}; to be {what} it must be {' or '.join(states)}.",
            remedy="Read it again and see what is possible.",
            state=count.state,
        )


def _told(kind: str, count: Count, by: Caller, **facts: Any) -> Count:
    count.refresh_from_db()
    tell_count(kind, count, by, **facts)
    return count


def tell_count(kind: str, count: Count, by: Caller, **facts: Any) -> None:
    """Record what became of a sheet; never what the book says."""
    record_change(
        kind,
        noun="count",
        noun_id=count.pk,
        version=count.version,
        site_id=count.site_id,
        by=by,
        body={"number": count.number, "state": count.state, **facts},
    )
