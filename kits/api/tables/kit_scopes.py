"""Scopes of kits."""

from functools import partial

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from assets.operations.table_rows import remove_row
from kits.models import KitScope
from kits.operations.kit_scopes import SCOPES, add_scope, change_scope
from kits.queries.trade_tables import kit_scopes
from services.api.filters import Filters
from services.api.rows import Body, Rows


class KitScopeRow(Rows):
    id = serializers.UUIDField()
    code = serializers.CharField()
    name = serializers.CharField()
    roles = serializers.ListField(
        source="role_codes", child=serializers.CharField(), help_text="Which positions count for a kit of it."
    )
    source = serializers.CharField()  # type: ignore[assignment]
    version = serializers.IntegerField()


class KitScopeIn(Body):
    id = serializers.UUIDField(required=False)
    code = serializers.SlugField(max_length=40)
    name = serializers.CharField(max_length=120)
    roles = serializers.ListField(
        child=serializers.CharField(max_length=40), min_length=1, max_length=200, help_text="Codes of position roles."
    )
    source = serializers.CharField(max_length=300)  # type: ignore[assignment]


class KitScopeChange(Body):
    name = serializers.CharField(max_length=120, required=False)
    roles = serializers.ListField(
        child=serializers.CharField(max_length=40),
        min_length=1,
        max_length=200,
        required=False,
        help_text="Codes of position roles.",
    )
    source = serializers.CharField(max_length=300, required=False)  # type: ignore[assignment]


class KitScopeFilters(Filters):
    code = django_filters.CharFilter(help_text="The code.")
    role = django_filters.CharFilter("roles__code", help_text="Only scopes that hold this role.")

    class Meta:
        model = KitScope
        fields: list[str] = []


KitScopesView, KitScopeView = table_views(
    TableDoor(
        path="kit-scopes",
        one="scope of kits",
        many="scopes of kits",
        tag="Catalogue",
        rows=KitScopeRow,
        body=KitScopeIn,
        change_body=KitScopeChange,
        filters=KitScopeFilters,
        order=("code", "id"),
        read=kit_scopes,
        add=add_scope,
        change=change_scope,
        remove=partial(remove_row, SCOPES),
        example={
            "code": "deflector",
            "name": "Deflector",
            "roles": ["deflector"],
            "source": "common practice, no source",
        },
        change_example={"roles": ["deflector", "circlip"]},
    )
)
