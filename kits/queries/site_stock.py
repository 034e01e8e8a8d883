"""What replenishment of a site looks at, gathered into arrays in a fixed number of statements however many items there
are.

The items of a run stand in a table of their own for as long as the transaction lasts; what is read beside them comes by
their place in it.
"""

import datetime
import uuid
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import numpy as np
from django.db import connection
from numpy.typing import NDArray

from kits.calculations.demand_arrays import THOUSANDTHS, Ints
from kits.calculations.demand_table import carried_forward
from kits.calculations.expected_receipts import ExpectedReceipt
from kits.calculations.job_size_arrays import Jobs, jobs_of_takers
from kits.calculations.replenishment_working import thousandths
from kits.calculations.site_plan import NEVER_KEPT, REVIEW_DAYS, SiteFigures
from kits.calculations.stock_position import dying_thousandths
from kits.queries.installed_demand import installed_until
from kits.queries.late_orders import receipts_to_come
from kits.queries.transfers import Place, counted_transfers, lost_on_the_way
from services.api.copy_out import read_arrays

MONTHS = 36
HISTORY = datetime.timedelta(days=(MONTHS + 1) * 31)
# Days are counted from here; a day that never comes stands far behind all others.
FIRST_DAY = datetime.date(2000, 1, 1)
NO_DAY = 10**6

ITEMS = f"""
CREATE TEMPORARY TABLE planned_items ON COMMIT DROP AS
WITH here AS (
    SELECT item_id, min(occurred_at) AS moved FROM kits_movement WHERE site_id = %(site)s GROUP BY item_id
    UNION ALL
    SELECT item_id, NULL FROM kits_reservation WHERE site_id = %(site)s AND state IN ('soft', 'hard')
), known AS (
    SELECT item_id, min(moved) AS moved FROM here GROUP BY item_id
), terms AS (
    SELECT DISTINCT ON (t.item_id) t.*
    FROM kits_supplierterms t JOIN known USING (item_id) JOIN kits_supplier s ON s.id = t.supplier_id
    JOIN kits_item o ON o.id = t.item_id
    ORDER BY t.item_id, t.currency <> o.currency, t.currency, t.price, t.lead_time_days, s.code
), ageing AS (
    SELECT p.item_id, g.initial_years
    FROM kits_part p JOIN known USING (item_id) JOIN kits_storagegroup g ON g.id = p.storage_group_id
    UNION ALL
    SELECT l.kit_id, g.initial_years
    FROM kits_kitline l JOIN known k ON k.item_id = l.kit_id JOIN kits_part p ON p.item_id = l.part_id
    JOIN kits_storagegroup g ON g.id = p.storage_group_id
), keeps AS (
    SELECT item_id, min(initial_years) AS years FROM ageing GROUP BY item_id
)
SELECT (row_number() OVER (ORDER BY i.number, i.revision, i.id) - 1)::int4 AS place, i.id AS item_id,
       i.kind = 'part' AS is_part, t.supplier_id, t.id AS terms_id,
       coalesce((k.moved AT TIME ZONE 'UTC')::date, %(today)s) AS first_moved,
       coalesce(w.mean_days, t.lead_time_days)::float8 AS lead_time_days,
       coalesce(w.sd_days, t.lead_time_sd_days)::float8 AS lead_time_sd_days,
       greatest(1, ceil(t.minimum))::int8 AS minimum, greatest(1, ceil(t.multiple))::int8 AS multiple,
       t.price::float8, t.order_cost::float8, g.fill_rate::float8,
       g.measure = 'cycle' AS by_cycle, coalesce(keeps.years, 0)::int4 AS keeps_years,
       coalesce(l.reorder_point, {NEVER_KEPT})::int4 AS kept_level,
       coalesce(l.order_quantity, 0)::int4 AS kept_quantity,
       coalesce(l.fill_rate, 0)::float8 AS kept_fill_rate, coalesce(l.lead_time_days, 0)::float8 AS kept_lead_time,
       coalesce(l.measure = 'cycle', false) AS kept_by_cycle,
       ceil(coalesce(w.mean_days, t.lead_time_days))::int4 + {REVIEW_DAYS} AS horizon, w.id AS learned_id
FROM known k
JOIN kits_item i ON i.id = k.item_id AND i.is_active
JOIN terms t ON t.item_id = i.id
JOIN kits_servicetarget g ON g.criticality = i.criticality
LEFT JOIN kits_learnedleadtime w ON w.supplier_id = t.supplier_id AND w.item_id = i.id
LEFT JOIN keeps ON keeps.item_id = i.id
LEFT JOIN kits_replenishmentlevel l ON l.site_id = %(site)s AND l.item_id = i.id
"""
ITEM_COLUMNS = {
    "place": "int4", "item_id": "uuid", "is_part": "bool", "supplier_id": "uuid", "first_moved": "int4",
    "lead_time_days": "float8", "lead_time_sd_days": "float8", "minimum": "int8", "multiple": "int8", "price": "float8",
    "order_cost": "float8", "fill_rate": "float8", "by_cycle": "bool", "keeps_years": "int4", "kept_level": "int4",
    "kept_quantity": "int4", "kept_fill_rate": "float8", "kept_lead_time": "float8", "kept_by_cycle": "bool",
}  # fmt: skip

