"""Nonconformities, signatures, and what sits in the pumps."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.operations.nonconformities import decide, raise_nonconformity
from jobs.queries.jobs import fitted_parts, nonconformities, sign_offs
from services.api.filters import Filters
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import caller_of

TAG = "Records"


class NonconformityRow(Rows):
    id = serializers.UUIDField()
    job = serializers.UUIDField()
    job_number = serializers.CharField(source="job.number")
    measurement = serializers.UUIDField(allow_null=True)
    role = serializers.CharField(help_text="The position, where one is named.")
    description = serializers.CharField()
    disposition = serializers.CharField(help_text="rework, replace, use-as-is, or empty while undecided.")
    state = serializers.CharField(help_text="open, decided or closed.")
    raised_by = serializers.CharField(source="raised_by.name")
    decided_by = serializers.CharField(source="decided_by.name", allow_null=True)
    decided_at = serializers.DateTimeField(allow_null=True)
    decision_reason = serializers.CharField()
    extent = serializers.CharField(help_text="What a concession holds for.")
    closed_at = serializers.DateTimeField(allow_null=True)
    version = serializers.IntegerField()


class NonconformityIn(Body):
    id = serializers.UUIDField(required=False)
    job = serializers.UUIDField()
    role = serializers.CharField(max_length=40, required=False)
    description = serializers.CharField(max_length=2000)


class DecisionIn(Body):
    disposition = serializers.ChoiceField(["rework", "replace", "use-as-is"])
    reason = serializers.CharField(max_length=2000)
    extent = serializers.CharField(
        max_length=500,
        required=False,
        help_text="For use-as-is: which part it holds for, and until when.",
    )


class NonconformityFilters(Filters):
    job = django_filters.UUIDFilter("job_id", help_text="The job's id.")
    site = django_filters.UUIDFilter("job__site_id", help_text="The site's id.")
    state = django_filters.CharFilter(help_text="open, decided or closed.")
    disposition = django_filters.CharFilter(help_text="rework, replace or use-as-is.")

    class Meta:
        fields: list[str] = []


def _nonconformity(request: Request, one: uuid.UUID) -> dict[str, Any] | None:
    return NonconformityRow.select(nonconformities(by=caller_of(request)).filter(pk=one)).first()


class NonconformitiesView(ListView):
    rows = NonconformityRow
    filters = NonconformityFilters
    order = ("-id",)

    def rows_for(self, request: Request) -> Any:
        return nonconformities(by=caller_of(request))

    @describe(
        summary="List nonconformities",
        tag=TAG,
        responses=page_of(NonconformityRow),
        filters=NonconformityFilters,
        operation_id="nonconformities_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Raise a nonconformity",
        tag=TAG,
        request=NonconformityIn,
        responses=NonconformityRow,
        status=201,
        request_example={
            "job": "0199a0c4-0000-7000-8000-0000000000dd",
            "role": "shaft-sleeve",
            "description": "Scored over a third of its length.",
        },
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, NonconformityIn)

        def perform() -> Answer:
            made = raise_nonconformity(
                by=caller_of(request),
                job_id=body["job"],
                description=body["description"],
                role=body.get("role", ""),
                nonconformity_id=body.get("id"),
            )
            return created(_nonconformity(request, made.pk) or {}, f"/api/v1/nonconformities/{made.pk}")

        return answer_write(request, perform)


class NonconformityView(APIView):
    @describe(summary="One nonconformity", tag=TAG, responses=NonconformityRow, operation_id="nonconformities_read")
    def get(self, request: Request, nonconformity: uuid.UUID) -> Response:
        return answer_one(request, _nonconformity(request, nonconformity), "The nonconformity")


class DecideView(APIView):
    @describe(
        summary="Decide about a nonconformity",
        tag=TAG,
        request=DecisionIn,
        responses=NonconformityRow,
        if_match=True,
        description=(
            "use-as-is is a concession: by a supervisor who neither raised it nor worked on the job, with a reason and "
            "its extent, and signed over what was seen."
        ),
        request_example={"disposition": "rework", "reason": "Straighten the shaft and measure again."},
    )
    def post(self, request: Request, nonconformity: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, DecisionIn)

        def perform() -> Answer:
            decide(by=caller_of(request), nonconformity_id=nonconformity, expected_version=version, **body)
            return changed(_nonconformity(request, nonconformity) or {})

        return answer_write(request, perform)


class SignOffRow(Rows):
    id = serializers.UUIDField()
    job = serializers.UUIDField()
    kind = serializers.CharField(help_text="hold-point, concession or completion.")
    step_number = serializers.IntegerField(allow_null=True)
    nonconformity = serializers.UUIDField(allow_null=True)
    by = serializers.CharField(source="by.name")
    role = serializers.CharField()
    at = serializers.DateTimeField()
    content_hash = serializers.CharField(help_text="SHA-256 over the canonical JSON of what was signed.")
    content = serializers.DictField(help_text="Exactly what was signed.")
    remark = serializers.CharField()


class JobSignOffsView(ListView):
    rows = SignOffRow
    order = ("at", "id")

    def rows_for(self, request: Request) -> Any:
        return sign_offs(by=caller_of(request)).filter(job_id=self.kwargs["job"])

    @describe(
        summary="Signatures on a job, with what was signed",
        tag=TAG,
        responses=page_of(SignOffRow),
        operation_id="job_sign_offs_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


class FittedPartRow(Rows):
    id = serializers.UUIDField()
    pump = serializers.UUIDField()
    pump_tag = serializers.CharField(source="pump.tag")
    role = serializers.CharField()
    part = serializers.UUIDField()
    part_number = serializers.CharField(source="part.number")
    part_name = serializers.CharField(source="part.name")
    quantity = serializers.DecimalField(max_digits=9, decimal_places=3)
    lot = serializers.CharField(source="lot.number", allow_null=True)
    job = serializers.UUIDField()
    job_number = serializers.CharField(source="job.number")
    fitted_at = serializers.DateTimeField()
    removed_at = serializers.DateTimeField(allow_null=True)
    removed_by_job = serializers.CharField(source="removed_by_job.number", allow_null=True)
    removed_condition = serializers.CharField()


class FittedPartFilters(Filters):
    role = django_filters.CharFilter(help_text="The position's role.")
    job = django_filters.UUIDFilter("job_id", help_text="The job that fitted it.")
    fitted_now = django_filters.BooleanFilter("removed_at", "isnull", help_text="true: still in the pump.")

    class Meta:
        fields: list[str] = []


class PumpFittedPartsView(ListView):
    rows = FittedPartRow
    filters = FittedPartFilters
    order = ("-fitted_at", "id")

    def rows_for(self, request: Request) -> Any:
        return fitted_parts(by=caller_of(request)).filter(pump_id=self.kwargs["pump"])

    @describe(
        summary="What sits, or sat, in a pump",
        tag=TAG,
        responses=page_of(FittedPartRow),
        filters=FittedPartFilters,
        operation_id="pump_fitted_parts_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)
