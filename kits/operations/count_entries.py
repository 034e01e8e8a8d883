"""What was counted, line by line or all at once, as it comes from a phone, often later."""

import datetime
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from assets.queries.sites import bins_by_code, default_bins
from kits.models import Condition, Count, CountEntry, CountLine, Item
from kits.operations.counts import locked_count, require_state, tell_count
from kits.operations.lots import lots_known
from kits.queries.ageing import ageing_groups
from kits.queries.counts import COUNTERS, live_sheets_of
from kits.refusals import CureDateMissing
from kits.refusals_counts import AnotherPersonNeeded, WrongCountState
from services.api.refusals import AlreadyThere, InvalidValue
from services.identity.callers import Caller

# A phone's clock may run ahead of ours by so much.
CLOCK_SKEW = datetime.timedelta(minutes=5)


@dataclass(frozen=True)
class Counted:
    """How much lies there. Either a line of the sheet, or what was found: bin (else the default), item, lot."""

    quantity: Decimal
    counted_at: datetime.datetime | None = None
    line: int | None = None
    bin: str = ""
    item_id: uuid.UUID | None = None
    lot: str = ""
    condition: str = Condition.USABLE
    cure_date: datetime.date | None = None


@transaction.atomic(savepoint=False)
def enter_counted(*, by: Caller, count_id: uuid.UUID, entries: Sequence[Counted]) -> Count:
    """Enter quantities; a line that was entered in this round may be corrected, a settled one not. Of several entries
    for a line in a round the one that was counted last stands, in whatever order they arrive; all are kept.

    What was found and is not on the sheet gets a line of its own. Nothing here depends on what the book says, nor
    tells it. Raises `WrongCountState`, `AnotherPersonNeeded`, `InvalidValue`, `CureDateMissing`, `AlreadyThere` where
    what was found stands on another live sheet.
    """
    count = locked_count(by, count_id, *COUNTERS)
    require_state(count, "counted", Count.State.OPEN)
    now = timezone.now()
    lines = {one.line: one for one in CountLine.objects.filter(count=count)}
    by_shelf = {_shelf(one): one for one in lines.values()}
    fresh = _found(count, entries, by_shelf, max(lines, default=0))
    made, touched = [], {}
    for place, entry in enumerate(entries):
        pointer = f"#/entries/{place}"
        if entry.line is not None:
            line = lines.get(entry.line)
            if line is None:
                raise InvalidValue(
                    f"The sheet has no line {entry.line}.", remedy="Name a line of it.", pointer=f"{pointer}/line"
                )
        else:
            line = fresh[place]
        _may_enter(line, count, by, pointer)
        moment = _moment(entry, count, now, pointer)
        if line.state != CountLine.State.COUNTED or line.counted_at is None or moment >= line.counted_at:
            line.quantity, line.counted_at, line.counted_by_id = entry.quantity, moment, by.id
            line.state, line.round = CountLine.State.COUNTED, count.round
        touched[line.pk] = line
        made.append(CountEntry(line=line, round=count.round, quantity=entry.quantity, counted_at=moment, by_id=by.id))
    known = {one.pk for one in lines.values()}
    CountLine.objects.bulk_create([one for pk, one in touched.items() if pk not in known], batch_size=1000)
    CountLine.objects.bulk_update(
        [one for pk, one in touched.items() if pk in known],
        ["quantity", "counted_at", "counted_by", "state", "round"],
        batch_size=1000,
    )
    CountEntry.objects.bulk_create(made, batch_size=1000)
    Count.objects.filter(pk=count.pk).update(entries_made=count.entries_made + len(made))
    count.refresh_from_db()
    tell_count("count.entered", count, by, lines=sorted({one.line for one in touched.values()}))
    return count


Shelf = tuple[uuid.UUID, uuid.UUID, str, str]


def _shelf(line: CountLine) -> Shelf:
    return line.bin_id, line.item_id, line.lot_number, line.condition


