"""What was found on pumps, and the codes it is told in."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.calculations.failure_codes import REPLACEMENT_REASONS, all_codes
from jobs.operations.findings import record_finding
from jobs.queries.findings import findings
from services.api.filters import Filters, read_parameters
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.views import ListView
from services.api.writes import Answer, answer_write
from services.identity.callers import caller_of

TAG = "Findings"


class FailureCodeShape(serializers.Serializer[Any]):
    table = serializers.CharField(help_text="failure-mode, failure-mechanism or bearing-damage.")
    code = serializers.CharField()
    words = serializers.CharField(help_text="What it means, in our words.")
    source = serializers.CharField()  # type: ignore[assignment]
    looked_up = serializers.BooleanField(help_text="false: a value from memory, not compared with the standard.")
    group = serializers.CharField(help_text="The general code it belongs to.")


class ReplacementReasonShape(serializers.Serializer[Any]):
    code = serializers.CharField()
    words = serializers.CharField()


class FailureCodes(serializers.Serializer[Any]):
    codes = FailureCodeShape(many=True)
    replacement_reasons = ReplacementReasonShape(many=True)


class FailureCodeFilters(Filters):
    table = django_filters.ChoiceFilter(
        choices=[(one, one) for one in ("failure-mode", "failure-mechanism", "bearing-damage")],
        help_text="failure-mode, failure-mechanism or bearing-damage.",
    )

    class Meta:
        fields: list[str] = []


class FailureCodesView(APIView):
    @describe(
        summary="Codes of open standards for what went wrong",
        tag=TAG,
        responses=FailureCodes,
        filters=FailureCodeFilters,
        description=(
            "Failure modes (what was seen) and mechanisms (how) after ISO 14224:2016, damage to rolling bearings after "
            "ISO 15243:2017, and why a part is replaced."
        ),
        operation_id="failure_codes_list",
    )
    def get(self, request: Request) -> Response:
        table = read_parameters(request, FailureCodeFilters).get("table")
        codes = [one.__dict__ for one in all_codes() if not table or one.table == table]
        reasons = [{"code": code, "words": words} for code, words in REPLACEMENT_REASONS.items()]
        body = {"codes": codes, "replacement_reasons": reasons}
        return Response(body, headers={"Cache-Control": "private, max-age=3600"})


class FindingRow(Rows):
    id = serializers.UUIDField()
    job = serializers.UUIDField()
    job_number = serializers.CharField(source="job.number")
    pump = serializers.UUIDField()
    pump_tag = serializers.CharField(source="pump.tag")
    pump_model = serializers.UUIDField(source="pump.pump_model_id")
    step = serializers.IntegerField(source="step_number", allow_null=True)
    role = serializers.CharField(help_text="The position.")
    observed = serializers.CharField()
    mode = serializers.CharField(help_text="ISO 14224 failure mode.")
    mechanism = serializers.CharField(help_text="ISO 14224 failure mechanism; empty where it is not known.")
    bearing_damage = serializers.CharField(help_text="ISO 15243 damage mode; of bearings only.")
    cause = serializers.CharField()
    replacement_reason = serializers.CharField(help_text="failed, worn, aged, disturbed, preventive, or empty.")
    nonconformity = serializers.UUIDField(allow_null=True, help_text="What must be decided about it.")
    corrects = serializers.UUIDField(allow_null=True)
    corrected_by = serializers.UUIDField(source="corrected_by.id", allow_null=True, help_text="Then it does not count.")
    occurred_at = serializers.DateTimeField()
    recorded_at = serializers.DateTimeField()
    by = serializers.CharField(source="by.name")


class FindingIn(Body):
    id = serializers.UUIDField(required=False, help_text="A UUID made by the client.")
    role = serializers.CharField(max_length=40)
    observed = serializers.CharField(max_length=2000)
    mode = serializers.CharField(max_length=3)
    mechanism = serializers.CharField(max_length=3, required=False)
    bearing_damage = serializers.CharField(max_length=7, required=False)
    cause = serializers.CharField(max_length=2000, required=False)
    replacement_reason = serializers.CharField(max_length=12, required=False)
    step = serializers.IntegerField(required=False, min_value=1)
    needs_decision = serializers.BooleanField(required=False, help_text="Raise a nonconformity for it.")
    corrects = serializers.UUIDField(required=False, help_text="An earlier finding whose place it takes.")
    occurred_at = serializers.DateTimeField(required=False)


class FindingFilters(Filters):
    role = django_filters.CharFilter(help_text="The position.")
    mode = django_filters.CharFilter(help_text="The failure mode.")
    mechanism = django_filters.CharFilter(help_text="The failure mechanism.")
    bearing_damage = django_filters.CharFilter(help_text="The damage mode of a bearing.")
    counts = django_filters.BooleanFilter("corrected_by", "isnull", help_text="true: without what was corrected.")

    class Meta:
        fields: list[str] = []


class AllFindingFilters(FindingFilters):
    site = django_filters.UUIDFilter("job__site_id", help_text="The site's id.")
    job = django_filters.UUIDFilter("job_id", help_text="The job's id.")
    pump = django_filters.UUIDFilter("pump_id", help_text="The pump's id.")
    pump_model = django_filters.UUIDFilter("pump__pump_model_id", help_text="The model's id.")


FINDINGS = page_of(FindingRow)


class FindingsView(ListView):
    rows = FindingRow
    filters = AllFindingFilters
    order = ("-id",)

    def rows_for(self, request: Request) -> Any:
        return findings(by=caller_of(request))

    @describe(
        summary="Findings on pumps, the latest first",
        tag=TAG,
        responses=FINDINGS,
        filters=AllFindingFilters,
        description="By pump for its history, by model for what its population suffers from.",
        operation_id="findings_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


class JobFindingsView(ListView):
    rows = FindingRow
    filters = FindingFilters
    order = ("id",)

    def rows_for(self, request: Request) -> Any:
        return findings(by=caller_of(request)).filter(job_id=self.kwargs["job"])

    @describe(
        summary="What was found under a job",
        tag=TAG,
        responses=FINDINGS,
        filters=FindingFilters,
        operation_id="job_findings_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Record what was found at a position",
        tag=TAG,
        request=FindingIn,
        responses=FindingRow,
        status=201,
        description="In codes of open standards (GET /failure-codes) and in words. A correction names the earlier one.",
        request_example={
            "role": "bearing-de",
            "observed": "raceway fluted like a washboard",
            "mode": "VIB",
            "mechanism": "4.0",
            "bearing_damage": "5.4",
            "cause": "current of the frequency converter through the bearing",
            "replacement_reason": "failed",
        },
    )
    def post(self, request: Request, job: uuid.UUID) -> Response:
        body = read_body(request, FindingIn)
        finding_id = body.pop("id", None)

        def perform() -> Answer:
            made = record_finding(by=caller_of(request), job_id=job, finding_id=finding_id, **body)
            return Answer(FindingRow.select(findings(by=caller_of(request)).filter(pk=made.pk)).first(), 201)

        return answer_write(request, perform)
