"""What other sites could spare of items that a site runs out of."""

import datetime
import uuid
from collections.abc import Iterable

from django.db import connection

from kits.calculations.sourcing import Offer

# Free at each site: usable and in date on arrival, less claims without lots, what is promised and what is proposed
# already. A site whose transit time nobody said may still be named, so what is in date today counts there.
OFFERS = """
WITH wanted AS (SELECT unnest(%(items)s::uuid[]) AS item_id), stock AS (
    SELECT b.item_id, b.site_id, sum(b.on_hand - b.reserved) AS free
    FROM kits_balance b JOIN wanted USING (item_id) JOIN kits_lot l ON l.id = b.lot_id
    LEFT JOIN kits_transittime t ON t.from_site_id = b.site_id AND t.to_site_id = %(site)s
    WHERE b.site_id <> %(site)s AND b.condition = 'usable' AND b.on_hand > b.reserved
      AND (l.expires_on IS NULL OR l.expires_on >= %(today)s::date + coalesce(t.days, 0))
    GROUP BY 1, 2
), claimed AS (
    SELECT r.item_id, r.site_id, sum(r.quantity - r.issued) AS taken
    FROM kits_reservation r JOIN wanted USING (item_id) WHERE r.state = 'soft' GROUP BY 1, 2
), promised AS (
    SELECT n.item_id, t.from_site_id AS site_id, sum(n.quantity) AS taken
    FROM kits_transferline n JOIN wanted USING (item_id) JOIN kits_transfer t ON t.id = n.transfer_id
    WHERE t.state = 'approved' GROUP BY 1, 2
), proposed AS (
    SELECT p.item_id, p.lender_id AS site_id, sum(p.quantity) AS taken
    FROM kits_proposal p JOIN wanted USING (item_id)
    WHERE p.state IN ('open', 'snoozed') AND p.lender_id IS NOT NULL AND p.site_id <> %(site)s GROUP BY 1, 2
)
SELECT s.item_id, s.site_id, site.code,
       s.free - coalesce(c.taken, 0) - coalesce(a.taken, 0) - coalesce(p.taken, 0),
       l.reorder_point, l.order_quantity, t.days, t.cost
FROM stock s JOIN assets_site site ON site.id = s.site_id
LEFT JOIN claimed c USING (item_id, site_id)
LEFT JOIN promised a USING (item_id, site_id)
LEFT JOIN proposed p USING (item_id, site_id)
LEFT JOIN kits_replenishmentlevel l ON l.item_id = s.item_id AND l.site_id = s.site_id
LEFT JOIN kits_transittime t ON t.from_site_id = s.site_id AND t.to_site_id = %(site)s
ORDER BY s.item_id, site.code
"""


def offers_of_others(
    site_id: uuid.UUID, items: Iterable[uuid.UUID], today: datetime.date
) -> dict[uuid.UUID, list[Offer]]:
    """What other sites have free of each item, by item; one that has none left is not among them. One statement."""
    wanted = list(items)
    found: dict[uuid.UUID, list[Offer]] = {}
    if not wanted:
        return found
    with connection.cursor() as cursor:
        cursor.execute(OFFERS, {"items": wanted, "site": site_id, "today": today})
        for item_id, lender, code, free, level, usual, days, cost in cursor.fetchall():
            if free > 0:
                found.setdefault(item_id, []).append(Offer(lender, code, free, level, usual, days, cost))
    return found
