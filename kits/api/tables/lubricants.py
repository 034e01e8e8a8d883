"""Assembly lubricants."""

from functools import partial

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from assets.operations.table_rows import add_row, change_row, remove_row
from kits.models import Lubricant
from kits.operations.lubricant_tables import LUBRICANTS
from kits.queries.trade_tables import lubricants
from services.api.filters import Filters
from services.api.rows import Body, Rows


class LubricantRow(Rows):
    id = serializers.UUIDField()
    code = serializers.CharField()
    name = serializers.CharField()
    suits_unknown = serializers.BooleanField(help_text="It may touch an elastomer that the tables do not know.")
    source = serializers.CharField()  # type: ignore[assignment]
    version = serializers.IntegerField()


class LubricantIn(Body):
    id = serializers.UUIDField(required=False)
    code = serializers.SlugField(max_length=40)
    name = serializers.CharField(max_length=120)
    suits_unknown = serializers.BooleanField(required=False)
    source = serializers.CharField(max_length=300)  # type: ignore[assignment]


class LubricantChange(Body):
    name = serializers.CharField(max_length=120, required=False)
    suits_unknown = serializers.BooleanField(required=False)
    source = serializers.CharField(max_length=300, required=False)  # type: ignore[assignment]


class LubricantFilters(Filters):
    code = django_filters.CharFilter(help_text="The code.")

    class Meta:
        model = Lubricant
        fields: list[str] = []


LubricantsView, LubricantView = table_views(
    TableDoor(
        path="lubricants",
        one="lubricant",
        many="assembly lubricants",
        tag="Lubricants",
        rows=LubricantRow,
        body=LubricantIn,
        change_body=LubricantChange,
        filters=LubricantFilters,
        order=("code", "id"),
        read=lubricants,
        add=partial(add_row, LUBRICANTS),
        change=partial(change_row, LUBRICANTS),
        remove=partial(remove_row, LUBRICANTS),
        example={"code": "plain-water", "name": "Plain water", "source": "term of the trade, no source"},
        change_example={"suits_unknown": True},
    )
)
