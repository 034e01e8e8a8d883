"""Families of fluids."""

from functools import partial

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from assets.models import FluidFamily
from assets.operations.fluid_families import FLUID_FAMILIES
from assets.operations.table_rows import add_row, change_row, remove_row
from assets.queries.pump_models import fluid_families
from services.api.filters import Filters
from services.api.rows import Body, Rows


class FluidFamilyRow(Rows):
    id = serializers.UUIDField()
    code = serializers.CharField()
    name = serializers.CharField()
    is_water = serializers.BooleanField(help_text="A compound's hot-water limit counts in it.")
    note = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]
    version = serializers.IntegerField()


class FluidFamilyIn(Body):
    id = serializers.UUIDField(required=False)
    code = serializers.SlugField(max_length=40)
    name = serializers.CharField(max_length=120)
    is_water = serializers.BooleanField(help_text="A compound's hot-water limit counts in it.")
    note = serializers.CharField(max_length=2000, required=False, allow_blank=True)
    source = serializers.CharField(max_length=300)  # type: ignore[assignment]


class FluidFamilyChange(Body):
    name = serializers.CharField(max_length=120, required=False)
    is_water = serializers.BooleanField(required=False)
    note = serializers.CharField(max_length=2000, required=False, allow_blank=True)
    source = serializers.CharField(max_length=300, required=False)  # type: ignore[assignment]


class FluidFamilyFilters(Filters):
    code = django_filters.CharFilter(help_text="The code.")
    is_water = django_filters.BooleanFilter(help_text="Only watery families, or only the others.")

    class Meta:
        model = FluidFamily
        fields: list[str] = []


FluidFamiliesView, FluidFamilyView = table_views(
    TableDoor(
        path="fluid-families",
        one="family of fluids",
        many="families of fluids",
        tag="Pump models",
        rows=FluidFamilyRow,
        body=FluidFamilyIn,
        change_body=FluidFamilyChange,
        filters=FluidFamilyFilters,
        order=("code", "id"),
        read=fluid_families,
        add=partial(add_row, FLUID_FAMILIES),
        change=partial(change_row, FLUID_FAMILIES),
        remove=partial(remove_row, FLUID_FAMILIES),
        example={
            "code": "brine",
            "name": "Brine of calcium chloride",
            "is_water": True,
            "source": "common practice, no source",
        },
        change_example={"note": "Cold side of refrigeration plants."},
    )
)
