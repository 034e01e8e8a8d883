"""Orders at suppliers."""

import uuid
from collections.abc import Callable
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.api.cure_dates import CureDateField
from kits.models import Order
from kits.operations.orders import (
    Arrived,
    LineWanted,
    cancel_order,
    close_short,
    make_order,
    receive_order,
    send_order,
)
from kits.queries.orders import lines_of, orders
from services.api.filters import Filters, TextInFilter
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of

TAG = "Orders"


class OrderLineShape(serializers.Serializer[Any]):
    line = serializers.IntegerField()
    item = serializers.UUIDField()
    number = serializers.CharField()
    revision = serializers.CharField()
    name = serializers.CharField()
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3)
    received = serializers.DecimalField(max_digits=12, decimal_places=3)
    expected_on = serializers.DateField()
    promised_on = serializers.DateField(allow_null=True, help_text="What the supplier said last, when it was chased.")
    price = serializers.DecimalField(max_digits=14, decimal_places=4)
    currency = serializers.CharField()


class OrderRow(Rows):
    computed = ("lines",)
    id = serializers.UUIDField()
    number = serializers.CharField()
    site = serializers.UUIDField()
    site_code = serializers.CharField(source="site.code")
    supplier = serializers.UUIDField()
    supplier_code = serializers.CharField(source="supplier.code")
    supplier_name = serializers.CharField(source="supplier.name")
    state = serializers.CharField(help_text="approved, sent, part-received, received, closed-short or cancelled.")
    approved_by_name = serializers.CharField(source="approved_by.name", allow_null=True)
    sent_at = serializers.DateTimeField(allow_null=True)
    external_ids = serializers.DictField(child=serializers.CharField())
    lines = OrderLineShape(many=True)
    version = serializers.IntegerField()


class OrderFilters(Filters):
    site = django_filters.UUIDFilter("site_id", help_text="The site's id.")
    supplier = django_filters.UUIDFilter("supplier_id", help_text="The supplier's id.")
    number = django_filters.CharFilter(help_text="The order's number.")
    state = django_filters.CharFilter(help_text="One state.")
    state__in = TextInFilter("state", help_text="Several states, separated by commas.")

    class Meta:
        model = Order
        fields: list[str] = []


class LineIn(Body):
    item = serializers.UUIDField()
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3)
    expected_on = serializers.DateField()
    price = serializers.DecimalField(max_digits=14, decimal_places=4, min_value=0)
    currency = serializers.RegexField("^[A-Z]{3}$", help_text="ISO 4217.")

    def validate_quantity(self, value: Any) -> Any:
        if value <= 0:
            raise serializers.ValidationError("Must be above zero.", code="not-positive")
        return value


class OrderIn(Body):
    site = serializers.UUIDField()
    supplier = serializers.UUIDField()
    number = serializers.CharField(max_length=40, required=False, help_text="Of a new order; made here if left out.")
    lines = LineIn(many=True)


class SendIn(Body):
    erp_number = serializers.CharField(max_length=60, required=False, help_text="Under which the ERP took it.")


class ArrivedIn(Body):
    line = serializers.IntegerField()
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3)
    lot = serializers.CharField(max_length=60)
    cure_date = CureDateField(required=False)


class ReceiveIn(Body):
    lines = ArrivedIn(many=True)
    occurred_at = serializers.DateTimeField(required=False)


class OrderReasonIn(Body):
    reason = serializers.CharField(max_length=300)


def order_row(by: Caller, order_id: Any) -> dict[str, Any] | None:
    """An order as it is answered. Two queries."""
    found = OrderRow.select(orders(by=by).filter(pk=order_id)).first()
    return None if found is None else {**found, "lines": lines_of([found["id"]]).get(found["id"], [])}


