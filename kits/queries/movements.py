"""Reading the ledger."""

import datetime
import uuid
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.db import connection
from django.db.models import Q, QuerySet, Sum

from assets.access import narrow, require_role
from kits.models import Movement
from services.api.refusals import NotThere
from services.identity.callers import Caller


def movements(*, by: Caller) -> QuerySet[Movement]:
    """Movements at granted sites."""
    return narrow(Movement.objects.all(), by)


def movement_for(by: Caller, movement_id: Any, *roles: str) -> Movement:
    """One movement, where the caller has one of the roles at its site. Raises `NotThere`, `NotAllowed`."""
    found = movements(by=by).filter(pk=movement_id).first()
    if found is None:
        raise NotThere("The movement is not here.", remedy="Check the id, or ask for a role at its site.")
    if roles:
        require_role(by, found.site_id, *roles, what="The movement")
    return found


def out_for_job(job_id: uuid.UUID, lot_id: uuid.UUID) -> Decimal:
    """How much of a lot is out for a job: issued less returned."""
    total = Movement.objects.filter(job_id=job_id, lot_id=lot_id, kind__in=["issue", "return"]).aggregate(
        total=Sum("quantity")
    )["total"]
    return -(total or Decimal(0))


# A need of a part is also what is built of it into kits, less what of that is reversed; to break a kit is no return.
NEEDS = Q(kind__in=["issue", "return"]) | Q(kind="kit-build", item__kind="part")


def needs_met(
    site_ids: Iterable[uuid.UUID], *, since: datetime.date, item_ids: Iterable[uuid.UUID] | None = None
) -> dict[tuple[uuid.UUID, uuid.UUID], list[tuple[datetime.date, Decimal]]]:
    """Needs met by site and item (some, or all), by day: what was issued or built into kits, less returns and
    reversals. One query.

    A kit that came back unopened was no need; it is taken off on the day it came back.
    """
    rows = Movement.objects.filter(NEEDS, site_id__in=list(site_ids), condition="usable", occurred_at__date__gte=since)
    if item_ids is not None:
        rows = rows.filter(item_id__in=list(item_ids))
    found: dict[tuple[uuid.UUID, uuid.UUID], list[tuple[datetime.date, Decimal]]] = {}
    for site, item, day, total in (
        rows.values_list("site_id", "item_id", "occurred_at__date")
        .annotate(total=Sum("quantity"))
        .order_by("site_id", "item_id", "occurred_at__date")
    ):
        found.setdefault((site, item), []).append((day, -total))
    return found


def demand(site_id: uuid.UUID, since: datetime.date) -> dict[uuid.UUID, list[tuple[datetime.date, Decimal]]]:
    """`needs_met` of one site, by item. One query."""
    return {item: needs for (_, item), needs in needs_met([site_id], since=since).items()}


TAKEN = """
SELECT site_id, item_id, taken, count(*)
FROM (
    SELECT m.site_id, m.item_id, -sum(m.quantity) AS taken
    FROM kits_movement m JOIN kits_item i ON i.id = m.item_id
    WHERE m.site_id = ANY(%(sites)s) AND m.condition = 'usable'
      AND (m.occurred_at AT TIME ZONE 'UTC')::date >= %(since)s
      AND (%(items)s::uuid[] IS NULL OR m.item_id = ANY(%(items)s))
      AND (m.kind IN ('issue', 'return') OR (m.kind = 'kit-build' AND i.kind = 'part'))
    GROUP BY m.site_id, m.item_id, coalesce(m.job_id, m.reverses_id, m.id)
) AS takers
WHERE taken > 0
GROUP BY 1, 2, 3
"""


def taken_at_once(
    site_ids: Iterable[uuid.UUID], since: datetime.date, items: Iterable[uuid.UUID] | None = None
) -> dict[tuple[uuid.UUID, uuid.UUID], dict[Decimal, int]]:
    """How many took how much of what `demand` counts, by site and item: each job, and each movement without one, less
    what came back of it. One query."""
    asked: dict[str, Any] = {"sites": list(site_ids), "since": since, "items": None if items is None else list(items)}
    found: dict[tuple[uuid.UUID, uuid.UUID], dict[Decimal, int]] = {}
    with connection.cursor() as cursor:
        cursor.execute(TAKEN, asked)
        for site, item, taken, count in cursor.fetchall():
            found.setdefault((site, item), {})[taken] = count
    return found


DIFFERENCES = """
WITH sums AS (
    SELECT site_id, bin_id, item_id, lot_id, condition, sum(quantity) AS moved
    FROM kits_movement GROUP BY 1, 2, 3, 4, 5
), claims AS (
    SELECT a.balance_id, sum(a.quantity - a.issued) AS claimed
    FROM kits_allocation a JOIN kits_reservation r ON r.id = a.reservation_id
    WHERE r.state = 'hard' GROUP BY 1
)
SELECT s.code, b.code, i.number, i.revision, l.number, coalesce(k.condition, m.condition),
       coalesce(k.on_hand, 0), coalesce(m.moved, 0), coalesce(k.reserved, 0), coalesce(c.claimed, 0)
FROM kits_balance k
FULL JOIN sums m USING (site_id, bin_id, item_id, lot_id, condition)
LEFT JOIN claims c ON c.balance_id = k.id
JOIN assets_site s ON s.id = coalesce(k.site_id, m.site_id)
JOIN assets_bin b ON b.id = coalesce(k.bin_id, m.bin_id)
JOIN kits_item i ON i.id = coalesce(k.item_id, m.item_id)
JOIN kits_lot l ON l.id = coalesce(k.lot_id, m.lot_id)
WHERE coalesce(k.on_hand, 0) <> coalesce(m.moved, 0) OR coalesce(k.reserved, 0) <> coalesce(c.claimed, 0)
ORDER BY 1, 3, 5
"""


def ledger_differences() -> list[dict[str, Any]]:
    """Balances that are not the sum of their movements, or whose reserved part is not the sum of its claims."""
    with connection.cursor() as cursor:
        cursor.execute(DIFFERENCES)
        names = ("site", "bin", "item", "revision", "lot", "condition", "on_hand", "moved", "reserved", "claimed")
        return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def ledger_size() -> tuple[int, int]:
    """(movements, balances) there are."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT (SELECT count(*) FROM kits_movement), (SELECT count(*) FROM kits_balance)")
        counted = cursor.fetchone()
        return int(counted[0]), int(counted[1])
