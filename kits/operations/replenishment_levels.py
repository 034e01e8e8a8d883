"""Keeping the levels of replenishment: only what changed is written."""

import datetime
import uuid
from decimal import Decimal
from typing import Any

import numpy as np

from kits.calculations.demand_arrays import PATTERNS, patterns
from kits.calculations.site_plan import NEVER_KEPT, SitePlan, methods_of
from kits.models import ReplenishmentLevel
from kits.queries.site_stock import SiteStock
from services.api.identifiers import new_id
from services.api.many_rows import copy_in, update_many

COLUMNS = (
    "id", "version", "site_id", "item_id", "reorder_point", "order_quantity", "pattern", "method", "mean_a_month",
    "fill_rate", "measure", "reached", "lead_time_days", "as_of",
)  # fmt: skip
FIGURES = COLUMNS[4:]
# A lead time learned anew each night is not written anew each night.
NOTICED_DAYS = 1.0


def keep_levels(site_id: uuid.UUID, stock: SiteStock, plan: SitePlan, day: datetime.date) -> int:
    """Write the levels that are new or differ from what is kept; how many. At most three statements."""
    kept, figures = stock.kept, stock.figures
    changed = (
        (kept["kept_level"] != plan.level)
        | (kept["kept_quantity"] != plan.usual.quantity)
        | (kept["kept_fill_rate"] != figures.fill_rate)
        | (kept["kept_by_cycle"] != figures.by_cycle)
        | (np.abs(kept["kept_lead_time"] - figures.lead_time_days) >= NOTICED_DAYS)
    )
    new = changed & (kept["kept_level"] == NEVER_KEPT)
    old = changed & ~new
    if new.any():
        copy_in(ReplenishmentLevel._meta.db_table, COLUMNS, _rows(site_id, stock, plan, day, new))
    if old.any():
        rows: list[dict[str, Any]] = [
            dict(zip(COLUMNS, row, strict=True)) for row in _rows(site_id, stock, plan, day, old)
        ]
        known = ReplenishmentLevel.objects.filter(site_id=site_id, item__id__among=[one["item_id"] for one in rows])
        ids = dict(known.values_list("item_id", "id"))
        update_many([ReplenishmentLevel(**(one | {"id": ids[one["item_id"]]})) for one in rows], FIGURES)
    return int(changed.sum())


def _rows(
    site_id: uuid.UUID, stock: SiteStock, plan: SitePlan, day: datetime.date, which: np.ndarray
) -> list[tuple[object, ...]]:
    places = np.flatnonzero(which)
    figures, found = stock.figures, plan.forecasts
    classes = patterns(figures.demand[:, places], found.months[places])
    methods = methods_of(found)
    return [
        (
            new_id(), 1, site_id, stock.items[place], int(plan.level[place]), int(plan.usual.quantity[place]),
            PATTERNS[classes[number]], methods[place], float(found.mean[place]),
            Decimal(repr(float(figures.fill_rate[place]))), "cycle" if figures.by_cycle[place] else "fill",
            float(plan.levels.fill_rate[place]),
            Decimal(repr(float(figures.lead_time_days[place]))), day,
        )
        for number, place in enumerate(places)
    ]  # fmt: skip
