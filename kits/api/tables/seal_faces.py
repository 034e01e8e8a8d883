"""Materials of seal faces."""

from functools import partial

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from assets.operations.table_rows import add_row, change_row, remove_row
from kits.models import SealFace
from kits.operations.seal_face_tables import SEAL_FACES
from kits.queries.trade_tables import seal_faces
from services.api.filters import Filters
from services.api.rows import Body, Rows


class SealFaceRow(Rows):
    id = serializers.UUIDField()
    letters = serializers.CharField(help_text="After EN 12756.")
    name = serializers.CharField()
    note = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]
    version = serializers.IntegerField()


class SealFaceIn(Body):
    id = serializers.UUIDField(required=False)
    letters = serializers.RegexField(
        "^[A-Z][0-9]?$", help_text="After EN 12756: a letter, and a digit that narrows it."
    )
    name = serializers.CharField(max_length=120)
    note = serializers.CharField(max_length=2000, required=False, allow_blank=True)
    source = serializers.CharField(max_length=300)  # type: ignore[assignment]


class SealFaceChange(Body):
    name = serializers.CharField(max_length=120, required=False)
    note = serializers.CharField(max_length=2000, required=False, allow_blank=True)
    source = serializers.CharField(max_length=300, required=False)  # type: ignore[assignment]


class SealFaceFilters(Filters):
    letters = django_filters.CharFilter(help_text="The letters.")

    class Meta:
        model = SealFace
        fields: list[str] = []


SealFacesView, SealFaceView = table_views(
    TableDoor(
        path="seal-faces",
        one="seal face",
        many="materials of seal faces",
        tag="Materials",
        rows=SealFaceRow,
        body=SealFaceIn,
        change_body=SealFaceChange,
        filters=SealFaceFilters,
        order=("letters", "id"),
        read=seal_faces,
        add=partial(add_row, SEAL_FACES),
        change=partial(change_row, SEAL_FACES),
        remove=partial(remove_row, SEAL_FACES),
        example={
            "letters": "Q3",
            "name": "silicon carbide with graphite",
            "source": "EN 12756:2000 material key, letters value from memory",
        },
        change_example={"note": "Bears a short dry run."},
    )
)
