"""The roles that positions have."""

from functools import partial

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from assets.models import PositionRole
from assets.operations.position_roles import POSITION_ROLES
from assets.operations.table_rows import add_row, change_row, remove_row
from assets.queries.pump_models import position_roles
from services.api.filters import Filters
from services.api.rows import Body, Rows


class PositionRoleRow(Rows):
    id = serializers.UUIDField()
    code = serializers.CharField()
    name = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]
    version = serializers.IntegerField()


class PositionRoleIn(Body):
    id = serializers.UUIDField(required=False)
    code = serializers.SlugField(max_length=40)
    name = serializers.CharField(max_length=120)
    source = serializers.CharField(max_length=300)  # type: ignore[assignment]


class PositionRoleChange(Body):
    name = serializers.CharField(max_length=120, required=False)
    source = serializers.CharField(max_length=300, required=False)  # type: ignore[assignment]


class PositionRoleFilters(Filters):
    code = django_filters.CharFilter(help_text="The code.")

    class Meta:
        model = PositionRole
        fields: list[str] = []


PositionRolesView, PositionRoleView = table_views(
    TableDoor(
        path="position-roles",
        one="position role",
        many="the roles that positions have",
        tag="Pump models",
        rows=PositionRoleRow,
        body=PositionRoleIn,
        change_body=PositionRoleChange,
        filters=PositionRoleFilters,
        order=("code", "id"),
        read=position_roles,
        add=partial(add_row, POSITION_ROLES),
        change=partial(change_row, POSITION_ROLES),
        remove=partial(remove_row, POSITION_ROLES),
        example={"code": "balance-drum", "name": "Balance drum", "source": "term of the trade, no source"},
        change_example={"name": "Balance drum with its bush"},
    )
)
