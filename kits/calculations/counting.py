"""Which items are counted how often, which are due, and on which working day."""

import datetime
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

ZERO = Decimal(0)
# An item is A while the dearer ones before it hold less than so much of the value used in a year, then B (common
# practice, no source).
SHARE_OF_A, SHARE_OF_B = Decimal("0.80"), Decimal("0.95")
# Working days in a year (common practice, no source).
WORKING_DAYS_A_YEAR = 250
DAYS_A_YEAR = 365


@dataclass(frozen=True)
class YearlyUse:
    """What was used of an item in a year. ``cost`` is of one unit; None where it is not known."""

    item: uuid.UUID
    used: Decimal
    cost: Decimal | None
    currency: str = ""
    criticality: str = "essential"


@dataclass(frozen=True)
class CountingClass:
    """``letter`` counts; ``by_value`` is what the value alone would give, and ``why`` says it in words."""

    letter: str
    by_value: str
    value: Decimal | None
    why: str


def counting_classes(uses: Iterable[YearlyUse]) -> dict[uuid.UUID, CountingClass]:
    """Counting classes by yearly usage value: the share of the value that stands *before* an item decides, so the first
    is always A; what nobody used is C; equal values are ordered by id.

    Amounts of different currencies are never added: each currency is ranked for itself. What is used and has no cost
    is B until it has one, and what is vital is never below B (both common practice, no source).
    """
    every = list(uses)
    found: dict[uuid.UUID, CountingClass] = {}
    for currency in sorted({one.currency for one in every}):
        ranked = [one for one in every if one.currency == currency and one.cost is not None and one.used > 0]
        ranked.sort(key=lambda one: (-_value(one), str(one.item)))
        total = sum((_value(one) for one in ranked), ZERO)
        before = ZERO
        for one in ranked:
            letter = "A" if before < SHARE_OF_A * total or not before else "B" if before < SHARE_OF_B * total else "C"
            share = f"{before / total:.0%}" if total else "0%"
            found[one.item] = _raised(one, letter, _value(one), f"{share} of the value used in a year stands before it")
            before += _value(one)
    for one in every:
        if one.item in found:
            continue
        if one.used > 0:
            found[one.item] = _raised(one, "B", None, "used, and its cost is not known")
        else:
            found[one.item] = _raised(one, "C", ZERO, "not used for a year")
    return found


def _value(use: YearlyUse) -> Decimal:
    return use.used * (use.cost or ZERO)


def _raised(use: YearlyUse, letter: str, value: Decimal | None, why: str) -> CountingClass:
    if use.criticality == "vital" and letter == "C":
        return CountingClass("B", letter, value, f"{why}; vital, so never below B")
    return CountingClass(letter, letter, value, why)


@dataclass(frozen=True)
class Countable:
    """An item of a site as the plan sees it. ``events`` are sentences: why it should be counted at once."""

    item: uuid.UUID
    letter: str
    last_counted: datetime.date | None
    events: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlannedCount:
    """``due_on`` is the first day on which it should be counted, ``planned_on`` the working day on which it fits."""

    item: uuid.UUID
    letter: str
    due_on: datetime.date
    planned_on: datetime.date
    reasons: tuple[str, ...]


def counts_a_day(letters: Iterable[str], times_a_year: Mapping[str, int]) -> int:
    """How many items must be counted on each working day so that all are counted as often as their class asks."""
    counts = sum(times_a_year[one] for one in letters)
    return max(1, int((Decimal(counts) / WORKING_DAYS_A_YEAR).to_integral_value(ROUND_CEILING)))


def plan_counts(
    items: Sequence[Countable], times_a_year: Mapping[str, int], *, on: datetime.date, until: datetime.date
) -> list[PlannedCount]:
    """The items to count from ``on`` to ``until``, each on a working day (Monday to Friday).

    What an event asks for comes on the first working day, whatever the number. Everything else comes on its due day or
    the first working day after it that has room: no day gets more than an even share of the year's counts, as long as
    events leave room. In the order: planned day, events, the longest overdue, class, id.
    """
    room = counts_a_day((one.letter for one in items), times_a_year)
    asked = []
    for one in items:
        due, reasons = _due(one, times_a_year[one.letter], on)
        asked.append((not one.events, due, one.letter, str(one.item), one, reasons))
    taken: dict[datetime.date, int] = {}
    planned = []
    full_until = on
    for calm, due, letter, key, one, reasons in sorted(asked, key=lambda each: each[:4]):
        day = working_day(max(due, on))
        if calm:
            day = max(day, full_until)
            while taken.get(day, 0) >= room:
                day = full_until = working_day(day + datetime.timedelta(days=1))
        taken[day] = taken.get(day, 0) + 1
        if day <= until:
            planned.append(((day, calm, due, letter, key), PlannedCount(one.item, letter, due, day, reasons)))
    return [each for _, each in sorted(planned, key=lambda pair: pair[0])]


def _due(one: Countable, times: int, on: datetime.date) -> tuple[datetime.date, tuple[str, ...]]:
    if one.last_counted is None:
        due, why = on, "never counted here"
    else:
        due = one.last_counted + datetime.timedelta(days=DAYS_A_YEAR // times)
        often = "once" if times == 1 else f"{times} times"
        why = f"class {one.letter} is counted {often} a year; last on {one.last_counted}"
    if one.events:
        return min(due, on), (*one.events, *((why,) if due <= on else ()))
    return due, (why,)


def working_day(day: datetime.date) -> datetime.date:
    """The day itself, or the Monday after it where it lies on a weekend."""
    return day + datetime.timedelta(days=max(0, 7 - day.weekday()) if day.weekday() > 4 else 0)


@dataclass(frozen=True)
class Worth:
    """What a difference is worth: signed; None where the item's cost is not known."""

    amount: Decimal | None
    currency: str


def worth(difference: Decimal, cost: Decimal | None, currency: str) -> Worth:
    """A difference at the item's cost; kits and parts are counted exactly, so any difference counts."""
    return Worth(None if cost is None else difference * cost, currency if cost is not None else "")


def needs_second_person(difference: Decimal, value: Worth, limit: Decimal, limit_currency: str) -> bool:
    """Whether a difference is large enough that one person alone does not settle it (common practice, no source).

    Without a limit every difference is. Where the cost is not known, or in another currency than the limit's, it
    cannot be held against the limit, and the careful answer is yes.
    """
    if not difference:
        return False
    if not limit or value.amount is None or value.currency != limit_currency:
        return True
    return abs(value.amount) > limit
