"""Reading what installed pumps are expected to need."""

import calendar
import datetime
import uuid
from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import F, Min

from kits.models import ExpectedOverhauls, FitResult, Movement, Reservation
from services.api.rows import plain_rows

SERVED = ("fits", "fits-with-notes")


@dataclass(frozen=True)
class ExpectedDemand:
    """Of one item at a site from a day on over a horizon: installed pumps' mean and variance of what is not planned,
    planned jobs, and a month's walk-in demand. ``as_of``: the day it was worked out."""

    mean: float
    variance: float
    certain: int
    pumps: int
    weight_of_history: float
    walk_in_mean: float
    walk_in_variance: float
    as_of: datetime.date


def expected_overhauls(site_id: uuid.UUID, as_of: datetime.date, horizon: int) -> dict[uuid.UUID, ExpectedDemand]:
    """Demand of a site's items over ``horizon`` days from ``as_of`` on, by item; empty where none was worked out.
    Within a month evenly; beyond the last month the last year's pace goes on. One statement."""
    rows = (
        ExpectedOverhauls.objects.filter(site_id=site_id)
        .order_by("item_id", "month")
        .values(
            "item_id", "month", "mean_until", "variance_until", "planned", "pumps", "weight_of_history",
            "walk_in_mean", "walk_in_variance", "as_of",
        )
    )  # fmt: skip
    months: dict[uuid.UUID, list[dict[str, Any]]] = {}
    for row in rows:
        months.setdefault(row["item_id"], []).append(dict(row))
    return {item: _over(found, as_of, horizon) for item, found in months.items()}


def _over(months: list[dict[str, Any]], as_of: datetime.date, horizon: int) -> ExpectedDemand:
    first, last = months[0], months[-1]
    worked_out = first["as_of"]
    start = max((as_of - worked_out).days, 0)
    end = start + horizon
    last_day = worked_out + datetime.timedelta(days=end)
    certain = sum(datetime.date.fromisoformat(job["day"]) < last_day for one in months for job in one["planned"])
    means = [_at(months, worked_out, "mean_until", one) for one in (start, end)]
    variances = [_at(months, worked_out, "variance_until", one) for one in (start, end)]
    return ExpectedDemand(
        means[1] - means[0],
        max(variances[1] - variances[0], 0.0),
        certain,
        first["pumps"],
        last["weight_of_history"],
        first["walk_in_mean"],
        first["walk_in_variance"],
        worked_out,
    )


def _at(months: list[dict[str, Any]], worked_out: datetime.date, name: str, days: int) -> float:
    """What has come together so many days on."""
    before, since = 0.0, 0
    for one in months:
        end = (end_of_month(one["month"]) - worked_out).days
        if days <= end:
            return before + (one[name] - before) * (days - since) / max(end - since, 1)
        before, since = one[name], end
    return before + before / max(since, 1) * (days - since)


def end_of_month(month: datetime.date) -> datetime.date:
    """The first day after a month."""
    return month.replace(day=1) + datetime.timedelta(days=calendar.monthrange(month.year, month.month)[1])


def expected_rows(site_id: uuid.UUID, *, item_id: uuid.UUID | None = None) -> list[dict[str, Any]]:
    """Rows of a site, by item and month, with the item's number. One statement; callers have passed the gate."""
    found = ExpectedOverhauls.objects.filter(site_id=site_id)
    if item_id is not None:
        found = found.filter(item_id=item_id)
    names = [one.attname for one in ExpectedOverhauls._meta.concrete_fields]
    return plain_rows(
        found.order_by("item__number", "item__revision", "month").values(
            *names, number=F("item__number"), revision=F("item__revision")
        )
    )


def kits_that_fit(class_ids: Collection[uuid.UUID]) -> dict[uuid.UUID, list[tuple[uuid.UUID, str]]]:
    """Released kits that fit build classes, by class: id and number, in the order of number and revision. One
    statement."""
    rows = (
        FitResult.objects.filter(
            build_class_id__in=list(class_ids), verdict__in=SERVED, kit__state="released", kit__item__is_active=True
        )
        .order_by("build_class_id", "kit__item__number", "kit__item__revision", "kit_id")
        .values_list("build_class_id", "kit_id", "kit__item__number")
    )
    found: dict[uuid.UUID, list[tuple[uuid.UUID, str]]] = {}
    for build_class, kit, number in rows:
        found.setdefault(build_class, []).append((kit, number))
    return found


def walk_in_needs(site_id: uuid.UUID, since: datetime.date) -> dict[uuid.UUID, list[tuple[datetime.date, Decimal]]]:
    """What kits were issued for at a site without any job, by item and day, less what came back. One statement."""
    rows = Movement.objects.filter(
        site_id=site_id, kind__in=["issue", "return"], condition="usable", job_id=None, item__kind="kit",
        occurred_at__date__gte=since,
    ).values_list("item_id", "occurred_at__date", "quantity")  # fmt: skip
    found: dict[uuid.UUID, list[tuple[datetime.date, Decimal]]] = {}
    for item_id, day, quantity in rows.order_by("item_id", "occurred_at"):
        found.setdefault(item_id, []).append((day, -quantity))
    return found


def kits_kept_since(site_id: uuid.UUID) -> dict[uuid.UUID, datetime.date]:
    """The day on which each kit first moved at a site. One statement."""
    rows = (
        Movement.objects.filter(site_id=site_id, item__kind="kit")
        .values_list("item_id")
        .annotate(first=Min("occurred_at"))
    )
    return {item_id: first.date() for item_id, first in rows}


def claims_of_jobs(site_id: uuid.UUID) -> set[tuple[uuid.UUID, uuid.UUID]]:
    """(job, item) of claims at a site that are not issued yet. One statement."""
    rows = Reservation.objects.filter(site_id=site_id, state__in=["soft", "hard"], quantity__gt=F("issued"))
    return set(rows.values_list("job_id", "item_id"))
