"""Jobs: planning, claiming the kit, starting, holding, closing."""

import uuid
from collections.abc import Callable
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.models import Job
from jobs.operations.cancelling import cancel_job
from jobs.operations.closing import finish_job, sign_off, take_kit
from jobs.operations.jobs import hold_job, plan_job, reserve_kit, resume_job
from jobs.operations.rescheduling import change_job
from jobs.operations.starting import start_job
from jobs.queries.jobs import jobs
from kits.queries.reservations import of_job
from services.api.filters import Filters, TextInFilter
from services.api.rows import Body, NothingIn, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of

TAG = "Jobs"


class JobRow(Rows):
    id = serializers.UUIDField()
    number = serializers.CharField()
    state = serializers.CharField(
        help_text="planned, ready, in-progress, awaiting-sign-off, closed, on-hold, cancelled."
    )
    state_reasons = serializers.ListField(child=serializers.DictField(), help_text="Why it is not ready, or held.")
    site = serializers.UUIDField()
    site_code = serializers.CharField(source="site.code")
    pump = serializers.UUIDField()
    pump_tag = serializers.CharField(source="pump.tag")
    kit = serializers.UUIDField()
    kit_number = serializers.CharField(source="kit.item.number")
    kit_revision = serializers.CharField(source="kit.item.revision")
    procedure_revision = serializers.UUIDField(source="revision_id")
    procedure_code = serializers.CharField(source="revision.procedure.code")
    procedure_revision_number = serializers.IntegerField(source="revision.revision")
    planned_start = serializers.DateField()
    planned_end = serializers.DateField()
    assignee = serializers.UUIDField(allow_null=True)
    assignee_name = serializers.CharField(source="assignee.name", allow_null=True)
    started_at = serializers.DateTimeField(allow_null=True)
    finished_at = serializers.DateTimeField(allow_null=True)
    closed_at = serializers.DateTimeField(allow_null=True)
    takes_kit = serializers.BooleanField(help_text="false: it needs single parts at most.")
    follows = serializers.UUIDField(allow_null=True, help_text="The job it was split from.")
    follows_number = serializers.CharField(source="follows.number", allow_null=True)
    version = serializers.IntegerField()


class AllocationShape(serializers.Serializer[Any]):
    lot = serializers.CharField()
    expires_on = serializers.DateField(allow_null=True)
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3)
    issued = serializers.DecimalField(max_digits=12, decimal_places=3)
    bin = serializers.CharField()


class ClaimShape(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    item = serializers.UUIDField()
    item_number = serializers.CharField()
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3)
    need_date = serializers.DateField()
    state = serializers.CharField(help_text="soft, hard, issued or released.")
    allocations = AllocationShape(many=True)


class JobDetail(JobRow):
    computed = ("reservations",)
    reservations = ClaimShape(many=True)


class JobIn(Body):
    id = serializers.UUIDField(required=False, help_text="A UUID made by the client.")
    pump = serializers.UUIDField()
    kit = serializers.UUIDField()
    procedure_revision = serializers.UUIDField(
        required=False, help_text="Left out: the one published for the pump's configuration."
    )
    planned_start = serializers.DateField()
    planned_end = serializers.DateField(required=False)
    assignee = serializers.UUIDField(required=False)


class JobChange(Body):
    planned_start = serializers.DateField(required=False)
    planned_end = serializers.DateField(required=False)
    assignee = serializers.UUIDField(required=False, allow_null=True)
    procedure_revision = serializers.UUIDField(
        required=False, help_text="Another published revision for the pump's configuration, before work begins."
    )


class ReasonIn(Body):
    reason = serializers.CharField(max_length=300)


class TakeKitIn(Body):
    occurred_at = serializers.DateTimeField(required=False)


class ReturnedIn(Body):
    part = serializers.UUIDField()
    quantity = serializers.DecimalField(max_digits=9, decimal_places=3, min_value=0)
    reason = serializers.CharField(max_length=200, required=False)


class SignOffIn(Body):
    returned = ReturnedIn(many=True, required=False)
    remark = serializers.CharField(max_length=2000, required=False)
    record = serializers.RegexField(
        r"^sha256:[0-9a-f]{64}\Z",
        required=False,
        help_text="The hash of the record that you saw, from GET /jobs/{id}/record; another one is refused with 412.",
    )


