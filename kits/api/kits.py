"""Kits with their lines."""

import uuid
from collections.abc import Callable
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.models import Item
from kits.operations.kits import (
    LineWanted,
    change_kit,
    draft_kit,
    release_kit,
    set_lines,
    withdraw_kit,
)
from kits.queries.kits import kit_lines, kits
from services.api.filters import Filters, TextInFilter
from services.api.rows import Body, NothingIn, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of

TAG = "Catalogue"
CRITICALITIES = list(Item._meta.get_field("criticality").choices or [])


class KitRow(Rows):
    id = serializers.UUIDField()
    number = serializers.CharField()
    revision = serializers.CharField()
    name = serializers.CharField()
    scope = serializers.CharField(source="kit.scope.code")
    state = serializers.CharField(source="kit.state", help_text="draft, released or withdrawn.")
    released_at = serializers.DateTimeField(source="kit.released_at", allow_null=True)
    cost = serializers.DecimalField(max_digits=14, decimal_places=4, allow_null=True)
    currency = serializers.CharField()
    criticality = serializers.CharField()
    external_ids = serializers.DictField(child=serializers.CharField())
    version = serializers.IntegerField()


class KitLineShape(serializers.Serializer[Any]):
    line = serializers.IntegerField()
    role = serializers.CharField()
    part = serializers.UUIDField(source="part_id")
    number = serializers.CharField()
    name = serializers.CharField()
    category = serializers.CharField()
    elastomers = serializers.ListField(child=serializers.CharField())
    quantity = serializers.DecimalField(max_digits=9, decimal_places=3)
    optional = serializers.BooleanField()
    alternative_group = serializers.CharField()


class KitDetail(KitRow):
    computed = ("lines",)
    lines = KitLineShape(many=True)


class KitIn(Body):
    id = serializers.UUIDField(required=False)
    number = serializers.CharField(max_length=60)
    revision = serializers.CharField(max_length=20)
    name = serializers.CharField(max_length=200)
    scope = serializers.CharField(max_length=40, help_text="A scope's code, such as full-overhaul.")
    cost = serializers.DecimalField(max_digits=14, decimal_places=4, required=False, min_value=0)
    currency = serializers.RegexField("^[A-Z]{3}$", required=False, help_text="ISO 4217.")
    criticality = serializers.ChoiceField(choices=CRITICALITIES, required=False)


class KitChange(Body):
    name = serializers.CharField(max_length=200, required=False)
    cost = serializers.DecimalField(max_digits=14, decimal_places=4, required=False, min_value=0, allow_null=True)
    currency = serializers.RegexField("^[A-Z]{3}$", required=False)
    criticality = serializers.ChoiceField(choices=CRITICALITIES, required=False)
    external_ids = serializers.DictField(child=serializers.CharField(max_length=120), required=False)


class KitLineIn(Body):
    line = serializers.IntegerField(min_value=1)
    role = serializers.CharField(max_length=40)
    part = serializers.UUIDField()
    quantity = serializers.DecimalField(max_digits=9, decimal_places=3)
    optional = serializers.BooleanField(required=False)
    alternative_group = serializers.CharField(max_length=20, required=False, allow_blank=True)


class KitLinesIn(Body):
    lines = KitLineIn(many=True)


class KitFilters(Filters):
    q = django_filters.CharFilter("name", "icontains", help_text="Part of the name.")
    number = django_filters.CharFilter("number", "iexact", help_text="The number.")
    number__in = TextInFilter("number", help_text="Several numbers, separated by commas.")
    revision = django_filters.CharFilter(help_text="The revision.")
    scope = django_filters.CharFilter("kit__scope__code", help_text="A scope's code.")
    state = django_filters.CharFilter("kit__state", help_text="draft, released or withdrawn.")
    part = django_filters.UUIDFilter("kit__lines__part_id", help_text="Kits that hold this part.")

    class Meta:
        model = Item
        fields: list[str] = []


