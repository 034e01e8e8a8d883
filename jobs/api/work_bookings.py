"""Time booked on jobs."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.operations.work_bookings import book_work
from jobs.queries.jobs import job_for
from jobs.queries.work_bookings import totals_of, work_bookings
from services.api.filters import CountingNumberFilter, Filters
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.views import ListView
from services.api.writes import Answer, answer_write
from services.identity.callers import caller_of

TAG = "Work"


class WorkBookingRow(Rows):
    id = serializers.UUIDField()
    job = serializers.UUIDField()
    job_number = serializers.CharField(source="job.number")
    step = serializers.IntegerField(source="step_number", allow_null=True)
    section = serializers.CharField(help_text="Of the step; empty for the job as a whole.")
    person = serializers.UUIDField()
    person_name = serializers.CharField(source="person.name")
    minutes = serializers.IntegerField()
    started_at = serializers.DateTimeField(allow_null=True)
    ended_at = serializers.DateTimeField(allow_null=True)
    note = serializers.CharField()
    corrects = serializers.UUIDField(allow_null=True, help_text="The booking whose place it takes.")
    corrected_by = serializers.UUIDField(source="corrected_by.id", allow_null=True, help_text="Then it does not count.")
    by = serializers.CharField(source="by.name")
    at = serializers.DateTimeField()


class WorkBookingIn(Body):
    id = serializers.UUIDField(required=False, help_text="A UUID made by the client.")
    minutes = serializers.IntegerField(required=False, min_value=0, max_value=1440)
    started_at = serializers.DateTimeField(required=False)
    ended_at = serializers.DateTimeField(required=False)
    step = serializers.IntegerField(required=False, min_value=1)
    person = serializers.UUIDField(required=False, help_text="Yourself, if left out; a supervisor may name another.")
    note = serializers.CharField(max_length=300, required=False)
    corrects = serializers.UUIDField(required=False, help_text="An earlier booking; 0 minutes take it back.")


class WorkBookingFilters(Filters):
    step = CountingNumberFilter("step_number", help_text="The step's number.")
    section = django_filters.CharFilter(help_text="The section.")
    person = django_filters.UUIDFilter("person_id", help_text="Who worked.")
    counts = django_filters.BooleanFilter("corrected_by", "isnull", help_text="true: without what was corrected.")

    class Meta:
        fields: list[str] = []


class JobWorkView(ListView):
    rows = WorkBookingRow
    filters = WorkBookingFilters
    order = ("id",)

    def rows_for(self, request: Request) -> Any:
        return work_bookings(by=caller_of(request)).filter(job_id=self.kwargs["job"])

    @describe(
        summary="Time booked on a job",
        tag=TAG,
        responses=page_of(WorkBookingRow),
        filters=WorkBookingFilters,
        operation_id="job_work_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Book time on a job or one of its steps",
        tag=TAG,
        request=WorkBookingIn,
        responses=WorkBookingRow,
        status=201,
        description="Minutes, or a beginning and an end. Nothing is overwritten: a correction names what it replaces.",
        request_example={"step": 40, "minutes": 35},
    )
    def post(self, request: Request, job: uuid.UUID) -> Response:
        body = read_body(request, WorkBookingIn)
        named = {"person_id": body.pop("person", None), "booking_id": body.pop("id", None)}

        def perform() -> Answer:
            made = book_work(by=caller_of(request), job_id=job, **named, **body)
            row = WorkBookingRow.select(work_bookings(by=caller_of(request)).filter(pk=made.pk)).first()
            return Answer(row, 201)

        return answer_write(request, perform)


class SectionMinutes(serializers.Serializer[Any]):
    section = serializers.CharField(help_text="whole-job: booked on no step.")
    minutes = serializers.IntegerField()


class StepMinutes(serializers.Serializer[Any]):
    step = serializers.IntegerField()
    minutes = serializers.IntegerField()


class PersonMinutes(serializers.Serializer[Any]):
    person = serializers.CharField()
    minutes = serializers.IntegerField()


class WorkTotalsAnswer(serializers.Serializer[Any]):
    job = serializers.UUIDField()
    minutes = serializers.IntegerField()
    by_section = SectionMinutes(many=True)
    by_step = StepMinutes(many=True)
    by_person = PersonMinutes(many=True)


class JobWorkTotalsView(APIView):
    @describe(
        summary="Minutes booked on a job, by section, step and person",
        tag=TAG,
        responses=WorkTotalsAnswer,
        operation_id="job_work_totals_read",
    )
    def get(self, request: Request, job: uuid.UUID) -> Response:
        found = job_for(caller_of(request), job)
        return Response(totals_of(found.pk), headers={"Cache-Control": "private, no-cache"})
