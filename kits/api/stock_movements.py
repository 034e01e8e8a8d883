"""The ledger: reading it, adding to it, reversing what was wrong."""

import uuid
from typing import Any

import django_filters
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.api.cure_dates import CureDateField
from kits.models import Condition, Movement
from kits.operations.corrections import reverse_movement
from kits.operations.stock_entries import BY_HAND, StockEntry, record_entry
from kits.queries.movements import movements
from services.api.filters import Filters, TextInFilter
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write
from services.identity.callers import caller_of

TAG = "Stock"


class MovementRow(Rows):
    id = serializers.UUIDField()
    kind = serializers.CharField()
    site = serializers.UUIDField()
    site_code = serializers.CharField(source="site.code")
    bin_code = serializers.CharField(source="bin.code")
    item = serializers.UUIDField()
    item_number = serializers.CharField(source="item.number")
    item_revision = serializers.CharField(source="item.revision")
    lot = serializers.UUIDField()
    lot_number = serializers.CharField(source="lot.number")
    condition = serializers.CharField()
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3, help_text="Signed: what the balance gains.")
    occurred_at = serializers.DateTimeField()
    recorded_at = serializers.DateTimeField()
    by_name = serializers.CharField(source="by.name")
    reason = serializers.CharField()
    job_number = serializers.CharField()
    order_number = serializers.CharField(source="order_line.order.number", allow_null=True)
    transfer_number = serializers.CharField(source="transfer_line.transfer.number", allow_null=True)
    reverses = serializers.UUIDField(allow_null=True)
    external_id = serializers.CharField(allow_null=True)


class MovementFilters(Filters):
    site = django_filters.UUIDFilter("site_id", help_text="The site's id.")
    site_code = django_filters.CharFilter("site__code", help_text="The site's code.")
    item = django_filters.UUIDFilter("item_id", help_text="The item's id.")
    item_number = django_filters.CharFilter("item__number", "iexact", help_text="The item's number.")
    lot_number = django_filters.CharFilter("lot__number", help_text="The lot's number.")
    kind = django_filters.CharFilter(help_text="One kind of movement.")
    kind__in = TextInFilter("kind", help_text="Several kinds, separated by commas.")
    job_number = django_filters.CharFilter(help_text="The job it was for.")
    occurred_at__gte = django_filters.IsoDateTimeFilter("occurred_at", "gte", help_text="From this moment on.")
    occurred_at__lt = django_filters.IsoDateTimeFilter("occurred_at", "lt", help_text="Before this moment.")

    class Meta:
        model = Movement
        fields: list[str] = []


class MovementIn(Body):
    id = serializers.UUIDField(required=False, help_text="A UUID made by the client.")
    kind = serializers.ChoiceField(choices=BY_HAND)
    site = serializers.UUIDField()
    bin = serializers.CharField(max_length=40, required=False, help_text="A bin's code; the default bin if left out.")
    to_bin = serializers.CharField(max_length=40, required=False, help_text="Where to, for a bin move.")
    item = serializers.UUIDField()
    lot = serializers.CharField(max_length=60)
    quantity = serializers.DecimalField(
        max_digits=12, decimal_places=3, help_text="What was moved, above zero; the difference for a count adjustment."
    )
    condition = serializers.ChoiceField(choices=Condition.choices, required=False, help_text="usable if left out.")
    cure_date = CureDateField(required=False)
    occurred_at = serializers.DateTimeField(required=False)
    reason = serializers.CharField(max_length=300)
    happened = serializers.BooleanField(
        required=False,
        help_text="Of an issue: it was taken already, whatever the book says; what the book lacks is a discrepancy.",
    )


class MovementsAnswer(serializers.Serializer[Any]):
    movements = MovementRow(many=True)


class ReversalIn(Body):
    reason = serializers.CharField(max_length=300)


def _answer(request: Request, made: list[Movement]) -> Answer:
    rows = MovementRow.select(movements(by=caller_of(request)).filter(pk__in=[one.pk for one in made])).order_by("id")
    location = {"Location": f"/api/v1/stock-movements/{made[0].pk}"} if made else {}
    return Answer({"movements": list(rows)}, 201, location)


class StockMovementsView(ListView):
    rows = MovementRow
    filters = MovementFilters
    order = ("-id",)

    def rows_for(self, request: Request) -> Any:
        return movements(by=caller_of(request))

    @describe(
        summary="List movements, the newest first",
        tag=TAG,
        responses=page_of(MovementRow),
        filters=MovementFilters,
        operation_id="stock_movements_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Record what happened on a shelf",
        tag=TAG,
        request=MovementIn,
        responses=MovementsAnswer,
        status=201,
        description=(
            "Receipts without an order, issues without a job, scrap, bin moves, changes of condition, differences of a "
            "count. What a loss takes from reserved stock is first reserved elsewhere or released. An issue that "
            "happened already, away from the network, is never refused: what the book knows of is posted, the rest is "
            "a stock discrepancy. What happened before the last count of its shelf is answered by an opposite "
            "adjustment, since that count saw it."
        ),
        request_example={
            "kind": "scrap",
            "site": "0199a0c4-0000-7000-8000-000000000001",
            "item": "0199a0c4-0000-7000-8000-0000000000bb",
            "lot": "L-2207",
            "quantity": "1",
            "reason": "bag torn, seal face chipped",
        },
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, MovementIn)

        def perform() -> Answer:
            entry = StockEntry(
                kind=body["kind"],
                site_id=body["site"],
                item_id=body["item"],
                lot=body["lot"],
                quantity=body["quantity"],
                occurred_at=body.get("occurred_at") or timezone.now(),
                bin=body.get("bin", ""),
                to_bin=body.get("to_bin", ""),
                condition=body.get("condition", Condition.USABLE),
                cure_date=body.get("cure_date"),
                reason=body["reason"],
                id=body.get("id"),
                happened=body.get("happened", False),
            )
            return _answer(request, record_entry(by=caller_of(request), entry=entry))

        return answer_write(request, perform, key_required=True)


class StockMovementView(APIView):
    @describe(summary="One movement", tag=TAG, responses=MovementRow, operation_id="stock_movements_read")
    def get(self, request: Request, movement: uuid.UUID) -> Response:
        row = MovementRow.select(movements(by=caller_of(request)).filter(pk=movement)).first()
        return answer_one(request, row, "The movement")


class ReverseMovementView(APIView):
    @describe(
        summary="Reverse a movement",
        tag=TAG,
        request=ReversalIn,
        responses=MovementsAnswer,
        status=201,
        description="Adds the opposite movement, which names the one it reverses. Nothing is changed or removed.",
        request_example={"reason": "booked to the wrong lot"},
    )
    def post(self, request: Request, movement: uuid.UUID) -> Response:
        body = read_body(request, ReversalIn)
        return answer_write(
            request,
            lambda: _answer(
                request, reverse_movement(by=caller_of(request), movement_id=movement, reason=body["reason"])
            ),
            key_required=True,
        )
