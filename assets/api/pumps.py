"""Pumps and their hour readings."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from assets.models import Criticality, Pump, PumpState, RunningHours
from assets.operations.pumps import change_pump, register_pump
from assets.operations.running_hours import record_hours
from assets.queries.pumps import pump_for, pumps, running_hours
from services.api.filters import Filters, TextInFilter
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of

TAG = "Pumps"
IDS = {"site": "site_id", "pump_model": "pump_model_id", "fluid": "fluid_id"}


class PumpRow(Rows):
    id = serializers.UUIDField()
    tag = serializers.CharField()
    site = serializers.UUIDField()
    site_code = serializers.CharField(source="site.code")
    pump_model = serializers.UUIDField()
    pump_model_code = serializers.CharField(source="pump_model.code")
    configuration = serializers.CharField(source="pump_model.configuration")
    serial_number = serializers.CharField()
    variant = serializers.DictField(child=serializers.CharField(), help_text="As built: elastomer, seal_faces, ...")
    fluid = serializers.UUIDField()
    fluid_code = serializers.CharField(source="fluid.code")
    fluid_hazard = serializers.CharField(source="fluid.hazard")
    temperature_min_c = serializers.DecimalField(max_digits=6, decimal_places=2)
    temperature_max_c = serializers.DecimalField(max_digits=6, decimal_places=2)
    criticality = serializers.CharField()
    state = serializers.CharField()
    installed_on = serializers.DateField(allow_null=True)
    external_ids = serializers.DictField(child=serializers.CharField())
    version = serializers.IntegerField()


class PumpIn(Body):
    id = serializers.UUIDField(required=False)
    tag = serializers.CharField(max_length=40)
    site = serializers.UUIDField()
    pump_model = serializers.UUIDField()
    serial_number = serializers.CharField(max_length=40)
    variant = serializers.DictField(child=serializers.CharField(max_length=60), required=False)
    fluid = serializers.UUIDField()
    temperature_min_c = serializers.DecimalField(max_digits=6, decimal_places=2)
    temperature_max_c = serializers.DecimalField(max_digits=6, decimal_places=2)
    criticality = serializers.ChoiceField(choices=Criticality.choices)
    state = serializers.ChoiceField(choices=PumpState.choices, required=False)
    installed_on = serializers.DateField(required=False, allow_null=True)
    external_ids = serializers.DictField(child=serializers.CharField(max_length=120), required=False)


class PumpChange(Body):
    tag = serializers.CharField(max_length=40, required=False)
    site = serializers.UUIDField(required=False)
    serial_number = serializers.CharField(max_length=40, required=False)
    variant = serializers.DictField(child=serializers.CharField(max_length=60), required=False)
    fluid = serializers.UUIDField(required=False)
    temperature_min_c = serializers.DecimalField(max_digits=6, decimal_places=2, required=False)
    temperature_max_c = serializers.DecimalField(max_digits=6, decimal_places=2, required=False)
    criticality = serializers.ChoiceField(choices=Criticality.choices, required=False)
    state = serializers.ChoiceField(choices=PumpState.choices, required=False)
    installed_on = serializers.DateField(required=False, allow_null=True)
    external_ids = serializers.DictField(child=serializers.CharField(max_length=120), required=False)


class PumpFilters(Filters):
    q = django_filters.CharFilter("tag", "icontains", help_text="Part of the tag.")
    tag = django_filters.CharFilter(help_text="The tag.")
    tag__in = TextInFilter("tag", help_text="Several tags, separated by commas.")
    site = django_filters.UUIDFilter("site_id", help_text="The site's id.")
    site_code = django_filters.CharFilter("site__code", help_text="The site's code.")
    pump_model = django_filters.UUIDFilter("pump_model_id", help_text="The model's id.")
    serial_number = django_filters.CharFilter("serial_number", "iexact", help_text="The serial number.")
    criticality = django_filters.CharFilter(help_text="vital, essential or desirable.")
    state = django_filters.CharFilter(help_text="in-service, standby, in-workshop or withdrawn.")
    external_id = django_filters.CharFilter("external_ids__file", help_text="The id under which files know it.")

    class Meta:
        model = Pump
        fields: list[str] = []


def _pump(by: Caller, pk: Any) -> dict[str, Any] | None:
    return PumpRow.select(pumps(by=by).filter(pk=pk)).first()


def _with_ids(body: dict[str, Any]) -> dict[str, Any]:
    return {IDS.get(name, name): value for name, value in body.items()}


class PumpsView(ListView):
    rows = PumpRow
    filters = PumpFilters
    order = ("tag", "id")

    def rows_for(self, request: Request) -> Any:
        return pumps(by=caller_of(request))

    @describe(summary="List pumps", tag=TAG, responses=page_of(PumpRow), filters=PumpFilters, operation_id="pumps_list")
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Register a pump",
        tag=TAG,
        request=PumpIn,
        responses=PumpRow,
        status=201,
        request_example={
            "tag": "P-117",
            "site": "0199a0c4-0000-7000-8000-000000000001",
            "pump_model": "0199a0c4-0000-7000-8000-000000000004",
            "serial_number": "NB2019-0117",
            "variant": {"elastomer": "EPDM", "seal_faces": "Q1B"},
            "fluid": "0199a0c4-0000-7000-8000-000000000005",
            "temperature_min_c": "60",
            "temperature_max_c": "90",
            "criticality": "vital",
        },
    )
    def post(self, request: Request) -> Response:
        body = _with_ids(read_body(request, PumpIn))

        def perform() -> Answer:
            made = register_pump(by=caller_of(request), pump_id=body.pop("id", None), **body)
            return created(_pump(caller_of(request), made.pk) or {}, f"/api/v1/pumps/{made.pk}")

        return answer_write(request, perform, key_required=True)


class PumpView(APIView):
    @describe(summary="One pump", tag=TAG, responses=PumpRow, operation_id="pumps_read")
    def get(self, request: Request, pump: uuid.UUID) -> Response:
        return answer_one(request, _pump(caller_of(request), pump), "The pump")

    @describe(
        summary="Change a pump's data, place or state",
        tag=TAG,
        request=PumpChange,
        responses=PumpRow,
        if_match=True,
        request_example={"state": "in-workshop"},
    )
    def patch(self, request: Request, pump: uuid.UUID) -> Response:
        version, body = expected_version(request), _with_ids(read_body(request, PumpChange, partial=True))

        def perform() -> Answer:
            change_pump(by=caller_of(request), pump_id=pump, expected_version=version, **body)
            return changed(_pump(caller_of(request), pump) or {})

        return answer_write(request, perform)


class RunningHoursRow(Rows):
    id = serializers.UUIDField()
    pump = serializers.UUIDField()
    read_at = serializers.DateTimeField()
    hours = serializers.DecimalField(max_digits=10, decimal_places=1)
    meter_change = serializers.BooleanField(help_text="A new meter begins with this reading.")
    recorded_at = serializers.DateTimeField()
    by_name = serializers.CharField(source="by.name", allow_null=True)


class RunningHoursIn(Body):
    id = serializers.UUIDField(required=False, help_text="Made by the client; the same id is recorded once.")
    hours = serializers.DecimalField(max_digits=10, decimal_places=1)
    read_at = serializers.DateTimeField(required=False)
    meter_change = serializers.BooleanField(required=False)


class RunningHoursFilters(Filters):
    read_at__gte = django_filters.IsoDateTimeFilter("read_at", "gte", help_text="From this moment on.")
    read_at__lt = django_filters.IsoDateTimeFilter("read_at", "lt", help_text="Before this moment.")

    class Meta:
        model = RunningHours
        fields: list[str] = []


class PumpRunningHoursView(ListView):
    rows = RunningHoursRow
    filters = RunningHoursFilters
    order = ("-read_at", "id")

    def rows_for(self, request: Request) -> Any:
        pump_for(caller_of(request), self.kwargs["pump"])
        return running_hours(by=caller_of(request)).filter(pump_id=self.kwargs["pump"])

    @describe(
        summary="Hour readings of a pump, the newest first",
        tag=TAG,
        responses=page_of(RunningHoursRow),
        filters=RunningHoursFilters,
        operation_id="pump_running_hours_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Record an hour reading",
        tag=TAG,
        request=RunningHoursIn,
        responses=RunningHoursRow,
        status=201,
        request_example={"hours": "18250.5", "read_at": "2026-11-02T06:00:00Z"},
    )
    def post(self, request: Request, pump: uuid.UUID) -> Response:
        body = read_body(request, RunningHoursIn)

        def perform() -> Answer:
            made = record_hours(by=caller_of(request), pump_id=pump, reading_id=body.pop("id", None), **body)
            row = RunningHoursRow.select(running_hours(by=caller_of(request)).filter(pk=made.pk)).get()
            return Answer(row, 201, {"Location": f"/api/v1/pumps/{pump}/running-hours"})

        return answer_write(request, perform)
