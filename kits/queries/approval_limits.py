"""Reading approval limits, what orders are worth, and who may approve more."""

import datetime
import uuid
from collections.abc import Iterable
from decimal import Decimal

from django.db.models import Case, DecimalField, F, Q, QuerySet, Sum, Value, When

from assets.models import Grant
from kits.calculations.approval import EarlierOrder, Limit
from kits.models import ApprovalLimit, Order, OrderLine
from services.identity.callers import Caller

ZERO = Decimal(0)
# So many people who may are named.
NAMED = 3


def approval_limits(*, by: Caller) -> QuerySet[ApprovalLimit]:
    """All limits; everybody may know them."""
    return ApprovalLimit.objects.all()


def limits() -> list[Limit]:
    """All limits. One query."""
    rows = ApprovalLimit.objects.order_by("role", "currency").values_list("role", "currency", "limit", "window_days")
    return [Limit(*one) for one in rows]


def value_of_unsent(
    site_id: uuid.UUID, supplier_id: uuid.UUID, currency: str, *, repriced: uuid.UUID, price: Decimal
) -> Decimal:
    """What the site's unsent order at the supplier is worth in a currency, 0 where there is none; the line of the item
    ``repriced`` at its new price in it. One query."""
    lines = OrderLine.objects.filter(
        Q(currency=currency) | Q(item_id=repriced),
        order__site_id=site_id,
        order__supplier_id=supplier_id,
        order__state=Order.State.APPROVED,
    )
    money: DecimalField[Decimal, Decimal] = DecimalField(max_digits=26, decimal_places=7)
    paid = Case(When(item_id=repriced, then=Value(price)), default=F("price"), output_field=money)
    return lines.aggregate(value=Sum(F("quantity") * paid, output_field=money))["value"] or ZERO


def earlier_orders(
    site_id: uuid.UUID, supplier_id: uuid.UUID, currency: str, *, now: datetime.datetime, days: int
) -> list[EarlierOrder]:
    """Orders of the site at the supplier that went out and were begun within so many days, not those cancelled. One
    query, none for no days."""
    if days <= 0:
        return []
    rows = (
        OrderLine.objects.filter(
            order__site_id=site_id, order__supplier_id=supplier_id, currency=currency,
            order__created_at__gt=now - datetime.timedelta(days=days),
        )
        .exclude(order__state__in=[Order.State.APPROVED, Order.State.CANCELLED])
        .values_list("order_id", "order__created_at")
        .annotate(value=Sum(F("quantity") * F("price")))
        .order_by("order__created_at", "order_id")
    )  # fmt: skip
    return [EarlierOrder((now - begun).days, value) for _, begun, value in rows]


def people_with(site_id: uuid.UUID, roles: Iterable[str]) -> list[str]:
    """Names of a few people who have one of the roles at a site, with the role. One query."""
    rows = (
        Grant.objects.filter(Q(site_id=site_id) | Q(site=None), role__in=list(roles), principal__is_active=True)
        .order_by("principal__name", "role")
        .values_list("principal__name", "role")
    )
    return [f"{name} ({role})" for name, role in rows[:NAMED]]