class OrdersView(ListView):
    rows = OrderRow
    filters = OrderFilters
    order = ("-id",)

    def rows_for(self, request: Request) -> Any:
        return orders(by=caller_of(request))

    def shape(self, page: list[dict[str, Any]], request: Request) -> None:
        if page and "id" in page[0]:
            lines = lines_of([one["id"] for one in page])
            for one in page:
                one["lines"] = lines.get(one["id"], [])

    @describe(
        summary="List orders, the newest first",
        tag=TAG,
        responses=page_of(OrderRow),
        filters=OrderFilters,
        operation_id="orders_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Order by hand",
        tag=TAG,
        request=OrderIn,
        responses=OrderRow,
        status=201,
        description="The lines join the site's unsent order at the supplier; a new one is made where there is none.",
        request_example={
            "site": "0199a0c4-0000-7000-8000-000000000001",
            "supplier": "0199a0c4-0000-7000-8000-0000000000cc",
            "lines": [
                {
                    "item": "0199a0c4-0000-7000-8000-0000000000bb",
                    "quantity": "2",
                    "expected_on": "2027-01-08",
                    "price": "184.50",
                    "currency": "EUR",
                }
            ],
        },
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, OrderIn)

        def perform() -> Answer:
            made = make_order(
                by=caller_of(request),
                site_id=body["site"],
                supplier_id=body["supplier"],
                number=body.get("number", ""),
                lines=[
                    LineWanted(one["item"], one["quantity"], one["expected_on"], one["price"], one["currency"])
                    for one in body["lines"]
                ],
            )
            return created(order_row(caller_of(request), made.pk) or {}, f"/api/v1/orders/{made.pk}")

        return answer_write(request, perform, key_required=True)


class OrderView(APIView):
    @describe(summary="One order with its lines", tag=TAG, responses=OrderRow, operation_id="orders_read")
    def get(self, request: Request, order: uuid.UUID) -> Response:
        return answer_one(request, order_row(caller_of(request), order), "The order")


def _act(request: Request, order: uuid.UUID, do: Callable[[int], Any], *, key_required: bool = False) -> Response:
    version = expected_version(request)

    def perform() -> Answer:
        do(version)
        return changed(order_row(caller_of(request), order) or {})

    return answer_write(request, perform, key_required=key_required)


class SendOrderView(APIView):
    @describe(
        summary="Mark an order as sent", tag=TAG, request=SendIn, responses=OrderRow, if_match=True,
        description="It was handed to the supplier, or the ERP took it.", request_example={"erp_number": "4711"},
    )  # fmt: skip
    def post(self, request: Request, order: uuid.UUID) -> Response:
        body = read_body(request, SendIn)
        return _act(
            request,
            order,
            lambda version: send_order(
                by=caller_of(request),
                order_id=order,
                expected_version=version,
                erp_number=body.get("erp_number", ""),
            ),
        )


class ReceiveOrderView(APIView):
    @describe(
        summary="Receive an order, whole or in part",
        tag=TAG,
        request=ReceiveIn,
        responses=OrderRow,
        if_match=True,
        description="What came goes on the shelf in the same transaction. More than ordered is recorded as it is.",
        request_example={"lines": [{"line": 1, "quantity": "1", "lot": "L-3310", "cure_date": "3Q2026"}]},
    )
    def post(self, request: Request, order: uuid.UUID) -> Response:
        body = read_body(request, ReceiveIn)
        arrived = [Arrived(one["line"], one["quantity"], one["lot"], one.get("cure_date")) for one in body["lines"]]
        return _act(
            request,
            order,
            lambda version: receive_order(
                by=caller_of(request),
                order_id=order,
                expected_version=version,
                arrived=arrived,
                occurred_at=body.get("occurred_at"),
            ),
            key_required=True,
        )


class CloseShortView(APIView):
    @describe(
        summary="Close an order short", tag=TAG, request=OrderReasonIn, responses=OrderRow, if_match=True,
        description="The rest will not come.", request_example={"reason": "supplier cannot deliver the rest"},
    )  # fmt: skip
    def post(self, request: Request, order: uuid.UUID) -> Response:
        body = read_body(request, OrderReasonIn)
        return _act(
            request,
            order,
            lambda version: close_short(
                by=caller_of(request), order_id=order, expected_version=version, reason=body["reason"]
            ),
        )


class CancelOrderView(APIView):
    @describe(
        summary="Cancel an order",
        tag=TAG,
        request=OrderReasonIn,
        responses=OrderRow,
        if_match=True,
        request_example={"reason": "ordered twice"},
    )
    def post(self, request: Request, order: uuid.UUID) -> Response:
        body = read_body(request, OrderReasonIn)
        return _act(
            request,
            order,
            lambda version: cancel_order(
                by=caller_of(request), order_id=order, expected_version=version, reason=body["reason"]
            ),
        )