def _may_enter(line: CountLine, count: Count, by: Caller, pointer: str) -> None:
    if line.state == CountLine.State.COUNTED and line.round != count.round:
        raise WrongCountState(
            f"Line {line.line} is settled; other lines are to be counted again.",
            remedy="Count the lines that are asked for; a line is sent back in the review.",
            pointer=f"{pointer}/line",
            state=count.state,
        )
    if line.not_by_id == by.id:
        raise AnotherPersonNeeded(
            f"You counted line {line.line} before; another person counts it again.",
            remedy="Leave it to somebody else.",
            pointer=f"{pointer}/line",
        )


def _moment(entry: Counted, count: Count, now: datetime.datetime, pointer: str) -> datetime.datetime:
    moment = entry.counted_at or now
    if not count.created_at <= moment <= now + CLOCK_SKEW:
        raise InvalidValue(
            "It must have been counted after the sheet was made, and not in the future.",
            remedy=f"Give when it was really counted; the sheet was made at {count.created_at:%Y-%m-%dT%H:%M:%SZ}.",
            pointer=f"{pointer}/counted_at",
        )
    return min(moment, now)


def _found(
    count: Count, entries: Sequence[Counted], by_shelf: dict[Shelf, CountLine], last: int
) -> dict[int, CountLine]:
    """By place among the entries the line of what names none, made where it is new."""
    asked = {place: entry for place, entry in enumerate(entries) if entry.line is None}
    if not asked:
        return {}
    homes, codes = default_bins([count.site_id]), bins_by_code([count.site_id])
    items = set(Item.objects.filter(pk__in={one.item_id for one in asked.values()}).values_list("id", flat=True))
    chosen: dict[int, CountLine] = {}
    fresh: dict[Shelf, tuple[int, CountLine]] = {}
    for place, entry in asked.items():
        pointer = f"#/entries/{place}"
        bin_id = codes.get((count.site_id, entry.bin)) if entry.bin else homes.get(count.site_id)
        if bin_id is None:
            raise InvalidValue(
                f"The site has no bin {entry.bin}." if entry.bin else "The site has no default bin.",
                remedy="Name one of the site's bins.",
                pointer=f"{pointer}/bin",
            )
        if entry.item_id is None or entry.item_id not in items:
            raise InvalidValue(
                "There is no such item.",
                remedy="Give a line of the sheet, or the item that was found.",
                pointer=f"{pointer}/item",
            )
        if not entry.lot:
            raise InvalidValue(
                "What was found needs its lot.", remedy="Read the lot on its pack.", pointer=f"{pointer}/lot"
            )
        shelf = (bin_id, entry.item_id, entry.lot, str(entry.condition))
        if shelf not in by_shelf:
            last += 1
            by_shelf[shelf] = CountLine(
                count=count, line=last, bin_id=bin_id, item_id=entry.item_id, lot_number=entry.lot,
                condition=entry.condition, cure_date=entry.cure_date, found=True,
            )  # fmt: skip
            fresh[shelf] = place, by_shelf[shelf]
        chosen[place] = by_shelf[shelf]
    _refuse_unknown(fresh, asked)
    return chosen


def _refuse_unknown(fresh: dict[Shelf, tuple[int, CountLine]], asked: dict[int, Counted]) -> None:
    """What stands on another sheet, and new lots of what ages that come without a cure date."""
    elsewhere = live_sheets_of(list(fresh)) if fresh else {}
    known = lots_known({(shelf[1], shelf[2]) for shelf in fresh})
    ages = ageing_groups({shelf[1] for shelf in fresh if (shelf[1], shelf[2]) not in known})
    for shelf, (place, line) in fresh.items():
        if shelf in elsewhere:
            raise AlreadyThere(
                f"That stands on count {elsewhere[shelf]}.", remedy="Count it there.", pointer=f"#/entries/{place}"
            )
        if asked[place].quantity == 0:
            raise InvalidValue(
                "Nothing was found of something that is not on the sheet.",
                remedy="Leave it out.",
                pointer=f"#/entries/{place}/quantity",
            )
        if ages.get(line.item_id) and (line.item_id, line.lot_number) not in known and line.cure_date is None:
            raise CureDateMissing(
                f"Lot {line.lot_number} is new here, and something in it ages.",
                remedy="Give the earliest cure date on its packs, for example 2025-08-14 or 3Q2025.",
                pointer=f"#/entries/{place}/cure_date",
            )
