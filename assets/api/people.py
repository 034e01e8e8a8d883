"""Who I am, and who there is."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from assets.access import grants_as_rows
from assets.operations.people import change_principal, register_principal
from assets.queries.people import principal_row_of, principals
from assets.queries.sites import site_codes
from services.api.filters import Filters, check_parameters
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of
from services.identity.models import Principal

TAG = "People"


class OwnGrantShape(serializers.Serializer[Any]):
    role = serializers.CharField()
    site = serializers.UUIDField(allow_null=True, help_text="None: the whole operator.")
    site_code = serializers.CharField(allow_null=True)


class MeAnswer(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    login = serializers.CharField()
    name = serializers.CharField()
    kind = serializers.CharField()
    sees_availability = serializers.BooleanField(help_text="May see free quantities of every site.")
    scopes = serializers.ListField(child=serializers.CharField(), help_text="What this very request may do at most.")
    grants = OwnGrantShape(many=True)


class MeView(APIView):
    @describe(
        summary="Who I am, and my roles",
        tag=TAG,
        responses=MeAnswer,
        example={
            "id": "0199a0c4-0000-7000-8000-000000000002",
            "login": "ingrid",
            "name": "Ingrid Fell",
            "kind": "person",
            "sees_availability": True,
            "scopes": ["availability", "read", "write"],
            "grants": [{"role": "stores", "site": "0199a0c4-0000-7000-8000-000000000001", "site_code": "heat-plant"}],
        },
    )
    def get(self, request: Request) -> Response:
        check_parameters(request, [])
        by = caller_of(request)
        codes = site_codes()
        grants = [one | {"site_code": codes.get(one["site"])} for one in grants_as_rows(by)]
        return Response(
            principal_row_of(by.id) | {"scopes": sorted(by.scopes), "grants": grants},
            headers={"Cache-Control": "private, no-cache"},
        )


class PrincipalRow(Rows):
    id = serializers.UUIDField()
    login = serializers.CharField()
    name = serializers.CharField()
    kind = serializers.CharField(help_text="person or service.")
    is_active = serializers.BooleanField()
    sees_availability = serializers.BooleanField(help_text="May see free quantities of every site.")
    version = serializers.IntegerField()


EXAMPLE = {
    "id": "0199a0c4-0000-7000-8000-000000000002",
    "login": "ingrid",
    "name": "Ingrid Fell",
    "kind": "person",
    "is_active": True,
    "sees_availability": False,
    "version": 1,
}


class PrincipalIn(Body):
    id = serializers.UUIDField(required=False)
    login = serializers.CharField(max_length=80)
    name = serializers.CharField(max_length=120)
    kind = serializers.ChoiceField(choices=["person", "service"], required=False)
    password = serializers.CharField(max_length=200, required=False, trim_whitespace=False)
    sees_availability = serializers.BooleanField(required=False)


class PrincipalChange(Body):
    name = serializers.CharField(max_length=120, required=False)
    password = serializers.CharField(max_length=200, required=False, trim_whitespace=False)
    is_active = serializers.BooleanField(required=False)
    sees_availability = serializers.BooleanField(required=False)


class PrincipalFilters(Filters):
    login = django_filters.CharFilter("login", "iexact", help_text="The login.")
    is_active = django_filters.BooleanFilter(help_text="Only those who may sign in, or only the others.")

    class Meta:
        model = Principal
        fields: list[str] = []


def _principal(by: Caller, pk: Any) -> dict[str, Any] | None:
    return PrincipalRow.select(principals(by=by).filter(pk=pk)).first()


class PrincipalsView(ListView):
    rows = PrincipalRow
    filters = PrincipalFilters
    order = ("login", "id")

    def rows_for(self, request: Request) -> Any:
        return principals(by=caller_of(request))

    @describe(
        summary="List people and services",
        tag=TAG,
        responses=page_of(PrincipalRow),
        filters=PrincipalFilters,
        example={"results": [EXAMPLE], "next": None, "previous": None},
        operation_id="principals_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Add a person or a service",
        tag=TAG,
        request=PrincipalIn,
        responses=PrincipalRow,
        status=201,
        example=EXAMPLE,
        request_example={"login": "ingrid", "name": "Ingrid Fell"},
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, PrincipalIn)

        def perform() -> Answer:
            made = register_principal(by=caller_of(request), principal_id=body.pop("id", None), **body)
            return created(_principal(caller_of(request), made.pk) or {}, f"/api/v1/principals/{made.pk}")

        return answer_write(request, perform, key_required=True)


class PrincipalView(APIView):
    @describe(
        summary="One person or service",
        tag=TAG,
        responses=PrincipalRow,
        example=EXAMPLE,
        operation_id="principals_read",
    )
    def get(self, request: Request, principal: uuid.UUID) -> Response:
        return answer_one(request, _principal(caller_of(request), principal), "The principal")

    @describe(
        summary="Change a person or service",
        tag=TAG,
        request=PrincipalChange,
        responses=PrincipalRow,
        if_match=True,
        example=EXAMPLE | {"is_active": False, "version": 2},
        request_example={"is_active": False},
    )
    def patch(self, request: Request, principal: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, PrincipalChange, partial=True)

        def perform() -> Answer:
            change_principal(by=caller_of(request), principal_id=principal, expected_version=version, **body)
            return changed(_principal(caller_of(request), principal) or {})

        return answer_write(request, perform)
