"""Temperature limits of materials."""

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from kits.api.tables.figures import SEVERAL_SOURCES, FigureChange, FigureIn
from kits.models import MaterialLimit
from kits.models.materials import COLDEST_C
from kits.operations.material_tables import add_limit, change_limit, remove_limit
from kits.queries.materials import material_limits
from services.api.filters import Filters
from services.api.rows import Rows


class MaterialLimitRow(Rows):
    id = serializers.UUIDField()
    material = serializers.CharField(source="material.code")
    air_min_c = serializers.DecimalField(max_digits=6, decimal_places=2, allow_null=True)
    air_max_c = serializers.DecimalField(max_digits=6, decimal_places=2, allow_null=True)
    hot_water_max_c = serializers.DecimalField(max_digits=6, decimal_places=2, allow_null=True)
    note = serializers.CharField()
    chosen_because = serializers.CharField(help_text="Why it counts before other sources; empty: it is not chosen.")
    source = serializers.CharField()  # type: ignore[assignment]
    version = serializers.IntegerField()


class MaterialLimitIn(FigureIn):
    material = serializers.CharField(max_length=20, help_text="A material's code.")
    air_min_c = serializers.DecimalField(
        max_digits=6, decimal_places=2, min_value=COLDEST_C, required=False, allow_null=True
    )
    air_max_c = serializers.DecimalField(
        max_digits=6, decimal_places=2, min_value=COLDEST_C, required=False, allow_null=True
    )
    hot_water_max_c = serializers.DecimalField(
        max_digits=6, decimal_places=2, min_value=COLDEST_C, required=False, allow_null=True
    )


class MaterialLimitChange(FigureChange):
    air_min_c = serializers.DecimalField(
        max_digits=6, decimal_places=2, min_value=COLDEST_C, required=False, allow_null=True
    )
    air_max_c = serializers.DecimalField(
        max_digits=6, decimal_places=2, min_value=COLDEST_C, required=False, allow_null=True
    )
    hot_water_max_c = serializers.DecimalField(
        max_digits=6, decimal_places=2, min_value=COLDEST_C, required=False, allow_null=True
    )


class MaterialLimitFilters(Filters):
    material = django_filters.CharFilter("material__code", help_text="A material's code.")

    class Meta:
        model = MaterialLimit
        fields: list[str] = []


MaterialLimitsView, MaterialLimitView = table_views(
    TableDoor(
        path="material-limits",
        one="material limit",
        many="temperature limits of materials",
        tag="Materials",
        rows=MaterialLimitRow,
        body=MaterialLimitIn,
        change_body=MaterialLimitChange,
        filters=MaterialLimitFilters,
        order=("material__code", "source", "id"),
        read=material_limits,
        add=add_limit,
        change=change_limit,
        remove=remove_limit,
        example={
            "material": "NBR",
            "air_min_c": "-35",
            "air_max_c": "110",
            "source": "data sheet of the compound in stock",
        },
        change_example={"chosen_because": "The compound in stock is tested to it."},
        description=SEVERAL_SOURCES,
    )
)
