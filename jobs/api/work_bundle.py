"""One piece with everything that an app needs to go on without a connection."""

from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.findings import FailureCodeShape, ReplacementReasonShape
from jobs.api.jobs import ClaimShape, JobRow
from jobs.api.records import NonconformityRow
from jobs.api.steps import JobStepShape, UsableInstrumentShape
from jobs.queries.work_bundle import MOST_JOBS, bundle_of, live_jobs
from services.api.filters import Filters, read_parameters
from services.api.schema import describe
from services.identity.callers import caller_of

TAG = "Offline work"


class BundleJobRow(JobRow):
    pump_serial_number = serializers.CharField(source="pump.serial_number")
    pump_series = serializers.CharField(source="pump.pump_model.series")
    pump_designation = serializers.CharField(source="pump.pump_model.designation")
    pump_variant = serializers.DictField(source="pump.variant")
    pump_criticality = serializers.CharField(source="pump.criticality")
    fluid = serializers.CharField(source="pump.fluid.name", allow_null=True)
    temperature_min_c = serializers.DecimalField(
        max_digits=6, decimal_places=2, source="pump.temperature_min_c", allow_null=True
    )
    temperature_max_c = serializers.DecimalField(
        max_digits=6, decimal_places=2, source="pump.temperature_max_c", allow_null=True
    )
    procedure_title = serializers.CharField(source="revision.procedure.title")


class BundleKitLineShape(serializers.Serializer[Any]):
    line = serializers.IntegerField()
    role = serializers.CharField()
    part_id = serializers.UUIDField()
    number = serializers.CharField()
    name = serializers.CharField()
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3)
    optional = serializers.BooleanField()


class BundleExtraPartShape(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    part_id = serializers.UUIDField()
    number = serializers.CharField()
    name = serializers.CharField()
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3)
    role = serializers.CharField()
    reason = serializers.CharField()
    state = serializers.CharField(help_text="asked or taken.")


class OpenNonconformityShape(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    role = NonconformityRow().fields["role"]
    description = serializers.CharField()
    disposition = serializers.CharField()
    state = serializers.CharField()
    decision_reason = serializers.CharField()
    version = serializers.IntegerField()


class BundledJob(BundleJobRow):
    kit_lines = BundleKitLineShape(many=True)
    extra_parts = BundleExtraPartShape(many=True, help_text="Parts beyond the kit that are wanted or taken.")
    reservations = ClaimShape(many=True)
    nonconformities = OpenNonconformityShape(many=True, help_text="Those that are not closed.")
    steps = JobStepShape(many=True, help_text="Empty until the job is begun, which takes a connection.")


class BundleSite(serializers.Serializer[Any]):
    site = serializers.UUIDField()
    roles = serializers.ListField(child=serializers.CharField(), help_text="The caller's.")
    instruments = UsableInstrumentShape(many=True)


class WorkBundle(serializers.Serializer[Any]):
    version = serializers.CharField(help_text="Of exactly this content; also the ETag.")
    safety = serializers.CharField(help_text="Shown over every sheet.")
    positions = serializers.ListField(
        child=serializers.CharField(), help_text="Roles of positions, of which a finding names one."
    )
    codes = FailureCodeShape(many=True, help_text="As GET /failure-codes, of which a finding names some.")
    replacement_reasons = ReplacementReasonShape(many=True)
    jobs = BundledJob(many=True)
    more = serializers.BooleanField(help_text=f"Whether there are more than {MOST_JOBS}: ask site by site.")
    sites = BundleSite(many=True)


class WorkBundleFilters(Filters):
    site = django_filters.UUIDFilter(help_text="The site's id; all of the caller's where it is left out.")
    of_everybody = django_filters.BooleanFilter(help_text="true: jobs of everybody, not only the caller's own.")

    class Meta:
        fields: list[str] = []


class WorkBundleView(APIView):
    @describe(
        summary="Everything an app needs of its jobs to go on without a connection",
        tag=TAG,
        responses=WorkBundle,
        filters=WorkBundleFilters,
        operation_id="work_bundle",
        description=(
            "Steps with their cautions, conditions resolved, limits with the rule, decision rule and uncertainty by "
            "which a phone judges for itself; what the server says counts. Positions and codes that a finding asks "
            "for, the kit's lines and parts beyond it come along. Send the ETag as If-None-Match: 304 says that "
            "nothing changed. What was done meanwhile is handed in with POST /offline-records."
        ),
    )
    def get(self, request: Request) -> Response:
        by, asked = caller_of(request), read_parameters(request, WorkBundleFilters)
        found = live_jobs(by, site_id=asked.get("site"), of_everybody=bool(asked.get("of_everybody")))
        bundle = bundle_of(by, list(BundleJobRow.select(found)[: MOST_JOBS + 1]))
        tag = f'"{bundle["version"]}"'
        headers = {"ETag": tag, "Cache-Control": "private, no-cache"}
        wanted = [one.strip().removeprefix("W/") for one in request.headers.get("If-None-Match", "").split(",")]
        if tag in wanted:
            return Response(None, status=304, headers=headers)
        return Response(bundle, headers=headers)
