"""On which conditions orders go out to suppliers: their minimum, what is not sent yet, how often one goes out."""

import datetime
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Count, F, Max, Min, Sum

from kits.calculations.order_cycles import order_cycle_days
from kits.models import Order, OrderLine, Supplier

ZERO = Decimal(0)
# Orders of the last two years tell how often one goes out (common practice, no source).
LOOKED_BACK = datetime.timedelta(days=2 * 365)


@dataclass(frozen=True)
class OrderConditions:
    """Of one supplier at one site; ``unsent`` is the worth of the order that is not sent yet, by currency."""

    supplier_id: uuid.UUID
    code: str
    name: str
    minimum_order_value: Decimal
    minimum_order_currency: str
    cycle_days: float
    unsent: Mapping[str, Decimal] = field(default_factory=dict)

    def minimum_in(self, currency: str) -> Decimal:
        """The minimum order value in a currency, 0 where it is in another one: amounts are not converted."""
        return self.minimum_order_value if self.minimum_order_currency == currency else ZERO


def unsent_suppliers(site_id: uuid.UUID) -> set[uuid.UUID]:
    """Whom the site has an order for that is not sent yet. One query."""
    return set(
        Order.objects.filter(site_id=site_id, state=Order.State.APPROVED)
        .order_by()
        .values_list("supplier_id", flat=True)
    )


def order_conditions(
    site_id: uuid.UUID, supplier_ids: Iterable[uuid.UUID], *, as_of: datetime.date
) -> dict[uuid.UUID, OrderConditions]:
    """By supplier. Three queries, none without suppliers; not narrowed, callers have passed the gate."""
    wanted = set(supplier_ids)
    if not wanted:
        return {}
    since = datetime.datetime.combine(as_of, datetime.time(), datetime.UTC) - LOOKED_BACK
    unsent: dict[uuid.UUID, dict[str, Decimal]] = {}
    for supplier, currency, value in (
        OrderLine.objects.filter(
            order__site_id=site_id, order__supplier_id__in=wanted, order__state=Order.State.APPROVED
        )
        .values_list("order__supplier_id", "currency")
        .annotate(value=Sum(F("quantity") * F("price")))
        .order_by("order__supplier_id", "currency")
    ):
        unsent.setdefault(supplier, {})[currency] = value
    cycles = {
        supplier: order_cycle_days(orders, first, last)
        for supplier, orders, first, last in Order.objects.filter(
            site_id=site_id, supplier_id__in=wanted, created_at__gte=since
        )
        .exclude(state=Order.State.CANCELLED)
        .order_by()
        .values_list("supplier_id")
        .annotate(orders=Count("id"), first=Min("created_at"), last=Max("created_at"))
    }
    return {
        pk: OrderConditions(
            pk, code, name, minimum, currency, cycles.get(pk, order_cycle_days(0, None, None)), unsent.get(pk, {})
        )
        for pk, code, name, minimum, currency in Supplier.objects.filter(pk__in=wanted).values_list(
            "id", "code", "name", "minimum_order_value", "minimum_order_currency"
        )
    }
