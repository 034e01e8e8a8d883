"""How seal faces bear fluids."""

from functools import partial

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from assets.operations.table_rows import remove_row
from kits.api.tables.figures import SEVERAL_SOURCES, RatingChange, RatingIn
from kits.models import SealFaceRating
from kits.operations.seal_face_tables import SEAL_FACE_RATINGS, add_face_rating, change_face_rating
from kits.queries.trade_tables import seal_face_ratings
from services.api.filters import Filters
from services.api.rows import Rows


class SealFaceRatingRow(Rows):
    id = serializers.UUIDField()
    seal_face = serializers.CharField(source="seal_face.letters")
    fluid_family = serializers.CharField(source="fluid_family.code")
    up_to_c = serializers.DecimalField(max_digits=6, decimal_places=2)
    rating = serializers.CharField()
    note = serializers.CharField()
    chosen_because = serializers.CharField(help_text="Why it counts before other sources; empty: it is not chosen.")
    source = serializers.CharField()  # type: ignore[assignment]
    version = serializers.IntegerField()


class SealFaceRatingIn(RatingIn):
    seal_face = serializers.CharField(max_length=4, help_text="Letters after EN 12756.")


class SealFaceRatingFilters(Filters):
    seal_face = django_filters.CharFilter("seal_face__letters", help_text="Letters after EN 12756.")
    fluid_family = django_filters.CharFilter("fluid_family__code", help_text="A fluid family's code.")
    rating = django_filters.CharFilter(help_text="A, B, C or X.")

    class Meta:
        model = SealFaceRating
        fields: list[str] = []


SealFaceRatingsView, SealFaceRatingView = table_views(
    TableDoor(
        path="seal-face-ratings",
        one="seal face rating",
        many="ratings of seal faces in fluids",
        tag="Materials",
        rows=SealFaceRatingRow,
        body=SealFaceRatingIn,
        change_body=RatingChange,
        filters=SealFaceRatingFilters,
        order=("seal_face__letters", "fluid_family__code", "up_to_c", "id"),
        read=seal_face_ratings,
        add=add_face_rating,
        change=change_face_rating,
        remove=partial(remove_row, SEAL_FACE_RATINGS),
        example={
            "seal_face": "G",
            "fluid_family": "water",
            "up_to_c": "40",
            "rating": "B",
            "source": "common practice, no source",
        },
        change_example={"note": "Only where it never runs dry."},
        description=SEVERAL_SOURCES,
    )
)
