"""Reading orders and their lines."""

import uuid
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.db.models import F, QuerySet, Sum

from assets.access import narrow, require_role
from kits.models import Order, OrderLine, Supplier
from kits.queries.availability import COMING
from services.api.models import as_uuid
from services.api.refusals import NotThere
from services.api.rows import plain_rows
from services.identity.callers import Caller


def orders(*, by: Caller) -> QuerySet[Order]:
    """Orders of granted sites."""
    return narrow(Order.objects.all(), by)


def order_for(by: Caller, order_id: Any, *roles: str) -> Order:
    """One order, where the caller has one of the roles at its site. Raises `NotThere`, `NotAllowed`."""
    order = orders(by=by).filter(pk=as_uuid(order_id)).first()
    if order is None:
        raise NotThere("The order is not here.", remedy="Check the id, or ask for a role at its site.")
    if roles:
        require_role(by, order.site_id, *roles, what="The order")
    return order


def lines_of(order_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[dict[str, Any]]]:
    """Lines by order. One query."""
    found: dict[uuid.UUID, list[dict[str, Any]]] = {}
    rows = (
        OrderLine.objects.filter(order_id__in=list(order_ids))
        .order_by("order_id", "line")
        .values(
            "order_id", "line", "item", "quantity", "received", "expected_on", "promised_on", "price", "currency",
            number=F("item__number"), revision=F("item__revision"), name=F("item__name"),
        )
    )  # fmt: skip
    for one in plain_rows(rows):
        found.setdefault(one.pop("order_id"), []).append(one)
    return found


def supplier_exists(supplier_id: uuid.UUID) -> bool:
    """Whether there is such a supplier."""
    return Supplier.objects.filter(pk=supplier_id).exists()


def coming(site_id: uuid.UUID) -> dict[uuid.UUID, Decimal]:
    """Still to come at a site by item. One query."""
    return dict(
        OrderLine.objects.filter(order__site_id=site_id, order__state__in=COMING, received__lt=F("quantity"))
        .values_list("item_id")
        .annotate(rest=Sum(F("quantity") - F("received")))
    )