# A need was foreseen if its claim was there a horizon before it: then an order of its own could still have been placed.
# It belongs to the day it was needed, also where the job had to wait. What is built into kits is needed of its parts.
# Who took it is the job, or a movement by itself; what is reversed was not taken.
DEMAND = """
WITH claim AS (
    SELECT job_id, item_id, min(created_at) AS asked_at, max(need_date) AS need_date
    FROM kits_reservation WHERE site_id = %(site)s AND state <> 'released' GROUP BY job_id, item_id
), need AS MATERIALIZED (
    SELECT p.place, -m.quantity AS quantity, p.horizon, c.asked_at,
           least((CASE WHEN m.reverses_id IS NULL THEN m.occurred_at ELSE (
               SELECT o.occurred_at FROM kits_movement o WHERE o.id = m.reverses_id
           ) END AT TIME ZONE 'UTC')::date, c.need_date) AS day,
           coalesce(m.job_id, m.reverses_id, m.id) AS taker
    FROM kits_movement m
    JOIN planned_items p ON p.item_id = m.item_id
    LEFT JOIN claim c ON c.job_id = m.job_id AND c.item_id = m.item_id
    WHERE m.site_id = %(site)s AND m.condition = 'usable' AND m.occurred_at >= %(since)s
      AND (m.kind IN ('issue', 'return') OR (m.kind = 'kit-build' AND p.is_part))
)
SELECT place, (day - %(first)s)::int4 AS day, coalesce((asked_at AT TIME ZONE 'UTC')::date <= day - horizon, false),
       (quantity * 1000)::int8, taker
FROM need
"""
SHELVES = f"""
SELECT p.place, coalesce(l.expires_on - %(first)s, {NO_DAY})::int4 AS until,
       (sum(b.on_hand) * 1000)::int8 AS on_hand, (sum(b.reserved) * 1000)::int8 AS reserved
FROM kits_balance b JOIN planned_items p USING (item_id) JOIN kits_lot l ON l.id = b.lot_id
WHERE b.site_id = %(site)s AND b.condition = 'usable' AND b.on_hand > 0
GROUP BY 1, 2 ORDER BY 1, 2
"""
CLAIMS = """
SELECT p.place, (r.need_date - %(first)s)::int4 AS day, (sum(r.quantity - r.issued) * 1000)::int8 AS quantity
FROM kits_reservation r JOIN planned_items p USING (item_id)
WHERE r.site_id = %(site)s AND r.state = 'soft' AND r.quantity > r.issued
GROUP BY 1, 2 ORDER BY 1, 2
"""
DATED = {"place": "int4", "day": "int4", "quantity": "int8"}
Arrays = dict[str, NDArray[Any]]
Receipts = dict[uuid.UUID, list[ExpectedReceipt]]


@dataclass(frozen=True)
class SiteStock:
    """The items of a run with the figures of their plan; ``kept`` holds what stands in their levels so far,
    ``receipts`` what suppliers owe and ``lost`` which transfers are no longer counted on, by item."""

    items: list[uuid.UUID]
    suppliers: NDArray[Any]
    figures: SiteFigures
    kept: Arrays
    receipts: Receipts
    lost: dict[uuid.UUID, list[tuple[str, int]]]

    def supplier(self, place: int) -> uuid.UUID:
        """Whom the item would be bought from."""
        return uuid.UUID(bytes=self.suppliers[place].tobytes())

    def bought_from(self, supplier: uuid.UUID) -> NDArray[np.bool_]:
        """Which items would be bought from a supplier, (items,)."""
        halves = np.frombuffer(self.suppliers.tobytes(), ">u8").reshape(-1, 2)
        same: NDArray[np.bool_] = (halves == np.frombuffer(supplier.bytes, ">u8")).all(axis=1)
        return same


