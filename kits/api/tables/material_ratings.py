"""How materials bear fluids."""

from functools import partial

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from assets.operations.table_rows import remove_row
from kits.api.tables.figures import SEVERAL_SOURCES, RatingChange, RatingIn
from kits.models import MaterialRating
from kits.operations.material_tables import RATINGS, add_rating, change_rating
from kits.queries.materials import material_ratings
from services.api.filters import Filters
from services.api.rows import Rows


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


class MaterialRatingIn(RatingIn):
    material = serializers.CharField(max_length=20, help_text="A material's code.")


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
        change_body=RatingChange,
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
