"""What ranks kits that fit alike: free here, at the nearest other site, how soon one is delivered, at what cost."""

import datetime
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Min

from assets.access import sites_with
from assets.queries.sites import distances_from
from kits.calculations.fit import VERDICT_ORDER
from kits.models import Kit, SupplierTerms
from kits.queries.availability import free_by_site
from services.identity.callers import Caller

Stored = tuple[str, int, bool]
ZERO = Decimal(0)


@dataclass(frozen=True)
class Ranked:
    """A kit with every factor of its rank, as answered."""

    kit_id: uuid.UUID
    row: dict[str, Any]


def rank(one: Ranked, verdict: str, asked: int) -> tuple[Any, ...]:
    """Verdict, then how near it is; of what is equally near the kit that renews more, then the cheaper one."""
    row = one.row
    return VERDICT_ORDER[verdict], _nearness(row), -asked, _or_last(row["cost"]), row["number"], row["revision"]


def _nearness(row: Mapping[str, Any]) -> tuple[int, bool, float]:
    """In date and free at the pump's site; else at the nearest other site; else somewhere not shown; else how long a
    supplier takes. What is nearer makes the rest indifferent."""
    elsewhere, days = row["nearest_other_site"], row["lead_time_days"]
    if row["free_at_site"] > 0:
        return 0, False, 0.0
    if elsewhere is not None:
        return 1, elsewhere["distance_km"] is None, elsewhere["distance_km"] or 0.0
    if row["available_elsewhere"]:
        return 2, False, 0.0
    return 3, days is None, float(days or 0)


def _or_last(value: Decimal | None) -> tuple[bool, Decimal]:
    return (value is None, value or ZERO)


def ranked_kits(
    by: Caller,
    site_id: uuid.UUID | None,
    stored: Mapping[uuid.UUID, Stored | None],
    on: datetime.date,
    *,
    scope: str | None = None,
) -> list[Ranked]:
    """Kits in the order of what is known of them without judging. Five queries.

    Of a site that the caller may not know of, only that something is available elsewhere.
    """
    kits = Kit.objects.filter(pk__in=list(stored), state="released")
    if scope is not None:
        kits = kits.filter(scope__code=scope)
    rows = list(
        kits.values_list(
            "item_id", "item__number", "item__revision", "item__name", "scope__code", "item__cost", "item__currency"
        )
    )
    here, others, hidden = _free(by, site_id, [row[0] for row in rows], on)
    lead = dict(
        SupplierTerms.objects.filter(item_id__in=[row[0] for row in rows])
        .values_list("item_id")
        .annotate(days=Min("lead_time_days"))
    )
    found = []
    for kit_id, number, revision, name, kit_scope, cost, currency in rows:
        known = stored[kit_id]
        nearest = min(others.get(kit_id, ()), key=_by_distance, default=None)
        row = {
            "kit": kit_id,
            "number": number,
            "revision": revision,
            "name": name,
            "scope": kit_scope,
            "declared": known[2] if known else False,
            "free_at_site": here.get(kit_id, ZERO),
            "nearest_other_site": nearest,
            "available_elsewhere": kit_id in hidden or nearest is not None,
            "lead_time_days": lead.get(kit_id),
            "cost": cost,
            "currency": currency,
        }
        found.append((known, Ranked(kit_id, row)))
    found.sort(key=lambda pair: rank(pair[1], *(pair[0][:2] if pair[0] else ("fits", 0))))
    return [one for _, one in found]


def _by_distance(one: Mapping[str, Any]) -> tuple[bool, float, str]:
    return one["distance_km"] is None, one["distance_km"] or 0.0, one["site_code"]


def _free(
    by: Caller, site_id: uuid.UUID | None, kit_ids: list[uuid.UUID], on: datetime.date
) -> tuple[dict[uuid.UUID, Decimal], dict[uuid.UUID, list[dict[str, Any]]], set[uuid.UUID]]:
    """(free here, free at other sites as far as the caller may know, kits that are free somewhere else)."""
    granted, far = sites_with(by), distances_from(site_id)
    here: dict[uuid.UUID, Decimal] = {}
    others: dict[uuid.UUID, list[dict[str, Any]]] = {}
    hidden: set[uuid.UUID] = set()
    for one in free_by_site(kit_ids, on):
        if one["site_id"] == site_id:
            here[one["item_id"]] = one["free"]
        elif by.sees_availability or granted is None or one["site_id"] in granted:
            others.setdefault(one["item_id"], []).append(
                {
                    "site": one["site_id"],
                    "site_code": one["site__code"],
                    "site_name": one["site__name"],
                    "free": one["free"],
                    "distance_km": far.get(one["site_id"]),
                }
            )
        else:
            hidden.add(one["item_id"])
    return here, others, hidden
