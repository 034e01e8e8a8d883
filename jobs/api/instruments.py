"""Measuring instruments."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.models import Instrument
from jobs.operations.instruments import change_instrument, register_instrument
from jobs.queries.instruments import instruments
from services.api.filters import Filters
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import answer_write, changed, created
from services.identity.callers import caller_of

TAG = "Instruments"
EXAMPLE = {
    "number": "MIC-07",
    "type": "outside-micrometer",
    "site": "0199a0c4-0000-7000-8000-000000000001",
    "range_from": "25",
    "range_to": "50",
    "unit": "mm",
    "resolution": "0.001",
    "expanded_uncertainty": "0.002",
    "calibrated_on": "2026-03-02",
    "calibration_due": "2027-03-02",
}


class InstrumentRow(Rows):
    id = serializers.UUIDField()
    number = serializers.CharField()
    type = serializers.CharField()
    site = serializers.UUIDField()
    site_code = serializers.CharField(source="site.code")
    range_from = serializers.DecimalField(max_digits=14, decimal_places=6)
    range_to = serializers.DecimalField(max_digits=14, decimal_places=6)
    unit = serializers.CharField()
    resolution = serializers.DecimalField(max_digits=14, decimal_places=6)
    expanded_uncertainty = serializers.DecimalField(max_digits=14, decimal_places=6, help_text="k = 2, in its unit.")
    calibrated_on = serializers.DateField()
    calibration_due = serializers.DateField()
    version = serializers.IntegerField()


class InstrumentIn(Body):
    number = serializers.CharField(max_length=40)
    type = serializers.CharField(max_length=60)
    site = serializers.UUIDField()
    range_from = serializers.DecimalField(max_digits=14, decimal_places=6)
    range_to = serializers.DecimalField(max_digits=14, decimal_places=6)
    unit = serializers.CharField(max_length=20)
    resolution = serializers.DecimalField(max_digits=14, decimal_places=6)
    expanded_uncertainty = serializers.DecimalField(max_digits=14, decimal_places=6)
    calibrated_on = serializers.DateField()
    calibration_due = serializers.DateField()


class InstrumentChange(Body):
    resolution = serializers.DecimalField(max_digits=14, decimal_places=6, required=False)
    expanded_uncertainty = serializers.DecimalField(max_digits=14, decimal_places=6, required=False)
    calibrated_on = serializers.DateField(required=False)
    calibration_due = serializers.DateField(required=False)


class InstrumentFilters(Filters):
    site = django_filters.UUIDFilter("site_id", help_text="The site's id.")
    type = django_filters.CharFilter(help_text="The type of instrument.")
    number = django_filters.CharFilter(help_text="Its number.")
    calibration_due__lte = django_filters.DateFilter("calibration_due", "lte", help_text="Due on or before this day.")

    class Meta:
        model = Instrument
        fields: list[str] = []


def _row(request: Request, instrument: uuid.UUID) -> dict[str, Any] | None:
    return InstrumentRow.select(instruments(by=caller_of(request)).filter(pk=instrument)).first()


class InstrumentsView(ListView):
    rows = InstrumentRow
    filters = InstrumentFilters
    order = ("number", "id")

    def rows_for(self, request: Request) -> Any:
        return instruments(by=caller_of(request))

    @describe(
        summary="List instruments",
        tag=TAG,
        responses=page_of(InstrumentRow),
        filters=InstrumentFilters,
        operation_id="instruments_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Register an instrument",
        tag=TAG,
        request=InstrumentIn,
        responses=InstrumentRow,
        status=201,
        request_example=EXAMPLE,
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, InstrumentIn)
        site_id = body.pop("site")

        def perform() -> Any:
            made = register_instrument(by=caller_of(request), site_id=site_id, **body)
            return created(_row(request, made.pk) or {}, f"/api/v1/instruments/{made.pk}")

        return answer_write(request, perform)


class InstrumentView(APIView):
    @describe(summary="One instrument", tag=TAG, responses=InstrumentRow, operation_id="instruments_read")
    def get(self, request: Request, instrument: uuid.UUID) -> Response:
        return answer_one(request, _row(request, instrument), "The instrument")

    @describe(
        summary="Change figures or calibration",
        tag=TAG,
        request=InstrumentChange,
        responses=InstrumentRow,
        if_match=True,
        request_example={"calibrated_on": "2026-11-02", "calibration_due": "2027-11-02"},
    )
    def patch(self, request: Request, instrument: uuid.UUID) -> Response:
        version = expected_version(request)
        body = read_body(request, InstrumentChange, partial=True)

        def perform() -> Any:
            change_instrument(by=caller_of(request), instrument_id=instrument, expected_version=version, **body)
            return changed(_row(request, instrument) or {})

        return answer_write(request, perform)
