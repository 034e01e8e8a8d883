"""Days and cost of moving goods from site to site."""

from decimal import Decimal

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from kits.models import TransitTime
from kits.operations.transit_times import add_transit_time, change_transit_time, remove_transit_time
from kits.queries.transfers import transit_times
from services.api.filters import Filters
from services.api.rows import Body, Rows


class TransitTimeRow(Rows):
    id = serializers.UUIDField()
    from_site = serializers.UUIDField()
    from_site_code = serializers.CharField(source="from_site.code")
    to_site = serializers.UUIDField()
    to_site_code = serializers.CharField(source="to_site.code")
    days = serializers.IntegerField()
    cost = serializers.DecimalField(max_digits=14, decimal_places=4, help_text="Of moving one piece.")
    currency = serializers.CharField()
    version = serializers.IntegerField()


class TransitTimeFigures(Body):
    days = serializers.IntegerField(min_value=0, max_value=366, help_text="Until it can be used there.")
    cost = serializers.DecimalField(
        max_digits=14, decimal_places=4, min_value=Decimal(0), help_text="Of moving one piece."
    )
    currency = serializers.RegexField("^[A-Z]{3}$", help_text="ISO 4217.")


class TransitTimeIn(TransitTimeFigures):
    id = serializers.UUIDField(required=False)
    from_site = serializers.UUIDField()
    to_site = serializers.UUIDField()


class TransitTimeFilters(Filters):
    from_site = django_filters.UUIDFilter("from_site_id", help_text="The lender's id.")
    to_site = django_filters.UUIDFilter("to_site_id", help_text="The receiver's id.")

    class Meta:
        model = TransitTime
        fields: list[str] = []


TransitTimesView, TransitTimeView = table_views(
    TableDoor(
        path="transit-times",
        one="transit time",
        many="transit times",
        tag="Transfers",
        rows=TransitTimeRow,
        body=TransitTimeIn,
        change_body=TransitTimeFigures,
        filters=TransitTimeFilters,
        order=("id",),
        read=transit_times,
        add=add_transit_time,
        change=change_transit_time,
        remove=remove_transit_time,
        example={
            "from_site": "0199a0c4-0000-7000-8000-000000000002",
            "to_site": "0199a0c4-0000-7000-8000-000000000001",
            "days": 3,
            "cost": "60",
            "currency": "EUR",
        },
        change_example={"days": 4},
        description="One way; the way back is a row of its own. Without a row no transfer is promised between the two.",
    )
)
