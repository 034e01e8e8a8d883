"""What replenishment of a site keeps and has decided, and the terms of what a run proposes."""

import datetime
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db import connection
from django.db.models import QuerySet

from kits.models import Proposal, ReplenishmentLevel


@dataclass(frozen=True)
class TermsShown:
    """The terms of an item of a run as they are shown and ordered by."""

    number: str
    supplier_code: str
    price: Decimal
    currency: str
    agreed_days: Decimal
    received: int
    source: str


def terms_shown(places: Iterable[int]) -> dict[int, TermsShown]:
    """Terms of some items of the run that this transaction prepared, by place. One statement."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT p.place, i.number, s.code, t.price, t.currency, t.lead_time_days, coalesce(w.received, 0), "
            "coalesce(w.source, 'agreed') FROM planned_items p "
            "JOIN kits_item i ON i.id = p.item_id JOIN kits_supplierterms t ON t.id = p.terms_id "
            "JOIN kits_supplier s ON s.id = p.supplier_id LEFT JOIN kits_learnedleadtime w ON w.id = p.learned_id "
            "WHERE p.place = ANY(%s)",
            [list(places)],
        )
        return {place: TermsShown(*figures) for place, *figures in cursor.fetchall()}


def levels_kept(site_ids: Iterable[uuid.UUID], items: Iterable[uuid.UUID]) -> dict[tuple[uuid.UUID, uuid.UUID], int]:
    """Reorder points that replenishment keeps, by site and item. One query."""
    found = ReplenishmentLevel.objects.filter(site_id__in=list(site_ids), item_id__in=list(items))
    return {(site, item): level for site, item, level in found.values_list("site_id", "item_id", "reorder_point")}


def undecided(site_id: uuid.UUID) -> QuerySet[Proposal]:
    """Open and snoozed proposals of a site, by id."""
    return Proposal.objects.filter(site_id=site_id, state__in=["open", "snoozed"]).order_by("id")


def held_back(site_id: uuid.UUID, as_of: datetime.date) -> dict[uuid.UUID, datetime.date]:
    """Items whose rejection still holds, with its last day."""
    rows = (
        Proposal.objects.filter(site_id=site_id, state="rejected", holds_until__gt=as_of)
        .order_by("holds_until")
        .values_list("item_id", "holds_until")
    )
    return {item_id: day for item_id, day in rows if day is not None}
