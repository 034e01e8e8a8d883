"""Claims of jobs on stock, and lots."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.models import Lot, Reservation
from kits.operations.lot_exchange import request_exchange
from kits.operations.lots import extend_lot
from kits.queries.lots import lots
from kits.queries.reservations import reservations
from services.api.filters import Filters, TextInFilter
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed
from services.identity.callers import Caller, caller_of

TAG = "Stock"


class ReservationRow(Rows):
    id = serializers.UUIDField()
    job = serializers.UUIDField(source="job_id")
    job_number = serializers.CharField()
    site = serializers.UUIDField()
    site_code = serializers.CharField(source="site.code")
    item = serializers.UUIDField()
    item_number = serializers.CharField(source="item.number")
    item_revision = serializers.CharField(source="item.revision")
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3)
    issued = serializers.DecimalField(max_digits=12, decimal_places=3)
    need_date = serializers.DateField()
    state = serializers.CharField(help_text="soft, hard, issued or released.")
    criticality = serializers.CharField(help_text="Of the job's pump; empty where it is not known.")
    version = serializers.IntegerField()


class ReservationFilters(Filters):
    site = django_filters.UUIDFilter("site_id", help_text="The site's id.")
    item = django_filters.UUIDFilter("item_id", help_text="The item's id.")
    job = django_filters.UUIDFilter("job_id", help_text="The job's id.")
    job_number = django_filters.CharFilter(help_text="The job's number.")
    state = django_filters.CharFilter(help_text="One state.")
    state__in = TextInFilter("state", help_text="Several states, separated by commas.")
    need_date__lte = django_filters.DateFilter("need_date", "lte", help_text="Needed on or before.")

    class Meta:
        model = Reservation
        fields: list[str] = []


class ReservationsView(ListView):
    rows = ReservationRow
    filters = ReservationFilters
    order = ("need_date", "id")

    def rows_for(self, request: Request) -> Any:
        return reservations(by=caller_of(request))

    @describe(
        summary="List claims of jobs on stock",
        tag=TAG,
        responses=page_of(ReservationRow),
        filters=ReservationFilters,
        operation_id="reservations_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


def reservation_row(by: Caller, reservation_id: Any) -> dict[str, Any] | None:
    """A claim as it is answered."""
    return ReservationRow.select(reservations(by=by).filter(pk=reservation_id)).first()


class ReservationView(APIView):
    @describe(summary="One claim", tag=TAG, responses=ReservationRow, operation_id="reservations_read")
    def get(self, request: Request, reservation: uuid.UUID) -> Response:
        return answer_one(request, reservation_row(caller_of(request), reservation), "The reservation")


class ReviewIn(Body):
    site = serializers.UUIDField()


class ReviewAnswer(serializers.Serializer[Any]):
    run = serializers.UUIDField()
    state = serializers.CharField()


class ReservationReviewsView(APIView):
    @describe(
        summary="Ask for the reserved lots of a site to be gone over",
        tag=TAG,
        request=ReviewIn,
        responses=ReviewAnswer,
        status=202,
        description=(
            "Where a lot that dies earlier still lasts until the job, it is held instead of one that dies later; a lot "
            "that will be dead on the day is exchanged for one that lasts. No claim is left with less. A worker does "
            "it, every night by itself; GET /background-runs/{id} tells how it went."
        ),
        request_example={"site": "0199a0c4-0000-7000-8000-000000000001"},
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, ReviewIn)

        def perform() -> Answer:
            run = request_exchange(by=caller_of(request), site_id=body["site"])
            return Answer({"run": run, "state": "queued"}, 202, {"Location": f"/api/v1/background-runs/{run}"})

        return answer_write(request, perform, key_required=True)


class LotRow(Rows):
    id = serializers.UUIDField()
    number = serializers.CharField()
    item = serializers.UUIDField()
    item_number = serializers.CharField(source="item.number")
    item_revision = serializers.CharField(source="item.revision")
    received_on = serializers.DateField()
    cure_date = serializers.DateField(allow_null=True)
    expires_on = serializers.DateField(allow_null=True, help_text="Last day it may be fitted; none if nothing ages.")
    extended_at = serializers.DateTimeField(allow_null=True)
    version = serializers.IntegerField()


class LotFilters(Filters):
    item = django_filters.UUIDFilter("item_id", help_text="The item's id.")
    number = django_filters.CharFilter(help_text="The lot's number.")
    expires_on__lte = django_filters.DateFilter("expires_on", "lte", help_text="Last day on or before this one.")

    class Meta:
        model = Lot
        fields: list[str] = []


class ExtensionIn(Body):
    inspected = serializers.CharField(
        max_length=2000, help_text="What was looked at and seen, for every ageing part (ISO 2230)."
    )


def lot_row(by: Caller, lot_id: Any) -> dict[str, Any] | None:
    """A lot as it is answered."""
    return LotRow.select(lots(by=by).filter(pk=lot_id)).first()


class LotsView(ListView):
    rows = LotRow
    filters = LotFilters
    order = ("number", "id")

    def rows_for(self, request: Request) -> Any:
        return lots(by=caller_of(request))

    @describe(
        summary="List lots that lie or lay at your sites",
        tag=TAG,
        responses=page_of(LotRow),
        filters=LotFilters,
        operation_id="lots_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


class LotView(APIView):
    @describe(summary="One lot", tag=TAG, responses=LotRow, operation_id="lots_read")
    def get(self, request: Request, lot: uuid.UUID) -> Response:
        return answer_one(request, lot_row(caller_of(request), lot), "The lot")


class ExtendLotView(APIView):
    @describe(
        summary="Extend a lot after inspection",
        tag=TAG,
        request=ExtensionIn,
        responses=LotRow,
        description="Once in a lot's life, after every ageing part of it was inspected (ISO 2230).",
        request_example={"inspected": "all O-rings: no cracks when stretched, no tackiness, packs sealed"},
    )
    def post(self, request: Request, lot: uuid.UUID) -> Response:
        body = read_body(request, ExtensionIn)

        def perform() -> Answer:
            extend_lot(by=caller_of(request), lot_id=lot, inspected={"remark": body["inspected"]})
            return changed(lot_row(caller_of(request), lot) or {})

        return answer_write(request, perform)
