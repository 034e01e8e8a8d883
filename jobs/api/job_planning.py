"""What a job needs, its history, and moving it: to another day, to another person, in part to another job."""

import uuid
from decimal import Decimal
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.jobs import TAG, JobDetail, job_row
from jobs.operations.readiness import readiness_of
from jobs.operations.rescheduling import hand_over_job, reschedule_job
from jobs.operations.splitting import split_job
from jobs.queries.jobs import job_events
from services.api.filters import Filters, TextInFilter
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import caller_of


class RequirementShape(serializers.Serializer[Any]):
    what = serializers.CharField(help_text="kit, kit-in-date, kit-fits, extra-part, instrument or procedure.")
    met = serializers.BooleanField()
    sentence = serializers.CharField()
    code = serializers.CharField(help_text="Why it is not met; empty where it is.")
    remedy = serializers.CharField()


class JobReadiness(serializers.Serializer[Any]):
    job = serializers.UUIDField()
    number = serializers.CharField()
    state = serializers.CharField()
    planned_start = serializers.DateField()
    ready = serializers.BooleanField()
    requirements = RequirementShape(many=True)


class JobReadinessView(APIView):
    @describe(
        summary="What a job needs for its day, each met or not",
        tag=TAG,
        responses=JobReadiness,
        description="Judged as it is asked for: kit, fit, parts beyond the kit, instruments, procedure.",
        operation_id="job_readiness_read",
    )
    def get(self, request: Request, job: uuid.UUID) -> Response:
        return Response(readiness_of(by=caller_of(request), job_id=job), headers={"Cache-Control": "private, no-cache"})


class JobEventRow(Rows):
    id = serializers.UUIDField()
    job = serializers.UUIDField()
    kind = serializers.CharField(help_text="As in the change feed.")
    state = serializers.CharField(help_text="The job's state after it.")
    reason = serializers.CharField()
    facts = serializers.DictField(help_text="What belongs to the kind: from whom to whom, from which day, which steps.")
    by = serializers.CharField(source="by.name", allow_null=True, help_text="Empty where it came about by itself.")
    at = serializers.DateTimeField()


class JobEventFilters(Filters):
    kind = django_filters.CharFilter(help_text="One kind, such as job.held.")
    kind__in = TextInFilter("kind", help_text="Several kinds, separated by commas.")

    class Meta:
        fields: list[str] = []


class JobHistoryView(ListView):
    rows = JobEventRow
    filters = JobEventFilters
    order = ("id",)

    def rows_for(self, request: Request) -> Any:
        return job_events(by=caller_of(request)).filter(job_id=self.kwargs["job"])

    @describe(
        summary="What became of a job, by whom, when and why",
        tag=TAG,
        responses=page_of(JobEventRow),
        filters=JobEventFilters,
        operation_id="job_history_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


class RescheduleIn(Body):
    planned_start = serializers.DateField()
    planned_end = serializers.DateField(required=False)
    reason = serializers.CharField(max_length=300)


class RescheduleView(APIView):
    @describe(
        summary="Move a job to another day",
        tag=TAG,
        request=RescheduleIn,
        responses=JobDetail,
        if_match=True,
        description=(
            "What the job claims is needed on the new day; lots that would be out of date by then are exchanged or let "
            "go, and whether it is ready is judged again. Once work has begun only the last day moves."
        ),
        request_example={"planned_start": "2026-12-04", "reason": "the crane comes on Friday"},
    )
    def post(self, request: Request, job: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, RescheduleIn)

        def perform() -> Answer:
            reschedule_job(by=caller_of(request), job_id=job, expected_version=version, **body)
            return changed(job_row(caller_of(request), job) or {})

        return answer_write(request, perform)


class HandOverIn(Body):
    to = serializers.UUIDField(allow_null=True, help_text="A fitter or supervisor of the site; null: nobody's for now.")
    note = serializers.CharField(max_length=2000, required=False, help_text="How things stand.")


class HandOverView(APIView):
    @describe(
        summary="Hand a job over to another fitter",
        tag=TAG,
        request=HandOverIn,
        responses=JobDetail,
        if_match=True,
        description="With a note on how things stand. Who had it before stays in the job's history.",
        request_example={
            "to": "0199a0c4-0000-7000-8000-0000000000ee",
            "note": "Shaft is out and measured; the seat of the bearing is next.",
        },
    )
    def post(self, request: Request, job: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, HandOverIn)

        def perform() -> Answer:
            hand_over_job(by=caller_of(request), job_id=job, expected_version=version, **body)
            return changed(job_row(caller_of(request), job) or {})

        return answer_write(request, perform)


class WaitingPartIn(Body):
    part = serializers.UUIDField()
    quantity = serializers.DecimalField(max_digits=9, decimal_places=3, min_value=Decimal("0.001"))
    role = serializers.CharField(max_length=40, help_text="The position it is for.")
    reason = serializers.CharField(max_length=2000, required=False)


class SplitIn(Body):
    id = serializers.UUIDField(required=False, help_text="The follow-up's id, made by the client.")
    steps = serializers.ListField(child=serializers.IntegerField(min_value=1), min_length=1, max_length=500)
    repeats = serializers.ListField(
        child=serializers.IntegerField(min_value=1), required=False, help_text="Done steps that the follow-up repeats."
    )
    planned_start = serializers.DateField()
    planned_end = serializers.DateField(required=False)
    reason = serializers.CharField(max_length=300)
    moves_kit = serializers.BooleanField(required=False, help_text="The kit, not issued yet, goes to the follow-up.")
    extra_parts = serializers.ListField(
        child=serializers.UUIDField(), required=False, help_text="Extra parts asked for here that it needs instead."
    )
    parts = WaitingPartIn(many=True, required=False)


class SplitView(APIView):
    @describe(
        summary="Split a job: what must wait becomes a follow-up",
        tag=TAG,
        request=SplitIn,
        responses=JobDetail,
        status=201,
        if_match=True,
        description=(
            "Open steps of dismantling, cleaning, inspecting and assembling can wait. Making safe, closing up and "
            "testing belong to each visit: they stay, and the follow-up does them again. The answer is the follow-up."
        ),
        request_example={
            "steps": [120, 130],
            "planned_start": "2026-12-14",
            "reason": "the wear ring comes next week",
            "parts": [
                {"part": "0199a0c4-0000-7000-8000-0000000000ff", "quantity": "1", "role": "wear-ring-casing"},
            ],
        },
    )
    def post(self, request: Request, job: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, SplitIn)
        follow_up_id = body.pop("id", None)

        def perform() -> Answer:
            made = split_job(
                by=caller_of(request), job_id=job, expected_version=version, follow_up_id=follow_up_id, **body
            )
            return created(job_row(caller_of(request), made.pk) or {}, f"/api/v1/jobs/{made.pk}")

        return answer_write(request, perform, key_required=True)
