"""Parts."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from assets.api.specifications import PropertyShape
from assets.calculations.part_specifications import known_categories
from assets.queries.specifications import stored_facts
from kits.models import Item
from kits.operations.parts import change_part, register_part
from kits.queries.parts import parts
from services.api.filters import Filters, TextInFilter
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of

TAG = "Catalogue"
CRITICALITIES = list(Item._meta.get_field("criticality").choices or [])


class PartRow(Rows):
    id = serializers.UUIDField()
    number = serializers.CharField()
    name = serializers.CharField()
    maker = serializers.UUIDField(source="part.maker_id", allow_null=True)
    maker_name = serializers.CharField(source="part.maker.name", allow_null=True)
    category = serializers.CharField(source="part.category")
    specification = serializers.DictField(source="part.specification", help_text="Typed, after its category.")
    elastomers = serializers.ListField(source="part.elastomers", child=serializers.CharField())
    storage_group = serializers.CharField(
        source="part.storage_group.code", allow_null=True, help_text="ISO 2230; none: it does not age."
    )
    unit = serializers.CharField()
    cost = serializers.DecimalField(max_digits=14, decimal_places=4, allow_null=True)
    currency = serializers.CharField()
    criticality = serializers.CharField()
    is_active = serializers.BooleanField()
    external_ids = serializers.DictField(child=serializers.CharField())
    version = serializers.IntegerField()


class PartDetail(PartRow):
    computed = ("designation", "properties")
    designation = serializers.CharField(help_text="The specification in its canonical form.")
    properties = PropertyShape(many=True, help_text="What the specification says, with units and standards.")


class PartIn(Body):
    id = serializers.UUIDField(required=False)
    number = serializers.CharField(max_length=60)
    name = serializers.CharField(max_length=200)
    maker = serializers.UUIDField(required=False, allow_null=True)
    category = serializers.ChoiceField(choices=known_categories())
    specification = serializers.CharField(max_length=200, help_text="In the form of its category: 226 EPDM 70.")
    unit = serializers.CharField(max_length=12, required=False)
    cost = serializers.DecimalField(max_digits=14, decimal_places=4, required=False, min_value=0)
    currency = serializers.RegexField("^[A-Z]{3}$", required=False, help_text="ISO 4217.")
    criticality = serializers.ChoiceField(choices=CRITICALITIES, required=False)
    external_ids = serializers.DictField(child=serializers.CharField(max_length=120), required=False)


class PartChange(Body):
    name = serializers.CharField(max_length=200, required=False)
    maker = serializers.UUIDField(required=False, allow_null=True)
    category = serializers.ChoiceField(choices=known_categories(), required=False)
    specification = serializers.CharField(max_length=200, required=False)
    unit = serializers.CharField(max_length=12, required=False)
    cost = serializers.DecimalField(max_digits=14, decimal_places=4, required=False, min_value=0, allow_null=True)
    currency = serializers.RegexField("^[A-Z]{3}$", required=False)
    criticality = serializers.ChoiceField(choices=CRITICALITIES, required=False)
    is_active = serializers.BooleanField(required=False)
    external_ids = serializers.DictField(child=serializers.CharField(max_length=120), required=False)


class PartFilters(Filters):
    q = django_filters.CharFilter("name", "icontains", help_text="Part of the name.")
    number = django_filters.CharFilter("number", "iexact", help_text="The number.")
    number__in = TextInFilter("number", help_text="Several numbers, separated by commas.")
    category = django_filters.CharFilter("part__category", help_text="The category.")
    is_active = django_filters.BooleanFilter(help_text="Only those still in use, or only the others.")
    external_id = django_filters.CharFilter("external_ids__file", help_text="The id under which files know it.")

    class Meta:
        model = Item
        fields: list[str] = []


def _part(by: Caller, pk: Any) -> dict[str, Any] | None:
    row = PartDetail.select(parts(by=by).filter(pk=pk)).first()
    return row and {**row, **stored_facts(row["specification"])}


def _with_ids(body: dict[str, Any]) -> dict[str, Any]:
    if "maker" in body:
        body["maker_id"] = body.pop("maker")
    return body


class PartsView(ListView):
    rows = PartRow
    filters = PartFilters
    order = ("number", "id")

    def rows_for(self, request: Request) -> Any:
        return parts(by=caller_of(request))

    @describe(summary="List parts", tag=TAG, responses=page_of(PartRow), filters=PartFilters, operation_id="parts_list")
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Add a part",
        tag=TAG,
        request=PartIn,
        responses=PartDetail,
        status=201,
        request_example={
            "number": "OR-226-E",
            "name": "Casing O-ring",
            "category": "o-ring",
            "specification": "226 EPDM 70",
            "cost": "4.20",
            "currency": "EUR",
        },
    )
    def post(self, request: Request) -> Response:
        body = _with_ids(read_body(request, PartIn))

        def perform() -> Answer:
            made = register_part(by=caller_of(request), part_id=body.pop("id", None), **body)
            return created(_part(caller_of(request), made.pk) or {}, f"/api/v1/parts/{made.pk}")

        return answer_write(request, perform, key_required=True)


class PartView(APIView):
    @describe(summary="One part", tag=TAG, responses=PartDetail, operation_id="parts_read")
    def get(self, request: Request, part: uuid.UUID) -> Response:
        return answer_one(request, _part(caller_of(request), part), "The part")

    @describe(
        summary="Change a part",
        tag=TAG,
        request=PartChange,
        responses=PartDetail,
        if_match=True,
        request_example={"cost": "4.60", "currency": "EUR"},
    )
    def patch(self, request: Request, part: uuid.UUID) -> Response:
        version, body = expected_version(request), _with_ids(read_body(request, PartChange, partial=True))

        def perform() -> Answer:
            change_part(by=caller_of(request), part_id=part, expected_version=version, **body)
            return changed(_part(caller_of(request), part) or {})

        return answer_write(request, perform)
