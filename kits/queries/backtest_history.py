"""What was needed at a site in the past, as a replay of replenishment sees it."""

import datetime
import uuid

from django.db.models import Max, Min

from assets.models import Site
from kits.calculations.demand_history import HISTORY, MONTHS
from kits.calculations.demand_table import Claimed, DatedNeed, DemandTable, demand_table, unplanned
from kits.models import Item, Movement, Reservation
from kits.queries.movements import NEEDS


def site_with_code(code: str) -> Site | None:
    """A site by its code, in capitals or not."""
    return Site.objects.filter(code__iexact=code).first()


def site_demand(
    site_id: uuid.UUID, *, as_of: datetime.date, from_period: int, horizon_days: float
) -> DemandTable[uuid.UUID]:
    """Whole months of unplanned needs of all that was kept at the site, by item in the order of numbers. Four
    statements."""
    kept = {
        item: first.date()
        for item, first in Movement.objects.filter(site_id=site_id)
        .values_list("item_id")
        .annotate(first=Min("occurred_at"))
    }
    order = Item.objects.filter(pk__in=kept).order_by("number", "revision", "id").values_list("id", flat=True)
    kept = {item: kept[item] for item in order}
    return demand_table(
        unplanned(needs_of(site_id, as_of - HISTORY), _claims(site_id), horizon_days=horizon_days),
        kept,
        as_of=as_of,
        months=MONTHS,
        from_period=from_period,
    )


def needs_of(site_id: uuid.UUID, since: datetime.date) -> list[DatedNeed[uuid.UUID]]:
    """What was issued, less what came back, and what was built into kits of its parts, from a day on. A reversal is no
    return: it belongs to the day of what it reverses. One statement."""
    rows = (
        Movement.objects.filter(
            NEEDS,
            site_id=site_id,
            condition="usable",
            occurred_at__date__gte=since,
        )
        .order_by("item_id", "occurred_at", "id")
        .values_list("item_id", "occurred_at__date", "reverses__occurred_at__date", "quantity", "job_id")
    )
    return [DatedNeed(item, reversed_on or day, -quantity, job) for item, day, reversed_on, quantity, job in rows]


def _claims(site_id: uuid.UUID) -> dict[tuple[uuid.UUID, uuid.UUID], Claimed]:
    """Claims of each job on each item, given up ones left out: when the first was made and what day the last is for."""
    rows = (
        Reservation.objects.filter(site_id=site_id)
        .exclude(state="released")
        .order_by()
        .values_list("job_id", "item_id")
        .annotate(made=Min("created_at"), need=Max("need_date"))
    )
    return {(job, item): Claimed(made.date(), need) for job, item, made, need in rows}
