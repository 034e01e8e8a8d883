"""Reading how long suppliers take: what was learned, and the receipts it is learned from."""

import datetime
import uuid
from collections.abc import Iterable
from decimal import Decimal
from statistics import median
from typing import Any, cast

from django.db.models import F, QuerySet, Value, Window
from django.db.models.functions import Coalesce, RowNumber

from kits.calculations.lead_times import LeadTime, Source
from kits.models import LearnedLeadTime, Movement, SupplierTerms
from kits.queries.parts import suppliers
from services.api.refusals import NotThere
from services.identity.callers import Caller

# A supplier and an item.
Pair = tuple[uuid.UUID, uuid.UUID]
# The last so many receipts of a supplier say how late what is overdue will be.
LATEST_RECEIPTS = 200


def lead_times(*, by: Caller, supplier_id: Any) -> QuerySet[LearnedLeadTime]:
    """Of one supplier, readable by everybody as its terms are; ``item_order`` puts the whole supplier first.

    Raises `NotThere`.
    """
    if not suppliers(by=by).filter(pk=supplier_id).exists():
        raise NotThere("The supplier is not here.", remedy="GET /suppliers lists them.")
    found = LearnedLeadTime.objects.filter(supplier_id=supplier_id)
    return found.annotate(item_order=Coalesce("item__number", Value("")))


def learned_lead_times(pairs: Iterable[Pair]) -> dict[Pair, LeadTime]:
    """What was learned last night, by supplier and item. A pair that is not there has only its agreed terms: nothing
    ever came from that supplier, or the terms are newer than the night. One query, none without pairs."""
    wanted = set(pairs)
    if not wanted:
        return {}
    rows = LearnedLeadTime.objects.filter(
        supplier__id__among=list({supplier for supplier, _ in wanted}),
        item__id__among=list({item for _, item in wanted}),
    ).values_list(
        "supplier_id", "item_id", "mean_days", "sd_days", "received", "received_of_supplier", "weight_of_item",
        "weight_of_supplier", "weight_of_agreed", "source", "observed_mean_days", "agreed_days", "agreed_sd_days",
    )  # fmt: skip
    return {
        (supplier, item): LeadTime(
            mean_days=float(mean),
            sd_days=float(spread),
            received=received,
            received_of_supplier=of_supplier,
            weight_of_item=float(own),
            weight_of_supplier=float(others),
            weight_of_agreed=float(terms),
            source=cast("Source", source),
            observed_mean_days=_float(observed),
            agreed_days=_float(agreed),
            agreed_sd_days=_float(agreed_spread),
        )
        for supplier, item, mean, spread, received, of_supplier, own, others, terms, source, observed, agreed,
        agreed_spread in rows
        if (supplier, item) in wanted
    }  # fmt: skip


def _float(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def days_of_receipts(since: datetime.datetime) -> dict[uuid.UUID, dict[uuid.UUID, list[float]]]:
    """Days from sending an order to each receipt on it, by supplier and item, as far as they happened since then.

    What was taken back does not count, nor what came before its order was marked as sent. One query.
    """
    found: dict[uuid.UUID, dict[uuid.UUID, list[float]]] = {}
    rows = (
        Movement.objects.filter(kind="receipt", reverses=None, reversed_by=None, occurred_at__gte=since)
        .filter(occurred_at__gte=F("order_line__order__sent_at"))
        .order_by("occurred_at", "id")
        .values_list("order_line__order__supplier_id", "item_id", "order_line__order__sent_at", "occurred_at")
    )  # fmt: skip
    for supplier, item, sent, came in rows:
        if supplier is None or sent is None:
            continue
        days = (came - sent) / datetime.timedelta(days=1)
        found.setdefault(supplier, {}).setdefault(item, []).append(days)
    return found


def agreed_lead_times(supplier_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, dict[uuid.UUID, tuple[float, float]]]:
    """Mean and standard deviation of the terms, by supplier and item. One query."""
    found: dict[uuid.UUID, dict[uuid.UUID, tuple[float, float]]] = {}
    rows = SupplierTerms.objects.filter(supplier__id__among=list(supplier_ids)).values_list(
        "supplier_id", "item_id", "lead_time_days", "lead_time_sd_days"
    )
    for supplier, item, mean, spread in rows:
        found.setdefault(supplier, {})[item] = float(mean), float(spread)
    return found


def usual_lateness(supplier_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, int]:
    """By supplier, the median of the days by which its latest receipts came after they were first expected, at least
    one; nothing for a supplier of which nothing came. One query, none without suppliers."""
    wanted, days = set(supplier_ids), dict[uuid.UUID, list[int]]()
    if wanted:
        supplier = "order_line__order__supplier_id"
        place = Window(RowNumber(), partition_by=F(supplier), order_by=[F("occurred_at").desc(), F("id").desc()])
        rows = (
            Movement.objects.filter(
                kind="receipt", reverses=None, reversed_by=None, order_line__order__supplier_id__in=wanted
            )
            .annotate(place=place)
            .filter(place__lte=LATEST_RECEIPTS)
            .values_list(supplier, "occurred_at", "order_line__expected_on")
        )
        for found, came, expected in rows:
            days.setdefault(found, []).append((came.date() - expected).days)
    return {supplier_id: max(round(median(found)), 1) for supplier_id, found in days.items()}
