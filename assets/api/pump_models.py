"""Pump models, and what an overhaul of one renews."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from assets.api.specifications import PropertyShape
from assets.models import Configuration, PumpModel, WearPosition
from assets.operations.pump_models import (
    change_pump_model,
    change_wear_position,
    register_pump_model,
    register_wear_position,
)
from assets.queries.pump_models import pump_models, wear_positions
from assets.queries.specifications import stored_facts
from services.api.filters import Filters
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of

TAG = "Pump models"


class PumpModelRow(Rows):
    id = serializers.UUIDField()
    code = serializers.CharField()
    maker = serializers.UUIDField()
    maker_name = serializers.CharField(source="maker.name")
    series = serializers.CharField()
    designation = serializers.CharField()
    configuration = serializers.CharField()
    shaft_diameter_at_seal_mm = serializers.DecimalField(max_digits=8, decimal_places=3)
    rated_speed_rpm = serializers.DecimalField(max_digits=8, decimal_places=1)
    rated_power_kw = serializers.DecimalField(max_digits=9, decimal_places=3)
    version = serializers.IntegerField()


class PumpModelIn(Body):
    id = serializers.UUIDField(required=False)
    code = serializers.CharField(max_length=60)
    maker = serializers.UUIDField()
    series = serializers.CharField(max_length=60)
    designation = serializers.CharField(max_length=60)
    configuration = serializers.ChoiceField(choices=Configuration.choices)
    shaft_diameter_at_seal_mm = serializers.DecimalField(max_digits=8, decimal_places=3, min_value=0)
    rated_speed_rpm = serializers.DecimalField(max_digits=8, decimal_places=1, min_value=0)
    rated_power_kw = serializers.DecimalField(max_digits=9, decimal_places=3, min_value=0)


class PumpModelChange(Body):
    maker = serializers.UUIDField(required=False)
    series = serializers.CharField(max_length=60, required=False)
    designation = serializers.CharField(max_length=60, required=False)
    configuration = serializers.ChoiceField(choices=Configuration.choices, required=False)
    shaft_diameter_at_seal_mm = serializers.DecimalField(max_digits=8, decimal_places=3, min_value=0, required=False)
    rated_speed_rpm = serializers.DecimalField(max_digits=8, decimal_places=1, min_value=0, required=False)
    rated_power_kw = serializers.DecimalField(max_digits=9, decimal_places=3, min_value=0, required=False)


class PumpModelFilters(Filters):
    q = django_filters.CharFilter("designation", "icontains", help_text="Part of the designation.")
    code = django_filters.CharFilter(help_text="The model's code.")
    maker = django_filters.UUIDFilter("maker_id", help_text="The maker's id.")
    configuration = django_filters.CharFilter(help_text="The configuration.")

    class Meta:
        model = PumpModel
        fields: list[str] = []


def _model(by: Caller, pk: Any) -> dict[str, Any] | None:
    return PumpModelRow.select(pump_models(by=by).filter(pk=pk)).first()


def _with_ids(body: dict[str, Any]) -> dict[str, Any]:
    if "maker" in body:
        body["maker_id"] = body.pop("maker")
    return body


class PumpModelsView(ListView):
    rows = PumpModelRow
    filters = PumpModelFilters
    order = ("code", "id")

    def rows_for(self, request: Request) -> Any:
        return pump_models(by=caller_of(request))

    @describe(
        summary="List pump models",
        tag=TAG,
        responses=page_of(PumpModelRow),
        filters=PumpModelFilters,
        operation_id="pump_models_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Add a pump model",
        tag=TAG,
        request=PumpModelIn,
        responses=PumpModelRow,
        status=201,
        request_example={
            "code": "NB-40-200",
            "maker": "0199a0c4-0000-7000-8000-000000000003",
            "series": "NB",
            "designation": "65-40-200",
            "configuration": "long-coupled-back-pull-out",
            "shaft_diameter_at_seal_mm": "43",
            "rated_speed_rpm": "2900",
            "rated_power_kw": "15",
        },
    )
    def post(self, request: Request) -> Response:
        body = _with_ids(read_body(request, PumpModelIn))

        def perform() -> Answer:
            made = register_pump_model(by=caller_of(request), model_id=body.pop("id", None), **body)
            return created(_model(caller_of(request), made.pk) or {}, f"/api/v1/pump-models/{made.pk}")

        return answer_write(request, perform, key_required=True)


class PumpModelView(APIView):
    @describe(summary="One pump model", tag=TAG, responses=PumpModelRow, operation_id="pump_models_read")
    def get(self, request: Request, model: uuid.UUID) -> Response:
        return answer_one(request, _model(caller_of(request), model), "The pump model")

    @describe(
        summary="Change a pump model",
        tag=TAG,
        request=PumpModelChange,
        responses=PumpModelRow,
        if_match=True,
        request_example={"rated_power_kw": "18.5"},
    )
    def patch(self, request: Request, model: uuid.UUID) -> Response:
        version, body = expected_version(request), _with_ids(read_body(request, PumpModelChange, partial=True))

        def perform() -> Answer:
            change_pump_model(by=caller_of(request), model_id=model, expected_version=version, **body)
            return changed(_model(caller_of(request), model) or {})

        return answer_write(request, perform)


class WearPositionRow(Rows):
    id = serializers.UUIDField()
    pump_model = serializers.UUIDField()
    role = serializers.CharField(source="role_id")
    role_name = serializers.CharField(source="role.name")
    quantity = serializers.DecimalField(max_digits=9, decimal_places=3)
    mandatory = serializers.BooleanField()
    serial_from = serializers.CharField()
    serial_to = serializers.CharField()
    variant = serializers.DictField(child=serializers.CharField())
    part_number = serializers.CharField()
    specification = serializers.DictField(allow_null=True)
    version = serializers.IntegerField()


class WearPositionDetail(WearPositionRow):
    computed = ("designation", "properties")
    designation = serializers.CharField(help_text="The specification in its canonical form; empty where none is asked.")
    properties = PropertyShape(many=True, help_text="What the specification says, with units and standards.")


class WearPositionIn(Body):
    id = serializers.UUIDField(required=False)
    role = serializers.CharField(max_length=40, help_text="A position role; GET /position-roles.")
    quantity = serializers.DecimalField(max_digits=9, decimal_places=3)
    mandatory = serializers.BooleanField(required=False)
    serial_from = serializers.CharField(max_length=40, required=False, allow_blank=True)
    serial_to = serializers.CharField(max_length=40, required=False, allow_blank=True)
    variant = serializers.DictField(child=serializers.CharField(max_length=60), required=False)
    part_number = serializers.CharField(max_length=60, required=False, allow_blank=True)
    category = serializers.CharField(max_length=40, required=False, allow_blank=True)
    specification = serializers.CharField(
        max_length=200, required=False, allow_blank=True, help_text="In the form of its category: 226 EPDM 70."
    )

    def validate_quantity(self, value: Any) -> Any:
        if value <= 0:
            raise serializers.ValidationError("Must be above zero.", code="not-positive")
        return value


class WearPositionChange(Body):
    quantity = serializers.DecimalField(max_digits=9, decimal_places=3, required=False)
    mandatory = serializers.BooleanField(required=False)
    part_number = serializers.CharField(max_length=60, required=False, allow_blank=True)
    category = serializers.CharField(max_length=40, required=False)
    specification = serializers.CharField(max_length=200, required=False, allow_blank=True)

    def validate_quantity(self, value: Any) -> Any:
        if value <= 0:
            raise serializers.ValidationError("Must be above zero.", code="not-positive")
        return value


class WearPositionFilters(Filters):
    role = django_filters.CharFilter("role_id", help_text="The position's role.")
    part_number = django_filters.CharFilter("part_number", "iexact", help_text="The part number asked for.")

    class Meta:
        model = WearPosition
        fields: list[str] = []


def _position(by: Caller, pk: Any) -> dict[str, Any] | None:
    row = WearPositionDetail.select(wear_positions(by=by).filter(pk=pk)).first()
    return row and {**row, **stored_facts(row["specification"])}


class WearPositionsView(ListView):
    rows = WearPositionRow
    filters = WearPositionFilters
    order = ("role_id", "id")

    def rows_for(self, request: Request) -> Any:
        return wear_positions(by=caller_of(request)).filter(pump_model_id=self.kwargs["model"])

    @describe(
        summary="What an overhaul of a model renews",
        tag=TAG,
        responses=page_of(WearPositionRow),
        filters=WearPositionFilters,
        operation_id="wear_positions_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Add a wear position to a model",
        tag=TAG,
        request=WearPositionIn,
        responses=WearPositionDetail,
        status=201,
        request_example={
            "role": "casing-o-ring",
            "quantity": "1",
            "category": "o-ring",
            "specification": "226 EPDM 70",
        },
    )
    def post(self, request: Request, model: uuid.UUID) -> Response:
        body = read_body(request, WearPositionIn)

        def perform() -> Answer:
            made = register_wear_position(
                by=caller_of(request), model_id=model, position_id=body.pop("id", None), **body
            )
            return created(_position(caller_of(request), made.pk) or {}, f"/api/v1/wear-positions/{made.pk}")

        return answer_write(request, perform, key_required=True)


class WearPositionView(APIView):
    @describe(summary="One wear position", tag=TAG, responses=WearPositionDetail, operation_id="wear_positions_read")
    def get(self, request: Request, position: uuid.UUID) -> Response:
        return answer_one(request, _position(caller_of(request), position), "The wear position")

    @describe(
        summary="Change what a position asks for",
        tag=TAG,
        request=WearPositionChange,
        responses=WearPositionDetail,
        if_match=True,
        request_example={"specification": "226 FKM 75", "category": "o-ring"},
    )
    def patch(self, request: Request, position: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, WearPositionChange, partial=True)

        def perform() -> Answer:
            change_wear_position(by=caller_of(request), position_id=position, expected_version=version, **body)
            return changed(_position(caller_of(request), position) or {})

        return answer_write(request, perform)
