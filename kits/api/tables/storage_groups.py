"""How long groups of elastomers keep."""

from functools import partial

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from assets.operations.table_rows import add_row, remove_row
from kits.api.tables.figures import LOTS_KEEP_THEIR_EXPIRY
from kits.models import StorageGroup
from kits.operations.material_tables import GROUPS, change_storage_group
from kits.queries.materials import storage_groups
from services.api.filters import Filters
from services.api.rows import Body, Rows


class StorageGroupRow(Rows):
    id = serializers.UUIDField()
    code = serializers.CharField()
    initial_years = serializers.IntegerField(help_text="From cure.")
    extension_years = serializers.IntegerField(help_text="Once, after inspection.")
    source = serializers.CharField()  # type: ignore[assignment]
    version = serializers.IntegerField()


class StorageGroupIn(Body):
    id = serializers.UUIDField(required=False)
    code = serializers.CharField(max_length=10)
    initial_years = serializers.IntegerField(min_value=1, max_value=100)
    extension_years = serializers.IntegerField(min_value=0, max_value=100)
    source = serializers.CharField(max_length=300)  # type: ignore[assignment]


class StorageGroupChange(Body):
    initial_years = serializers.IntegerField(min_value=1, max_value=100, required=False)
    extension_years = serializers.IntegerField(min_value=0, max_value=100, required=False)
    source = serializers.CharField(max_length=300, required=False)  # type: ignore[assignment]


class StorageGroupFilters(Filters):
    code = django_filters.CharFilter(help_text="The code.")

    class Meta:
        model = StorageGroup
        fields: list[str] = []


StorageGroupsView, StorageGroupView = table_views(
    TableDoor(
        path="storage-groups",
        one="storage group",
        many="storage groups of elastomers",
        tag="Materials",
        rows=StorageGroupRow,
        body=StorageGroupIn,
        change_body=StorageGroupChange,
        filters=StorageGroupFilters,
        order=("code", "id"),
        read=storage_groups,
        add=partial(add_row, GROUPS),
        change=change_storage_group,
        remove=partial(remove_row, GROUPS),
        example={
            "code": "4+2",
            "initial_years": 4,
            "extension_years": 2,
            "source": "data sheet of the compound in stock",
        },
        change_example={"extension_years": 1},
        description=LOTS_KEEP_THEIR_EXPIRY,
    )
)
