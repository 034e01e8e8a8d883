"""What makers say kits are for, and what in it does not go together."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.api.fits import day_of
from kits.models import Coverage
from kits.operations.coverage import change_coverage, declare_coverage
from kits.queries.coverage import coverage, findings_of_kit, findings_of_model
from services.api.filters import Filters, check_parameters
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of

TAG = "Catalogue"


class CoverageRow(Rows):
    id = serializers.UUIDField()
    kit = serializers.UUIDField()
    kit_number = serializers.CharField(source="kit.item.number")
    kit_revision = serializers.CharField(source="kit.item.revision")
    pump_model = serializers.UUIDField()
    pump_model_code = serializers.CharField(source="pump_model.code")
    serial_from = serializers.CharField()
    serial_to = serializers.CharField()
    variant = serializers.DictField(child=serializers.CharField(), help_text="As-built conditions; empty: any pump.")
    valid_from = serializers.DateField(allow_null=True, help_text="The first day on which the word holds.")
    valid_to = serializers.DateField(allow_null=True, help_text="The last day on which it holds.")
    version = serializers.IntegerField()


class CoverageIn(Body):
    kit = serializers.UUIDField()
    pump_model = serializers.UUIDField()
    serial_from = serializers.CharField(
        max_length=40, required=False, allow_blank=True, help_text="The first serial; AB* for those that begin with AB."
    )
    serial_to = serializers.CharField(
        max_length=40, required=False, allow_blank=True, help_text="The last serial; AB* takes in all that begin so."
    )
    variant = serializers.DictField(
        child=serializers.CharField(max_length=60), required=False, help_text="As-built conditions."
    )
    valid_from = serializers.DateField(required=False, allow_null=True)
    valid_to = serializers.DateField(required=False, allow_null=True)

    def validate_variant(self, value: dict[str, str]) -> dict[str, str]:
        if any(not name or len(name) > 60 for name in value):
            raise serializers.ValidationError("Names have 1 to 60 characters.", code="invalid-name")
        return value


class CoverageChange(Body):
    valid_from = serializers.DateField(required=False, allow_null=True)
    valid_to = serializers.DateField(required=False, allow_null=True)


class CoverageFilters(Filters):
    kit = django_filters.UUIDFilter("kit_id", help_text="The kit's id.")
    pump_model = django_filters.UUIDFilter("pump_model_id", help_text="The model's id.")

    class Meta:
        model = Coverage
        fields: list[str] = []


def _declared(by: Caller, pk: Any) -> dict[str, Any] | None:
    return CoverageRow.select(coverage(by=by).filter(pk=pk)).first()


class CoverageView(ListView):
    rows = CoverageRow
    filters = CoverageFilters
    order = ("id",)

    def rows_for(self, request: Request) -> Any:
        return coverage(by=caller_of(request))

    @describe(
        summary="What makers say kits are for",
        tag=TAG,
        responses=page_of(CoverageRow),
        filters=CoverageFilters,
        operation_id="coverage_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Add what a maker says a kit is for",
        tag=TAG,
        request=CoverageIn,
        responses=CoverageRow,
        status=201,
        description="It never overrules the computed fit.",
        request_example={
            "kit": "0199a0c4-0000-7000-8000-0000000000bb",
            "pump_model": "0199a0c4-0000-7000-8000-000000000004",
            "serial_from": "NB2017-0001",
        },
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, CoverageIn)

        def perform() -> Answer:
            made = declare_coverage(
                by=caller_of(request),
                kit_id=body.pop("kit"),
                model_id=body.pop("pump_model"),
                **body,
            )
            return created(_declared(caller_of(request), made.pk) or {}, f"/api/v1/coverage/{made.pk}")

        return answer_write(request, perform, key_required=True)


class OneCoverageView(APIView):
    @describe(summary="What a maker says a kit is for", tag=TAG, responses=CoverageRow, operation_id="coverage_read")
    def get(self, request: Request, coverage: uuid.UUID) -> Response:
        return answer_one(request, _declared(caller_of(request), coverage), "The declaration")

    @describe(
        summary="Change the days on which a maker's word holds",
        tag=TAG,
        request=CoverageChange,
        responses=CoverageRow,
        if_match=True,
        request_example={"valid_to": "2026-12-31"},
    )
    def patch(self, request: Request, coverage: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, CoverageChange, partial=True)

        def perform() -> Answer:
            change_coverage(by=caller_of(request), coverage_id=coverage, expected_version=version, **body)
            return changed(_declared(caller_of(request), coverage) or {})

        return answer_write(request, perform)


class DeclaredRangeShape(serializers.Serializer[Any]):
    id = serializers.UUIDField(help_text="Of the declaration or the wear position.")
    name = serializers.CharField(help_text="The kit's number and revision, or the position's role.")
    serial_from = serializers.CharField()
    serial_to = serializers.CharField()
    variant = serializers.DictField(child=serializers.CharField())


class PumpInGapShape(serializers.Serializer[Any]):
    pump = serializers.UUIDField()
    tag = serializers.CharField()
    serial_number = serializers.CharField()
    site = serializers.UUIDField()


class FindingShape(serializers.Serializer[Any]):
    kind = serializers.CharField(help_text="coverage-overlap, coverage-gap or position-overlap.")
    pump_model = serializers.UUIDField()
    pump_model_code = serializers.CharField()
    scope = serializers.CharField(help_text="The scope of the kits; the role of the positions.")
    said = DeclaredRangeShape(many=True, help_text="Those that overlap, or between which the gap lies.")
    pump_count = serializers.IntegerField(help_text="Pumps at your sites whose serial lies in the gap.")
    pumps = PumpInGapShape(many=True, help_text="The first twenty of them.")
    sentence = serializers.CharField()


class FindingsAnswer(serializers.Serializer[Any]):
    on = serializers.DateField()
    results = FindingShape(many=True)


class FindingsParameters(Filters):
    on = django_filters.DateFilter(help_text="The day on which declarations hold; today if left out.")


FINDINGS_EXAMPLE = {
    "on": "2026-12-02",
    "results": [
        {
            "kind": "coverage-gap",
            "pump_model": "0199a0c4-0000-7000-8000-000000000004",
            "pump_model_code": "NB-40-200",
            "scope": "full-overhaul",
            "said": [
                {
                    "id": "0199a0c4-0000-7000-8000-000000000031",
                    "name": "KIT-NB-40 B",
                    "serial_from": "",
                    "serial_to": "NB2016*",
                    "variant": {},
                },
                {
                    "id": "0199a0c4-0000-7000-8000-000000000032",
                    "name": "KIT-NB-40-L A",
                    "serial_from": "NB2018*",
                    "serial_to": "NB2021*",
                    "variant": {},
                },
            ],
            "pump_count": 1,
            "pumps": [
                {
                    "pump": "0199a0c4-0000-7000-8000-0000000000aa",
                    "tag": "P-117",
                    "serial_number": "NB2017-0117",
                    "site": "0199a0c4-0000-7000-8000-000000000001",
                }
            ],
            "sentence": "No full-overhaul kit is declared for NB-40-200, serials after NB2016* and before NB2018*.",
        }
    ],
}


class KitCoverageFindingsView(APIView):
    @describe(
        summary="Where a kit's coverage overlaps with others of its scope, and what they leave out",
        tag=TAG,
        responses=FindingsAnswer,
        filters=FindingsParameters,
        operation_id="kit_coverage_findings_read",
        example=FINDINGS_EXAMPLE,
    )
    def get(self, request: Request, kit: uuid.UUID) -> Response:
        check_parameters(request, ["on"])
        on = day_of(request)
        return _found(on, findings_of_kit(by=caller_of(request), kit_id=kit, on=on))


class ModelCoverageFindingsView(APIView):
    @describe(
        summary="What in a model's coverage and wear positions overlaps or is left out",
        tag=TAG,
        responses=FindingsAnswer,
        filters=FindingsParameters,
        operation_id="pump_model_coverage_findings_read",
        example=FINDINGS_EXAMPLE,
    )
    def get(self, request: Request, model: uuid.UUID) -> Response:
        check_parameters(request, ["on"])
        on = day_of(request)
        return _found(on, findings_of_model(by=caller_of(request), model_id=model, on=on))


def _found(on: Any, results: list[dict[str, Any]]) -> Response:
    return Response({"on": on, "results": results}, headers={"Cache-Control": "private, no-cache"})
