"""What is known of many sites together: the ways between them, their pumps, and what was moved among them lately."""

import datetime
import uuid
from collections.abc import Iterable
from decimal import Decimal

from django.db.models import Count

from assets.models import Pump
from kits.models import Movement, SupplierTerms, TransferLine, TransitTime
from kits.queries.transfers import Place


def transits_among(site_ids: Iterable[uuid.UUID]) -> dict[tuple[uuid.UUID, uuid.UUID], tuple[int, Decimal, str]]:
    """(days, cost of a piece, currency) by lender and receiver, where somebody said so. One query."""
    sites = list(site_ids)
    rows = TransitTime.objects.filter(from_site_id__in=sites, to_site_id__in=sites)
    return {(one.from_site_id, one.to_site_id): (one.days, one.cost, one.currency) for one in rows}


def pumps_at(site_ids: Iterable[uuid.UUID]) -> int:
    """Pumps that are not withdrawn. One query."""
    return Pump.objects.filter(site_id__in=list(site_ids)).exclude(state="withdrawn").count()


def moved_lately(site_ids: Iterable[uuid.UUID], *, since: datetime.date) -> set[Place]:
    """Sites and items of which something was sent to or came from another site on that day or later, or was agreed on
    and is not there yet. Two queries."""
    sites = set(site_ids)
    rows = Movement.objects.filter(
        site_id__in=sites, kind__in=["transfer-out", "transfer-in"], occurred_at__date__gte=since
    )
    found: set[Place] = set(rows.order_by().values_list("site_id", "item_id").distinct())
    agreed = TransferLine.objects.filter(
        transfer__created_at__date__gte=since, transfer__state__in=["approved", "sent", "part-received"]
    )
    for item, lender, receiver in agreed.values_list("item_id", "transfer__from_site_id", "transfer__to_site_id"):
        found |= {(site, item) for site in (lender, receiver) if site in sites}
    return found


def currencies() -> list[str]:
    """Currencies that suppliers sell in, the one of most terms first. One query."""
    rows = SupplierTerms.objects.order_by().values_list("currency").annotate(terms=Count("id"))
    return [currency for currency, _ in sorted(rows, key=lambda one: (-one[1], one[0]))]
