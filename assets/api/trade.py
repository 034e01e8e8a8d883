"""Makers and fluids."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from assets.models import Fluid, Maker
from assets.operations.pump_models import change_fluid, change_maker, register_fluid, register_maker
from assets.queries.pump_models import fluids, makers
from services.api.filters import Filters
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of

TAG = "Pump models"


class MakerRow(Rows):
    id = serializers.UUIDField()
    code = serializers.CharField()
    name = serializers.CharField()
    version = serializers.IntegerField()


class MakerIn(Body):
    id = serializers.UUIDField(required=False)
    code = serializers.CharField(max_length=40)
    name = serializers.CharField(max_length=120)


class NameChange(Body):
    name = serializers.CharField(max_length=120)


class CodeFilters(Filters):
    code = django_filters.CharFilter(help_text="The code.")


class MakerFilters(CodeFilters):
    class Meta:
        model = Maker
        fields: list[str] = []


def _maker(by: Caller, pk: Any) -> dict[str, Any] | None:
    return MakerRow.select(makers(by=by).filter(pk=pk)).first()


class MakersView(ListView):
    rows = MakerRow
    filters = MakerFilters
    order = ("code", "id")

    def rows_for(self, request: Request) -> Any:
        return makers(by=caller_of(request))

    @describe(
        summary="List makers", tag=TAG, responses=page_of(MakerRow), filters=MakerFilters, operation_id="makers_list"
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Add a maker",
        tag=TAG,
        request=MakerIn,
        responses=MakerRow,
        status=201,
        request_example={"code": "norrvik", "name": "Norrvik Pumps"},
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, MakerIn)

        def perform() -> Answer:
            made = register_maker(by=caller_of(request), maker_id=body.pop("id", None), **body)
            return created(_maker(caller_of(request), made.pk) or {}, f"/api/v1/makers/{made.pk}")

        return answer_write(request, perform, key_required=True)


class MakerView(APIView):
    @describe(summary="One maker", tag=TAG, responses=MakerRow, operation_id="makers_read")
    def get(self, request: Request, maker: uuid.UUID) -> Response:
        return answer_one(request, _maker(caller_of(request), maker), "The maker")

    @describe(
        summary="Rename a maker", tag=TAG, request=NameChange, responses=MakerRow, if_match=True,
        request_example={"name": "Norrvik Pumps and Seals"},
    )  # fmt: skip
    def patch(self, request: Request, maker: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, NameChange)

        def perform() -> Answer:
            change_maker(by=caller_of(request), maker_id=maker, expected_version=version, **body)
            return changed(_maker(caller_of(request), maker) or {})

        return answer_write(request, perform)


class FluidRow(Rows):
    id = serializers.UUIDField()
    code = serializers.CharField()
    name = serializers.CharField()
    family = serializers.CharField(source="family.code")
    hazard = serializers.CharField(help_text="What to beware of; shown with the job.")
    version = serializers.IntegerField()


class FluidIn(Body):
    id = serializers.UUIDField(required=False)
    code = serializers.CharField(max_length=40)
    name = serializers.CharField(max_length=120)
    family = serializers.CharField(max_length=40, help_text="A family's code.")
    hazard = serializers.CharField(max_length=2000, required=False, allow_blank=True)


class FluidChange(Body):
    name = serializers.CharField(max_length=120, required=False)
    family = serializers.CharField(max_length=40, required=False)
    hazard = serializers.CharField(max_length=2000, required=False, allow_blank=True)


class FluidFilters(CodeFilters):
    family = django_filters.CharFilter("family__code", help_text="A family's code.")

    class Meta:
        model = Fluid
        fields: list[str] = []


def _fluid(by: Caller, pk: Any) -> dict[str, Any] | None:
    return FluidRow.select(fluids(by=by).filter(pk=pk)).first()


class FluidsView(ListView):
    rows = FluidRow
    filters = FluidFilters
    order = ("code", "id")

    def rows_for(self, request: Request) -> Any:
        return fluids(by=caller_of(request))

    @describe(
        summary="List fluids", tag=TAG, responses=page_of(FluidRow), filters=FluidFilters, operation_id="fluids_list"
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Add a fluid",
        tag=TAG,
        request=FluidIn,
        responses=FluidRow,
        status=201,
        request_example={"code": "heating-water", "name": "Heating water", "family": "water"},
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, FluidIn)

        def perform() -> Answer:
            made = register_fluid(by=caller_of(request), fluid_id=body.pop("id", None), **body)
            return created(_fluid(caller_of(request), made.pk) or {}, f"/api/v1/fluids/{made.pk}")

        return answer_write(request, perform, key_required=True)


class FluidView(APIView):
    @describe(summary="One fluid", tag=TAG, responses=FluidRow, operation_id="fluids_read")
    def get(self, request: Request, fluid: uuid.UUID) -> Response:
        return answer_one(request, _fluid(caller_of(request), fluid), "The fluid")

    @describe(
        summary="Change a fluid",
        tag=TAG,
        request=FluidChange,
        responses=FluidRow,
        if_match=True,
        request_example={"hazard": "Scalds: wait below 60 degC."},
    )
    def patch(self, request: Request, fluid: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, FluidChange, partial=True)

        def perform() -> Answer:
            change_fluid(by=caller_of(request), fluid_id=fluid, expected_version=version, **body)
            return changed(_fluid(caller_of(request), fluid) or {})

        return answer_write(request, perform)
