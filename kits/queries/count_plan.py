"""What a site should count when, and how it counts."""

import datetime
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Sum, Value
from django.db.models.functions import Coalesce

from assets.access import narrow
from assets.calculations.written_numbers import plain
from assets.queries.sites import site_for
from kits.calculations.counting import (
    Countable,
    CountingClass,
    YearlyUse,
    counting_classes,
    counts_a_day,
    plan_counts,
)
from kits.models import Balance, CountSettings, Item, Movement, MovementKind, StockDiscrepancy
from kits.queries.movements import demand
from services.api.rows import plain_rows
from services.identity.callers import Caller

# A shelf that was emptied within so many days and not counted since is worth a look: it costs nothing to count (common
# practice, no source).
EMPTIED_DAYS = 90
YEAR = datetime.timedelta(days=365)


@dataclass(frozen=True)
class SettingsOfSite:
    """How a site counts; as it stands where nobody chose otherwise."""

    site: uuid.UUID
    a_times_a_year: int = 12
    b_times_a_year: int = 4
    c_times_a_year: int = 1
    value_limit: Decimal = Decimal(0)
    currency: str = ""
    version: int = 1

    def times_a_year(self) -> dict[str, int]:
        """By class."""
        return {"A": self.a_times_a_year, "B": self.b_times_a_year, "C": self.c_times_a_year}


def settings_of(site_id: uuid.UUID) -> SettingsOfSite:
    """How a site counts. One query."""
    found = (
        CountSettings.objects.filter(site_id=site_id)
        .values("a_times_a_year", "b_times_a_year", "c_times_a_year", "value_limit", "currency", "version")
        .first()
    )
    return SettingsOfSite(site_id, **found) if found else SettingsOfSite(site_id)


def settings_for(by: Caller, site_id: Any) -> SettingsOfSite:
    """How a granted site counts. Raises `NotThere`."""
    return settings_of(site_for(by, site_id).pk)


def discrepancies(*, by: Caller) -> QuerySet[StockDiscrepancy]:
    """What was found missing at granted sites."""
    return narrow(StockDiscrepancy.objects.all(), by)


def shelves_to_count(site_id: uuid.UUID, now: datetime.datetime) -> QuerySet[Balance]:
    """Shelves of a site that hold something, or were emptied lately and not counted since."""
    lately = now - datetime.timedelta(days=EMPTIED_DAYS)
    taken = Movement.objects.filter(
        occurred_at__gt=Coalesce(OuterRef("counted_at"), Value(lately)),
        site_id=OuterRef("site_id"),
        item_id=OuterRef("item_id"),
        lot_id=OuterRef("lot_id"),
        bin_id=OuterRef("bin_id"),
        condition=OuterRef("condition"),
        quantity__lt=0,
    ).exclude(kind=MovementKind.COUNT_ADJUSTMENT)
    return Balance.objects.filter(site_id=site_id).filter(
        Q(on_hand__gt=0) | (Q(updated_at__gte=lately) & Exists(taken))
    )


def count_plan(by: Caller, site_id: Any, *, now: datetime.datetime, until: datetime.date) -> dict[str, Any]:
    """The items of a site to count from today on, each with its class, its day and why. Six queries."""
    site, on = site_for(by, site_id), now.date()
    settings = settings_of(site.pk)
    last, emptied = _shelves(site.pk, now)
    missing = _missing(site.pk)
    classes, items = _classes(site.pk, set(last) | emptied | set(missing), on)
    countable = []
    for item_id in items:
        events = []
        if item_id in missing:
            events.append(f"{plain(missing[item_id])} less was found than the book says")
        if item_id in emptied:
            events.append("the balance hit zero")
        countable.append(Countable(item_id, classes[item_id].letter, last.get(item_id), tuple(events)))
    times = settings.times_a_year()
    planned = plan_counts(countable, times, on=on, until=until)
    letters = [one.letter for one in countable]
    return {
        "site": site.pk,
        "site_code": site.code,
        "on": on,
        "until": until,
        "items": {letter: letters.count(letter) for letter in times},
        "counts_a_year": {letter: letters.count(letter) * each for letter, each in times.items()},
        "counts_a_day": counts_a_day(letters, times) if letters else 0,
        "planned": [
            items[one.item]
            | {
                "class": one.letter,
                "class_because": classes[one.item].why,
                "last_counted_on": last.get(one.item),
                "due_on": one.due_on,
                "planned_on": one.planned_on,
                "reasons": list(one.reasons),
            }
            for one in planned
        ],
    }


def _shelves(
    site_id: uuid.UUID, now: datetime.datetime
) -> tuple[dict[uuid.UUID, datetime.date | None], set[uuid.UUID]]:
    """By item the day since which all of it is counted, and the items of which the last was taken lately.

    What came in after an item was counted is no reason to count it: it was counted when it came.
    """
    held: dict[uuid.UUID, list[tuple[datetime.datetime | None, datetime.date]]] = {}
    emptied = set()
    rows = shelves_to_count(site_id, now).values_list("item_id", "on_hand", "counted_at", "lot__received_on")
    for item_id, on_hand, counted_at, received_on in rows:
        if on_hand:
            held.setdefault(item_id, []).append((counted_at, received_on))
        else:
            emptied.add(item_id)
    last: dict[uuid.UUID, datetime.date | None] = {}
    for item_id, shelves in held.items():
        moments = [moment for moment, _ in shelves if moment is not None]
        newest = max(moments, default=None)
        never = newest is None or any(moment is None and came < newest.date() for moment, came in shelves)
        last[item_id] = None if never else min(moments).date()
    return last, emptied - set(held)


def _missing(site_id: uuid.UUID) -> dict[uuid.UUID, Decimal]:
    return dict(
        StockDiscrepancy.objects.filter(site_id=site_id, settled_by=None)
        .values_list("item_id")
        .annotate(total=Sum("quantity"))
    )


def _classes(
    site_id: uuid.UUID, countable: Iterable[uuid.UUID], on: datetime.date
) -> tuple[dict[uuid.UUID, CountingClass], dict[uuid.UUID, dict[str, Any]]]:
    """Classes over all that lies at the site or was used there in a year; the rows of what can be counted."""
    asked = set(countable)
    used = {item: sum((each for _, each in days), Decimal(0)) for item, days in demand(site_id, on - YEAR).items()}
    items = {
        one["item"]: one
        for one in plain_rows(
            Item.objects.filter(pk__in=asked | set(used))
            .order_by("number", "revision")
            .values("number", "revision", "name", "cost", "currency", "criticality", item=F("id"))
        )
    }
    classes = counting_classes(
        YearlyUse(
            pk, max(used.get(pk, Decimal(0)), Decimal(0)), one.pop("cost"), one.pop("currency"), one.pop("criticality")
        )
        for pk, one in items.items()
    )
    return classes, {pk: one for pk, one in items.items() if pk in asked}
