"""Roles at sites."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from assets.models import Grant, Role
from assets.operations.grants import give_role, withdraw_role
from assets.queries.sites import grants
from services.api.filters import Filters
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.views import ListView
from services.api.writes import Answer, answer_write, created
from services.identity.callers import Caller, caller_of

TAG = "Roles"


class GrantRow(Rows):
    id = serializers.UUIDField()
    principal = serializers.UUIDField()
    login = serializers.CharField(source="principal.login")
    role = serializers.CharField()
    site = serializers.UUIDField(allow_null=True, help_text="None: the whole operator.")
    site_code = serializers.CharField(source="site.code", allow_null=True)


class GrantIn(Body):
    principal = serializers.UUIDField()
    role = serializers.ChoiceField(choices=Role.choices)
    site = serializers.UUIDField(required=False, allow_null=True, help_text="Left out: the whole operator.")


class GrantFilters(Filters):
    principal = django_filters.UUIDFilter("principal_id", help_text="The principal's id.")
    site = django_filters.UUIDFilter("site_id", help_text="The site's id.")
    role = django_filters.CharFilter(help_text="The role.")

    class Meta:
        model = Grant
        fields: list[str] = []


def _grant(by: Caller, grant_id: Any) -> dict[str, Any] | None:
    return GrantRow.select(grants(by=by).filter(pk=grant_id)).first()


class GrantsView(ListView):
    rows = GrantRow
    filters = GrantFilters
    order = ("principal__login", "role", "id")

    def rows_for(self, request: Request) -> Any:
        return grants(by=caller_of(request))

    @describe(
        summary="List roles at sites you administer",
        tag=TAG,
        responses=page_of(GrantRow),
        filters=GrantFilters,
        operation_id="grants_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Give a role",
        tag=TAG,
        request=GrantIn,
        responses=GrantRow,
        status=201,
        request_example={
            "principal": "0199a0c4-0000-7000-8000-000000000002",
            "role": "fitter",
            "site": "0199a0c4-0000-7000-8000-000000000001",
        },
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, GrantIn)

        def perform() -> Answer:
            made = give_role(
                by=caller_of(request),
                principal_id=body["principal"],
                role=body["role"],
                site_id=body.get("site"),
            )
            return created(_grant(caller_of(request), made.pk) or {}, f"/api/v1/grants/{made.pk}")

        return answer_write(request, perform, key_required=True)


class GrantView(APIView):
    @describe(summary="Withdraw a role", tag=TAG, responses=None, status=204)
    def delete(self, request: Request, grant: uuid.UUID) -> Response:
        def perform() -> Answer:
            withdraw_role(by=caller_of(request), grant_id=grant)
            return Answer(None, 204)

        return answer_write(request, perform)