class IssuedShape(serializers.Serializer[Any]):
    movement = serializers.UUIDField()
    lot = serializers.CharField()
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3)


class TakenKit(serializers.Serializer[Any]):
    job = JobDetail()
    issued = IssuedShape(many=True)


class JobFilters(Filters):
    site = django_filters.UUIDFilter("site_id", help_text="The site's id.")
    pump = django_filters.UUIDFilter("pump_id", help_text="The pump's id.")
    pump_tag = django_filters.CharFilter("pump__tag", help_text="The pump's tag.")
    kit = django_filters.UUIDFilter("kit_id", help_text="The kit's id.")
    number = django_filters.CharFilter(help_text="The job's number.")
    follows = django_filters.UUIDFilter("follows_id", help_text="The job it was split from.")
    state = django_filters.CharFilter(help_text="One state.")
    state__in = TextInFilter("state", help_text="Several states, separated by commas.")
    assignee = django_filters.UUIDFilter("assignee_id", help_text="Who does it.")
    planned_start__gte = django_filters.DateFilter("planned_start", "gte", help_text="Starts on or after.")
    planned_start__lte = django_filters.DateFilter("planned_start", "lte", help_text="Starts on or before.")

    class Meta:
        model = Job
        fields: list[str] = []


def job_row(by: Caller, job_id: Any) -> dict[str, Any] | None:
    """A job as it is answered, with what it claims. Three queries."""
    found = JobRow.select(jobs(by=by).filter(pk=job_id)).first()
    return None if found is None else {**found, "reservations": of_job(found["id"])}


class JobsView(ListView):
    rows = JobRow
    filters = JobFilters
    order = ("planned_start", "id")

    def rows_for(self, request: Request) -> Any:
        return jobs(by=caller_of(request))

    @describe(summary="List jobs", tag=TAG, responses=page_of(JobRow), filters=JobFilters, operation_id="jobs_list")
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Plan a job",
        tag=TAG,
        request=JobIn,
        responses=JobDetail,
        status=201,
        description="Plans an overhaul of a pump with a kit whose computed fit allows it, and claims the kit softly.",
        request_example={
            "pump": "0199a0c4-0000-7000-8000-0000000000aa",
            "kit": "0199a0c4-0000-7000-8000-0000000000bb",
            "planned_start": "2026-12-02",
        },
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, JobIn)

        def perform() -> Answer:
            made = plan_job(
                by=caller_of(request),
                pump_id=body["pump"],
                kit_id=body["kit"],
                planned_start=body["planned_start"],
                planned_end=body.get("planned_end"),
                revision_id=body.get("procedure_revision"),
                assignee_id=body.get("assignee"),
                job_id=body.get("id"),
            )
            return created(job_row(caller_of(request), made.pk) or {}, f"/api/v1/jobs/{made.pk}")

        return answer_write(request, perform, key_required=True)


class JobView(APIView):
    @describe(summary="One job, with what it claims", tag=TAG, responses=JobDetail, operation_id="jobs_read")
    def get(self, request: Request, job: uuid.UUID) -> Response:
        return answer_one(request, job_row(caller_of(request), job), "The job")

    @describe(
        summary="Move a job to another day, hand it over, or go over to another revision of the procedure",
        tag=TAG,
        request=JobChange,
        responses=JobDetail,
        if_match=True,
        request_example={"planned_start": "2026-12-04"},
    )
    def patch(self, request: Request, job: uuid.UUID) -> Response:
        version = expected_version(request)
        body = read_body(request, JobChange, partial=True)
        if "assignee" in body:
            body["assignee_id"] = body.pop("assignee")
        if "procedure_revision" in body:
            body["revision_id"] = body.pop("procedure_revision")

        def perform() -> Answer:
            change_job(by=caller_of(request), job_id=job, expected_version=version, **body)
            return changed(job_row(caller_of(request), job) or {})

        return answer_write(request, perform)


def _act(request: Request, job: uuid.UUID, do: Callable[[], Any], *, key_required: bool = False) -> Response:
    def perform() -> Answer:
        do()
        return changed(job_row(caller_of(request), job) or {})

    return answer_write(request, perform, key_required=key_required)


