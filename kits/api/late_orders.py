"""What is late at suppliers, and chasing them."""

import uuid
from typing import Any

import django_filters
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kits.api.orders import TAG, OrderRow, order_row
from kits.models import OrderChase, OrderLine
from kits.operations.late_orders import record_chase
from kits.queries.late_orders import add_expectations, chases, late_lines
from services.api.filters import Filters
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView
from services.api.writes import Answer, answer_write, changed
from services.identity.callers import caller_of


class LastChaseShape(serializers.Serializer[Any]):
    by_name = serializers.CharField()
    chased_at = serializers.DateTimeField()
    said = serializers.CharField()
    promised_on = serializers.DateField(allow_null=True)


class LateLineRow(Rows):
    computed = ("days_late", "counted_on", "last_chase", "words")
    id = serializers.UUIDField(help_text="Of the line.")
    order = serializers.UUIDField()
    order_number = serializers.CharField(source="order.number")
    order_version = serializers.IntegerField(source="order.version", help_text="For If-Match when it is chased.")
    state = serializers.CharField(source="order.state")
    line = serializers.IntegerField()
    site = serializers.UUIDField(source="order.site_id")
    site_code = serializers.CharField(source="order.site.code")
    supplier = serializers.UUIDField(source="order.supplier_id")
    supplier_code = serializers.CharField(source="order.supplier.code")
    item = serializers.UUIDField()
    number = serializers.CharField(source="item.number")
    revision = serializers.CharField(source="item.revision")
    name = serializers.CharField(source="item.name")
    rest = serializers.DecimalField(max_digits=12, decimal_places=3, help_text="Still to come.")
    expected_on = serializers.DateField(help_text="As ordered.")
    promised_on = serializers.DateField(allow_null=True, help_text="What the supplier said last.")
    due_on = serializers.DateField(help_text="What the supplier promised last, else the day expected.")
    days_late = serializers.IntegerField()
    counted_on = serializers.DateField(
        allow_null=True, help_text="From today by the supplier's usual lateness; null where it is not counted on."
    )
    last_chase = LastChaseShape(allow_null=True)
    words = serializers.CharField()


class LateLineFilters(Filters):
    site = django_filters.UUIDFilter("order__site_id", help_text="The site's id.")
    supplier = django_filters.UUIDFilter("order__supplier_id", help_text="The supplier's id.")
    item = django_filters.UUIDFilter("item_id", help_text="The item's id.")
    order = django_filters.UUIDFilter("order_id", help_text="The order's id.")
    due_on__lte = django_filters.DateFilter("due_on", "lte", help_text="Due on this day or before.")
    chased = django_filters.BooleanFilter(help_text="Whether anybody asked the supplier for them.")

    class Meta:
        model = OrderLine
        fields: list[str] = []


class LateOrdersView(ListView):
    rows = LateLineRow
    filters = LateLineFilters
    order = ("due_on", "id")

    def rows_for(self, request: Request) -> Any:
        return late_lines(by=caller_of(request), on=timezone.now().date())

    def shape(self, page: list[dict[str, Any]], request: Request) -> None:
        needed = {"order", "order_number", "line", "supplier", "supplier_code", "number", "due_on", "rest"}
        if page and needed <= set(page[0]):
            add_expectations(page, timezone.now().date())

    @describe(
        summary="List lines of orders that are late, the longest first",
        tag=TAG,
        responses=page_of(LateLineRow),
        filters=LateLineFilters,
        operation_id="late_orders_list",
        description="Past due it is counted on from today by the supplier's usual lateness: the median of its latest "
        "200 receipts. More than 30 days past due (common practice, no source) it is not counted on any more.",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


class ChaseRow(Rows):
    id = serializers.UUIDField()
    order = serializers.UUIDField()
    line = serializers.IntegerField(source="line.line", allow_null=True, help_text="Null: the whole order.")
    by_name = serializers.CharField(source="by.name")
    chased_at = serializers.DateTimeField()
    recorded_at = serializers.DateTimeField()
    said = serializers.CharField()
    promised_on = serializers.DateField(allow_null=True)


class ChaseIn(Body):
    said = serializers.CharField(max_length=500, help_text="What the supplier answered.")
    line = serializers.IntegerField(required=False, min_value=1, help_text="Left out: the whole order.")
    promised_on = serializers.DateField(required=False, help_text="The new day it named.")
    chased_at = serializers.DateTimeField(required=False, help_text="Now if left out.")


class ChaseFilters(Filters):
    line = django_filters.NumberFilter("line__line", help_text="The line's number.")

    class Meta:
        model = OrderChase
        fields: list[str] = []


class OrderChasesView(ListView):
    rows = ChaseRow
    filters = ChaseFilters
    order = ("-id",)

    def rows_for(self, request: Request) -> Any:
        return chases(by=caller_of(request), order_id=self.kwargs["order"])

    @describe(
        summary="List how an order's supplier was chased, the newest first",
        tag=TAG,
        responses=page_of(ChaseRow),
        filters=ChaseFilters,
        operation_id="order_chases_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Record that the supplier was chased",
        tag=TAG,
        request=ChaseIn,
        responses=OrderRow,
        if_match=True,
        description="What the supplier said, and the new day it promised: projections and promises count on that day.",
        request_example={"line": 1, "said": "held up at the foundry", "promised_on": "2027-02-12"},
    )
    def post(self, request: Request, order: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, ChaseIn)

        def perform() -> Answer:
            record_chase(by=caller_of(request), order_id=order, expected_version=version, **body)
            return changed(order_row(caller_of(request), order) or {})

        return answer_write(request, perform, key_required=True)
