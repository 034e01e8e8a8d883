"""How materials bear fluids."""

from functools import partial

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from assets.operations.table_rows import remove_row
from kits.api.tables.figures import SEVERAL_SOURCES
from kits.models import MaterialRating
from kits.models.materials import COLDEST_C
from kits.operations.material_tables import RATINGS, add_rating, change_rating
from kits.queries.materials import material_ratings
from services.api.filters import Filters
from services.api.rows import Body, Rows


class MaterialRatingRow(Rows):
    id = serializers.UUIDField()
    material = serializers.CharField(source="material.code")
    fluid_family = serializers.CharField(source="fluid_family.code")
    up_to_c = serializers.DecimalField(max_digits=6, decimal_places=2)
    rating = serializers.CharField()
    note = serializers.CharField()
    chosen_because = serializers.CharField(help_text="Why it counts before other sources; empty: it is not chosen.")
    source = serializers.CharField()  # type: ignore[assignment]
    version = serializers.IntegerField()


class MaterialRatingIn(Body):
    id = serializers.UUIDField(required=False)
    material = serializers.CharField(max_length=20, help_text="A material's code.")
    fluid_family = serializers.CharField(max_length=40, help_text="A fluid family's code.")
    up_to_c = serializers.DecimalField(max_digits=6, decimal_places=2, min_value=COLDEST_C)
    rating = serializers.ChoiceField(choices=["A", "B", "C", "X"], help_text="A good, B limited, C doubtful, X not.")
    note = serializers.CharField(max_length=2000, required=False, allow_blank=True)
    chosen_because = serializers.CharField(
        max_length=2000,
        required=False,
        allow_blank=True,
        help_text="Give a reason to let it count before other sources.",
    )
    source = serializers.CharField(max_length=300)  # type: ignore[assignment]


class MaterialRatingChange(Body):
    up_to_c = serializers.DecimalField(max_digits=6, decimal_places=2, min_value=COLDEST_C, required=False)
    rating = serializers.ChoiceField(choices=["A", "B", "C", "X"], required=False)
    note = serializers.CharField(max_length=2000, required=False, allow_blank=True)
    chosen_because = serializers.CharField(
        max_length=2000,
        required=False,
        allow_blank=True,
        help_text="Give a reason to let it count before other sources.",
    )
    source = serializers.CharField(max_length=300, required=False)  # type: ignore[assignment]


class MaterialRatingFilters(Filters):
    material = django_filters.CharFilter("material__code", help_text="A material's code.")
    fluid_family = django_filters.CharFilter("fluid_family__code", help_text="A fluid family's code.")
    rating = django_filters.CharFilter(help_text="A, B, C or X.")

    class Meta:
        model = MaterialRating
        fields: list[str] = []


MaterialRatingsView, MaterialRatingView = table_views(
    TableDoor(
        path="material-ratings",
        one="material rating",
        many="ratings of materials in fluids",
        tag="Materials",
        rows=MaterialRatingRow,
        body=MaterialRatingIn,
        change_body=MaterialRatingChange,
        filters=MaterialRatingFilters,
        order=("material__code", "fluid_family__code", "up_to_c", "id"),
        read=material_ratings,
        add=add_rating,
        change=change_rating,
        remove=partial(remove_row, RATINGS),
        example={
            "material": "FKM",
            "fluid_family": "water",
            "up_to_c": "95",
            "rating": "B",
            "source": "data sheet of the compound in stock",
        },
        change_example={"rating": "C"},
        description=SEVERAL_SOURCES,
    )
)
