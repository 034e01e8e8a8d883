"""Sealing materials."""

from functools import partial

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from assets.operations.table_rows import add_row, change_row
from kits.models import Material
from kits.operations.material_tables import MATERIALS, remove_material
from kits.queries.materials import materials
from services.api.filters import Filters
from services.api.rows import Body, Rows


class MaterialRow(Rows):
    id = serializers.UUIDField()
    code = serializers.CharField(help_text="After ISO 1629.")
    name = serializers.CharField()
    aliases = serializers.ListField(child=serializers.CharField(), help_text="Older names of the same.")
    storage_group = serializers.CharField(
        source="storage_group.code", allow_null=True, help_text="The one that counts; none: it does not age."
    )
    note = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]
    version = serializers.IntegerField()


class MaterialIn(Body):
    id = serializers.UUIDField(required=False)
    code = serializers.RegexField("^[A-Z][A-Z0-9-]*$", max_length=20, help_text="After ISO 1629.")
    name = serializers.CharField(max_length=120)
    aliases = serializers.ListField(child=serializers.CharField(max_length=20), max_length=10, required=False)
    note = serializers.CharField(max_length=2000, required=False, allow_blank=True)
    source = serializers.CharField(max_length=300)  # type: ignore[assignment]


class MaterialChange(Body):
    name = serializers.CharField(max_length=120, required=False)
    aliases = serializers.ListField(child=serializers.CharField(max_length=20), max_length=10, required=False)
    note = serializers.CharField(max_length=2000, required=False, allow_blank=True)
    source = serializers.CharField(max_length=300, required=False)  # type: ignore[assignment]


class MaterialFilters(Filters):
    code = django_filters.CharFilter(help_text="The code.")
    storage_group = django_filters.CharFilter("storage_group__code", help_text="A storage group's code.")

    class Meta:
        model = Material
        fields: list[str] = []


MaterialsView, MaterialView = table_views(
    TableDoor(
        path="materials",
        one="material",
        many="sealing materials",
        tag="Materials",
        rows=MaterialRow,
        body=MaterialIn,
        change_body=MaterialChange,
        filters=MaterialFilters,
        order=("code", "id"),
        read=materials,
        add=partial(add_row, MATERIALS),
        change=partial(change_row, MATERIALS),
        remove=remove_material,
        example={
            "code": "XNBR",
            "name": "carboxylated acrylonitrile-butadiene rubber",
            "source": "ISO 1629 name, value from memory",
        },
        change_example={"note": "Wears less than NBR."},
    )
)