def site_stock(site_id: uuid.UUID, as_of: datetime.date) -> SiteStock:
    """Every item that ever moved or is claimed at the site and can be bought, by number. Twelve statements, one more
    where an order is late; must run inside a transaction."""
    asked: dict[str, Any] = {"site": site_id, "today": as_of, "first": FIRST_DAY, "since": as_of - HISTORY}
    with connection.cursor() as cursor:
        cursor.execute("DROP TABLE IF EXISTS pg_temp.planned_items")
        cursor.execute(ITEMS, asked)
        cursor.execute("ANALYZE planned_items")
    items = read_arrays(
        "SELECT place, item_id, is_part, supplier_id, (first_moved - %(first)s)::int4, lead_time_days, "
        "lead_time_sd_days, minimum, multiple, price, order_cost, fill_rate, by_cycle, keeps_years, kept_level, "
        "kept_quantity, kept_fill_rate, kept_lead_time, kept_by_cycle FROM planned_items ORDER BY place",
        asked,
        **ITEM_COLUMNS,
    )
    count = len(items["place"])
    horizon = (as_of - FIRST_DAY).days + np.ceil(items["lead_time_days"]).astype(np.int64) + REVIEW_DAYS
    shelves = read_arrays(SHELVES, asked, place="int4", until="int4", on_hand="int8", reserved="int8")
    claims = read_arrays(CLAIMS, asked, **DATED)
    ids = [uuid.UUID(bytes=one.tobytes()) for one in items["item_id"]]
    receipts = receipts_to_come(site_id, None, as_of=as_of)
    moved = counted_transfers([site_id], None, as_of=as_of)
    places = {item: place for place, item in enumerate(ids)}
    promised = np.zeros(count, np.int64)
    for (_, item), quantity in moved.promised.items():
        if item in places:
            promised[places[item]] = thousandths(quantity)
    in_date = shelves["until"] >= (as_of - FIRST_DAY).days
    usable = _total(shelves["place"], np.where(in_date, shelves["on_hand"], 0), count)
    free = np.where(in_date, np.maximum(shelves["on_hand"] - shelves["reserved"], 0), 0)
    due = claims["day"] <= horizon[claims["place"]]
    gone = np.minimum(promised, _total(shelves["place"], free, count))
    needs = read_arrays(DEMAND, asked, place="int4", day="int4", foreseen="bool", quantity="int8", taker="uuid")
    demand, planned, first = _months(needs, items, as_of, count)
    keeps = items["keeps_years"]
    figures = SiteFigures(
        demand=demand,
        planned=planned,
        first=first,
        lead_time_days=items["lead_time_days"],
        lead_time_sd_days=items["lead_time_sd_days"],
        minimum=items["minimum"],
        multiple=items["multiple"],
        price=items["price"],
        order_cost=items["order_cost"],
        fill_rate=items["fill_rate"],
        by_cycle=items["by_cycle"],
        keeps_years=np.where(keeps > 0, keeps, np.inf),
        usable=usable - gone,
        dying=dying_thousandths(
            (shelves["place"], shelves["until"], free),
            promised=gone,
            claims=(claims["place"][due], claims["day"][due], claims["quantity"][due]),
            horizon=horizon,
        ),
        on_order=_on_order(receipts, moved.coming, places, horizon),
        held_for_jobs=_total(shelves["place"], shelves["reserved"], count),
        claimed=_total(claims["place"], np.where(due, claims["quantity"], 0), count),
        kept_level=items["kept_level"].astype(np.int64),
        group=items["is_part"].astype(np.int64),
        jobs=_jobs(needs, count),
        installed=installed_until(site_id, as_of, horizon - (as_of - FIRST_DAY).days),
    )
    return SiteStock(ids, items["supplier_id"], figures, items, receipts, lost_on_the_way(site_id, as_of))


def _on_order(
    receipts: Receipts,
    moved: list[tuple[Place, datetime.date, Decimal]],
    places: dict[uuid.UUID, int],
    horizon: Ints,
) -> Ints:
    """What suppliers still owe and other sites send and is counted on by each item's horizon, in thousandths."""
    coming = [
        (item, one.counted_on, one.line.quantity)
        for item, of_item in receipts.items()
        for one in of_item
        if one.counted_on is not None
    ]
    found = np.zeros(len(places), np.int64)
    for item, day, quantity in [*coming, *((item, day, quantity) for (_, item), day, quantity in moved)]:
        place = places.get(item)
        if place is not None and (day - FIRST_DAY).days <= horizon[place]:
            found[place] += thousandths(quantity)
    return found


def _total(place: Ints, quantity: Ints, count: int) -> Ints:
    found = np.zeros(count, np.int64)
    np.add.at(found, place, quantity)
    return found


def _jobs(needs: Arrays, count: int) -> Jobs:
    """What jobs took at once of each item, unforeseen."""
    chance = ~needs["foreseen"]
    return jobs_of_takers(needs["place"][chance], needs["taker"][chance], needs["quantity"][chance], items=count)


def _months(
    rows: Arrays, items: Arrays, as_of: datetime.date, count: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], Ints]:
    """Demand that was not foreseen, less what came back of it, and demand that was, (36 months, items), and each item's
    first whole month; the month of ``as_of`` is not over and left out."""
    this_month = as_of.year * 12 + as_of.month
    begun = _month_of(items["first_moved"])
    whole = _month_of(items["first_moved"] - 1) < begun
    first = np.clip(begun + ~whole - (this_month - MONTHS), 0, MONTHS)
    place = _month_of(rows["day"]) - (this_month - MONTHS)
    known = (place >= first[rows["place"]]) & (place < MONTHS)
    tables = np.zeros((2, MONTHS, count))
    np.add.at(
        tables,
        (rows["foreseen"][known].astype(np.int64), place[known], rows["place"][known]),
        rows["quantity"][known] / THOUSANDTHS,
    )
    # What came back was issued before: it is taken off the months before it, backwards.
    unforeseen = np.array(carried_forward(tables[0][::-1])[::-1])
    return unforeseen, tables[1], first


def _month_of(days: Ints) -> Ints:
    """Months since the year 0, of days since `FIRST_DAY`."""
    months: Ints = (np.datetime64(FIRST_DAY) + days).astype("datetime64[M]").astype(np.int64) + 1970 * 12 + 1
    return months
