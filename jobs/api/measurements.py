"""Measurements of a job."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from jobs.api.readings import BudgetLineShape, GivenIn, ReadingsIn, ReadingsShape, ReasonShape, ResultShape
from jobs.operations.measurements import record_measurement
from jobs.queries.jobs import measurements
from services.api.filters import CountingNumberFilter, Filters
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.views import ListView
from services.api.writes import Answer, answer_write
from services.identity.callers import caller_of

TAG = "Measurements"


class MeasurementRow(Rows):
    id = serializers.UUIDField()
    step = serializers.IntegerField(source="job_characteristic.job_step.number")
    characteristic = serializers.CharField(source="job_characteristic.code")
    attempt = serializers.IntegerField()
    readings = ReadingsShape()
    rule = serializers.CharField(help_text="As it stood; empty in older records.")
    given = serializers.DictField(help_text="What the rule knew besides readings, as it stood.")
    results = ResultShape(many=True, help_text="What else the readings tell, for information.")
    unit = serializers.CharField()
    value = serializers.DecimalField(max_digits=18, decimal_places=6)
    value_si = serializers.DecimalField(max_digits=24, decimal_places=12)
    expanded_uncertainty = serializers.DecimalField(max_digits=18, decimal_places=6)
    coverage_factor = serializers.DecimalField(max_digits=4, decimal_places=2)
    degrees_of_freedom = serializers.DecimalField(
        max_digits=6, decimal_places=1, allow_null=True, help_text="Effective; null for infinitely many."
    )
    decision_rule = serializers.CharField()
    lower = serializers.DecimalField(max_digits=18, decimal_places=6, allow_null=True)
    upper = serializers.DecimalField(max_digits=18, decimal_places=6, allow_null=True)
    limits_unit = serializers.CharField()
    verdict = serializers.CharField(help_text="accept, reject or not-proved.")
    room_to_limit = serializers.DecimalField(max_digits=18, decimal_places=6, allow_null=True)
    room_left = serializers.DecimalField(
        max_digits=18, decimal_places=6, allow_null=True, help_text="To the limit less the guard band."
    )
    reasons = ReasonShape(many=True)
    budget = BudgetLineShape(many=True)
    instrument = serializers.CharField(source="instrument.number")
    calibration_due = serializers.DateField()
    second_instrument = serializers.CharField(source="second_instrument.number", allow_null=True)
    second_calibration_due = serializers.DateField(allow_null=True)
    occurred_at = serializers.DateTimeField()
    recorded_at = serializers.DateTimeField()
    by = serializers.CharField(source="by.name")


class MeasurementShape(MeasurementRow):
    """A measurement inside a job sheet."""


class MeasurementIn(Body):
    id = serializers.UUIDField(required=False, help_text="Made by the client; the same id is recorded once.")
    step = serializers.IntegerField(min_value=1)
    characteristic = serializers.CharField(max_length=60)
    readings = ReadingsIn()
    unit = serializers.CharField(max_length=20, help_text="Of the readings.")
    given = GivenIn(required=False, help_text="What else the rule asks for: temperatures, sag, distances.")
    instrument = serializers.UUIDField()
    second_instrument = serializers.UUIDField(required=False)
    as_read = serializers.BooleanField(
        required=False, help_text="Somebody looked again: readings that look like another unit's are right."
    )
    occurred_at = serializers.DateTimeField(required=False)


class MeasurementFilters(Filters):
    step = CountingNumberFilter("job_characteristic__job_step__number", help_text="The step's number.")
    characteristic = django_filters.CharFilter("job_characteristic__code", help_text="The characteristic's code.")
    verdict = django_filters.CharFilter(help_text="accept, reject or not-proved.")

    class Meta:
        fields: list[str] = []


class JobMeasurementsView(ListView):
    rows = MeasurementRow
    filters = MeasurementFilters
    order = ("recorded_at", "id")

    def rows_for(self, request: Request) -> Any:
        return measurements(by=caller_of(request)).filter(job_id=self.kwargs["job"])

    @describe(
        summary="Measurements of a job, rejected ones included",
        tag=TAG,
        responses=page_of(MeasurementRow),
        filters=MeasurementFilters,
        operation_id="job_measurements_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Record a measurement; the answer is its verdict",
        tag=TAG,
        request=MeasurementIn,
        responses=MeasurementRow,
        status=201,
        request_example={
            "step": 14,
            "characteristic": "shaft-run-out",
            "readings": ["0.00", "0.03", "0.02", "-0.01"],
            "unit": "mm",
            "instrument": "0199a0c4-0000-7000-8000-0000000000cc",
        },
    )
    def post(self, request: Request, job: uuid.UUID) -> Response:
        body = read_body(request, MeasurementIn)

        def perform() -> Answer:
            made = record_measurement(
                by=caller_of(request),
                job_id=job,
                step=body["step"],
                characteristic=body["characteristic"],
                readings=body["readings"],
                unit=body["unit"],
                instrument_id=body["instrument"],
                second_instrument_id=body.get("second_instrument"),
                given=body.get("given"),
                as_read=body.get("as_read", False),
                occurred_at=body.get("occurred_at"),
                measurement_id=body.get("id"),
            )
            return Answer(MeasurementRow.select(measurements(by=caller_of(request)).filter(pk=made.pk)).first(), 201)

        return answer_write(request, perform)