class ReserveKitView(APIView):
    @describe(
        summary="Reserve the job's kit",
        tag=TAG,
        request=NothingIn,
        responses=JobDetail,
        description=(
            "Claims lots that will be in date on the job's day, first expired first out. Where none is left, the "
            "problem names the alternatives you may see: other sites' free quantity, the next receipt, and which "
            "lots were passed over."
        ),
    )
    def post(self, request: Request, job: uuid.UUID) -> Response:
        read_body(request, NothingIn)
        return _act(request, job, lambda: reserve_kit(by=caller_of(request), job_id=job), key_required=True)


class StartView(APIView):
    @describe(
        summary="Start a job that is ready",
        tag=TAG,
        request=NothingIn,
        responses=JobDetail,
        if_match=True,
        description="Resolves steps, limits and advice for this pump and kit. Make-safe steps come first.",
    )
    def post(self, request: Request, job: uuid.UUID) -> Response:
        version = expected_version(request)
        return _act(request, job, lambda: start_job(by=caller_of(request), job_id=job, expected_version=version))


class HoldView(APIView):
    @describe(
        summary="Put a job on hold",
        tag=TAG,
        request=ReasonIn,
        responses=JobDetail,
        if_match=True,
        request_example={"reason": "waiting for the crane"},
    )
    def post(self, request: Request, job: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, ReasonIn)
        return _act(
            request,
            job,
            lambda: hold_job(by=caller_of(request), job_id=job, expected_version=version, reason=body["reason"]),
        )


class ResumeView(APIView):
    @describe(summary="Resume a held job", tag=TAG, request=NothingIn, responses=JobDetail, if_match=True)
    def post(self, request: Request, job: uuid.UUID) -> Response:
        version = expected_version(request)
        return _act(request, job, lambda: resume_job(by=caller_of(request), job_id=job, expected_version=version))


class CancelView(APIView):
    @describe(
        summary="Cancel a job",
        tag=TAG,
        request=ReasonIn,
        responses=JobDetail,
        if_match=True,
        request_example={"reason": "the pump is replaced"},
    )
    def post(self, request: Request, job: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, ReasonIn)
        return _act(
            request,
            job,
            lambda: cancel_job(by=caller_of(request), job_id=job, expected_version=version, reason=body["reason"]),
        )


class TakeKitView(APIView):
    @describe(
        summary="Take the kit off the shelf",
        tag=TAG,
        request=TakeKitIn,
        responses=TakenKit,
        description="Issues the kit from the lots reserved for the job.",
    )
    def post(self, request: Request, job: uuid.UUID) -> Response:
        body = read_body(request, TakeKitIn)

        def perform() -> Answer:
            moved = take_kit(by=caller_of(request), job_id=job, occurred_at=body.get("occurred_at"))
            issued = [{"movement": one.pk, "lot": one.lot.number, "quantity": -one.quantity} for one in moved]
            return Answer({"job": job_row(caller_of(request), job), "issued": issued}, 201)

        return answer_write(request, perform, key_required=True)


class FinishView(APIView):
    @describe(
        summary="Finish the work", tag=TAG, request=NothingIn, responses=JobDetail, if_match=True,
        description="All steps done, nothing undecided: the job waits for its sign-off.",
    )  # fmt: skip
    def post(self, request: Request, job: uuid.UUID) -> Response:
        version = expected_version(request)
        return _act(request, job, lambda: finish_job(by=caller_of(request), job_id=job, expected_version=version))


class SignOffJobView(APIView):
    @describe(
        summary="Sign a finished job off",
        tag=TAG,
        request=SignOffIn,
        responses=JobDetail,
        if_match=True,
        description=(
            "By a supervisor who did none of its steps and measured nothing on it. What is signed is the hash of the "
            "record as it stands; the job is closed, and its record sealed next to those before it."
        ),
        request_example={"returned": [], "remark": "Quiet and tight at the run test."},
    )
    def post(self, request: Request, job: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, SignOffIn)
        return _act(
            request,
            job,
            lambda: sign_off(
                by=caller_of(request),
                job_id=job,
                expected_version=version,
                returned=body.get("returned", []),
                remark=body.get("remark", ""),
                seen=body.get("record"),
            ),
        )
