"""Sites with three years of issues, the same each time: made in the database, where a few million rows take seconds.

Of a hundred months of an item at a site 78 see no need; a tenth of the needs was booked in time. Three items in a
hundred stand at nothing, the others well above their reorder point. Names and figures are invented.
"""

import datetime
import uuid

from django.db import connection

SITES = 10


STATEMENTS = (
    """
    INSERT INTO assets_site (id, version, code, name, time_zone, is_central_store, external_ids)
    SELECT gen_random_uuid(), 1, 'stocked-' || n, 'Stocked ' || n, 'UTC', false, '{}'
    FROM generate_series(1, %(sites)s) n
    """,
    """
    INSERT INTO assets_bin (id, version, site_id, code, name, is_default)
    SELECT gen_random_uuid(), 1, id, 'MAIN', '', true FROM assets_site WHERE code LIKE 'stocked-%%'
    """,
    """
    INSERT INTO kits_supplier (id, version, code, name)
    SELECT gen_random_uuid(), 1, 'sells-' || n, 'Sells ' || n FROM generate_series(1, 40) n
    """,
    """
    INSERT INTO kits_item (id, version, kind, number, revision, name, unit, cost, currency, is_active, criticality,
                           external_ids)
    SELECT gen_random_uuid(), 1, 'part', 'N-' || lpad(n::text, 6, '0'), '', 'Part ' || n,
           'piece', 20, 'EUR', true, (ARRAY['vital', 'essential', 'desirable'])[1 + n %% 3], '{}'
    FROM generate_series(1, %(items)s) n
    """,
    """
    INSERT INTO kits_supplierterms (id, version, supplier_id, item_id, lead_time_days, lead_time_sd_days, minimum,
                                    multiple, price, currency, order_cost)
    SELECT gen_random_uuid(), 1, s.id, i.id, 10 + abs(hashtext(i.number)) %% 80, 5, 1 + abs(hashtext(i.number)) %% 3, 1,
           5 + abs(hashtext(i.number || 'p')) %% 400, 'EUR', 30
    FROM kits_item i JOIN kits_supplier s ON s.code = 'sells-' || (1 + abs(hashtext(i.number || 's')) %% 40)
    WHERE i.number LIKE 'N-%%'
    """,
    """
    INSERT INTO kits_lot (id, version, item_id, number, received_on)
    SELECT gen_random_uuid(), 1, id, 'L-1', '2020-01-01' FROM kits_item WHERE number LIKE 'N-%%'
    """,
    """
    CREATE TEMPORARY TABLE needs AS
    SELECT s.id AS site_id, b.id AS bin_id, i.id AS item_id, l.id AS lot_id, gen_random_uuid() AS job_id,
           1 + (abs(hashtext(s.code || i.number || m || 'q')) %% 3 = 0)::int AS quantity,
           (date_trunc('month', %(today)s::date) - m * interval '1 month' + interval '12 days') AS day,
           abs(hashtext(s.code || i.number || m || 'b')) %% 10 = 0 AS booked
    FROM assets_site s JOIN assets_bin b ON b.site_id = s.id
    CROSS JOIN (SELECT id, number FROM kits_item WHERE number LIKE 'N-%%') i
    JOIN kits_lot l ON l.item_id = i.id
    CROSS JOIN generate_series(1, 36) m
    WHERE s.code LIKE 'stocked-%%' AND abs(hashtext(s.code || i.number || m)) %% 100 < 22
    """,
    """
    INSERT INTO kits_movement (id, kind, site_id, bin_id, item_id, lot_id, condition, quantity, occurred_at, by_id,
                               reason, job_id, job_number, request_id)
    SELECT gen_random_uuid(), 'issue', site_id, bin_id, item_id, lot_id, 'usable', -quantity, day, %(by)s, '', job_id,
           'J', '' FROM needs
    """,
    """
    INSERT INTO kits_reservation (id, version, job_id, job_number, site_id, item_id, quantity, issued, need_date, state,
                                  by_id, created_at)
    SELECT gen_random_uuid(), 1, job_id, 'J', site_id, item_id, quantity, quantity, day::date, 'issued', %(by)s,
           day - interval '120 days' FROM needs WHERE booked
    """,
    """
    CREATE TEMPORARY TABLE shelves AS
    SELECT s.id AS site_id, b.id AS bin_id, i.id AS item_id, l.id AS lot_id,
           CASE WHEN abs(hashtext(s.code || i.number || 'low')) %% 100 < 3 THEN 0 ELSE 30 END AS left_over
    FROM assets_site s JOIN assets_bin b ON b.site_id = s.id
    CROSS JOIN (SELECT id, number FROM kits_item WHERE number LIKE 'N-%%') i JOIN kits_lot l ON l.item_id = i.id
    WHERE s.code LIKE 'stocked-%%'
    """,
    """
    INSERT INTO kits_movement (id, kind, site_id, bin_id, item_id, lot_id, condition, quantity, occurred_at, by_id,
                               reason, job_number, request_id)
    SELECT gen_random_uuid(), 'opening', h.site_id, h.bin_id, h.item_id, h.lot_id, 'usable',
           h.left_over + coalesce(n.used, 0), %(today)s::date - interval '40 months', %(by)s, '', '', ''
    FROM shelves h LEFT JOIN (SELECT site_id, item_id, sum(quantity) AS used FROM needs GROUP BY 1, 2) n
      USING (site_id, item_id)
    WHERE h.left_over + coalesce(n.used, 0) > 0
    """,
    """
    INSERT INTO kits_balance (id, site_id, bin_id, item_id, lot_id, condition, on_hand, reserved)
    SELECT gen_random_uuid(), site_id, bin_id, item_id, lot_id, 'usable', left_over, 0 FROM shelves
    """,
    "DROP TABLE needs",
    "DROP TABLE shelves",
    "ANALYZE",
)


def stock_sites(items: int, *, by: uuid.UUID, today: datetime.date) -> None:
    """Ten sites that keep so many items each."""
    with connection.cursor() as cursor:
        for one in STATEMENTS:
            cursor.execute(one, {"sites": SITES, "items": items, "by": by, "today": today})
