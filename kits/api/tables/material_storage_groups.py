"""Into which storage group sources put a material."""

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from kits.api.tables.figures import LOTS_KEEP_THEIR_EXPIRY, FigureChange, FigureIn
from kits.models import MaterialStorageGroup
from kits.operations.material_tables import (
    add_group_of_material,
    change_group_of_material,
    remove_group_of_material,
)
from kits.queries.materials import material_storage_groups
from services.api.filters import Filters
from services.api.rows import Rows


class MaterialStorageGroupRow(Rows):
    id = serializers.UUIDField()
    material = serializers.CharField(source="material.code")
    storage_group = serializers.CharField(source="storage_group.code")
    note = serializers.CharField()
    chosen_because = serializers.CharField(help_text="Why it counts before other sources; empty: it is not chosen.")
    source = serializers.CharField()  # type: ignore[assignment]
    version = serializers.IntegerField()


class MaterialStorageGroupIn(FigureIn):
    material = serializers.CharField(max_length=20, help_text="A material's code.")
    storage_group = serializers.CharField(max_length=10, help_text="A storage group's code.")


class MaterialStorageGroupChange(FigureChange):
    storage_group = serializers.CharField(max_length=10, required=False)


class MaterialStorageGroupFilters(Filters):
    material = django_filters.CharFilter("material__code", help_text="A material's code.")
    storage_group = django_filters.CharFilter("storage_group__code", help_text="A storage group's code.")

    class Meta:
        model = MaterialStorageGroup
        fields: list[str] = []


MaterialStorageGroupsView, MaterialStorageGroupView = table_views(
    TableDoor(
        path="material-storage-groups",
        one="storage group of a material",
        many="storage groups of materials",
        tag="Materials",
        rows=MaterialStorageGroupRow,
        body=MaterialStorageGroupIn,
        change_body=MaterialStorageGroupChange,
        filters=MaterialStorageGroupFilters,
        order=("material__code", "source", "id"),
        read=material_storage_groups,
        add=add_group_of_material,
        change=change_group_of_material,
        remove=remove_group_of_material,
        example={"material": "FEPM", "storage_group": "C", "source": "data sheet of the compound in stock"},
        change_example={"chosen_because": "The maker of the compound vouches for it."},
        description=LOTS_KEEP_THEIR_EXPIRY,
    )
)