def _kit(by: Caller, pk: Any) -> dict[str, Any] | None:
    found = KitRow.select(kits(by=by).filter(pk=pk)).first()
    return None if found is None else {**found, "lines": KitLineShape(kit_lines(found["id"]), many=True).data}


class KitsView(ListView):
    rows = KitRow
    filters = KitFilters
    order = ("number", "revision", "id")

    def rows_for(self, request: Request) -> Any:
        return kits(by=caller_of(request))

    @describe(summary="List kits", tag=TAG, responses=page_of(KitRow), filters=KitFilters, operation_id="kits_list")
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Draft a revision of a kit",
        tag=TAG,
        request=KitIn,
        responses=KitDetail,
        status=201,
        request_example={
            "number": "KIT-NB-40",
            "revision": "B",
            "name": "Overhaul kit NB 40, EPDM",
            "scope": "full-overhaul",
            "cost": "184.50",
            "currency": "EUR",
        },
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, KitIn)

        def perform() -> Answer:
            made = draft_kit(by=caller_of(request), kit_id=body.pop("id", None), **body)
            return created(_kit(caller_of(request), made.pk) or {}, f"/api/v1/kits/{made.pk}")

        return answer_write(request, perform, key_required=True)


class KitView(APIView):
    @describe(summary="One revision of a kit with its lines", tag=TAG, responses=KitDetail, operation_id="kits_read")
    def get(self, request: Request, kit: uuid.UUID) -> Response:
        return answer_one(request, _kit(caller_of(request), kit), "The kit")

    @describe(
        summary="Change a kit's name, cost or criticality",
        tag=TAG,
        request=KitChange,
        responses=KitDetail,
        if_match=True,
        request_example={"criticality": "vital"},
    )
    def patch(self, request: Request, kit: uuid.UUID) -> Response:
        body = read_body(request, KitChange, partial=True)
        return _act(
            request,
            kit,
            lambda version: change_kit(by=caller_of(request), kit_id=kit, expected_version=version, **body),
        )


def _act(request: Request, kit: uuid.UUID, do: Callable[[int], Any]) -> Response:
    version = expected_version(request)

    def perform() -> Answer:
        do(version)
        return changed(_kit(caller_of(request), kit) or {})

    return answer_write(request, perform)


class KitLinesView(APIView):
    @describe(
        summary="Replace the lines of a draft",
        tag=TAG,
        request=KitLinesIn,
        responses=KitDetail,
        if_match=True,
        request_example={
            "lines": [
                {
                    "line": 1,
                    "role": "casing-o-ring",
                    "part": "0199a0c4-0000-7000-8000-000000000006",
                    "quantity": "1",
                }
            ]
        },
    )
    def post(self, request: Request, kit: uuid.UUID) -> Response:
        body = read_body(request, KitLinesIn)
        lines = [
            LineWanted(
                one["line"],
                one["role"],
                one["part"],
                one["quantity"],
                one.get("optional", False),
                one.get("alternative_group", ""),
            )
            for one in body["lines"]
        ]
        return _act(
            request,
            kit,
            lambda version: set_lines(by=caller_of(request), kit_id=kit, expected_version=version, lines=lines),
        )


class ReleaseKitView(APIView):
    @describe(
        summary="Release a draft",
        tag=TAG,
        request=NothingIn,
        responses=KitDetail,
        if_match=True,
        description="From now on its lines never change; its fits are computed.",
    )
    def post(self, request: Request, kit: uuid.UUID) -> Response:
        read_body(request, NothingIn)
        return _act(
            request, kit, lambda version: release_kit(by=caller_of(request), kit_id=kit, expected_version=version)
        )


class WithdrawKitView(APIView):
    @describe(
        summary="Withdraw a released revision",
        tag=TAG,
        request=NothingIn,
        responses=KitDetail,
        if_match=True,
        description="It is offered no more. Stock and jobs that have it go on.",
    )
    def post(self, request: Request, kit: uuid.UUID) -> Response:
        read_body(request, NothingIn)
        return _act(
            request, kit, lambda version: withdraw_kit(by=caller_of(request), kit_id=kit, expected_version=version)
        )
