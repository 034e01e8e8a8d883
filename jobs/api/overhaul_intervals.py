"""How long pumps may run between overhauls, and which chance is accepted."""

from decimal import Decimal
from typing import Any

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from jobs.models import OverhaulInterval
from jobs.operations.overhaul_intervals import add_interval, change_interval, remove_interval
from jobs.queries.next_overhauls import overhaul_intervals
from services.api.filters import Filters
from services.api.rows import Body, Rows

CHANCE = "That an overhaul comes up within the months ahead, and that wear is beyond its limit by the day advised."
CRITICALITIES = list(OverhaulInterval._meta.get_field("criticality").choices or [])
FIGURES: dict[str, Any] = {
    "months": {"min_value": 1, "max_value": 600, "allow_null": True, "required": False},
    "running_hours": {"min_value": 1, "max_value": 1_000_000, "allow_null": True, "required": False},
    "months_ahead": {"min_value": 1, "max_value": 60},
}


def chance(**options: Any) -> serializers.DecimalField:
    """A chance below one half."""
    return serializers.DecimalField(
        max_digits=4, decimal_places=3, min_value=Decimal("0.001"), max_value=Decimal("0.499"), help_text=CHANCE,
        **options,
    )  # fmt: skip


class OverhaulIntervalRow(Rows):
    id = serializers.UUIDField()
    criticality = serializers.CharField()
    pump_model = serializers.UUIDField(allow_null=True, help_text="Null: for every model without a row of its own.")
    pump_model_code = serializers.CharField(source="pump_model.code", allow_null=True)
    months = serializers.IntegerField(allow_null=True)
    running_hours = serializers.IntegerField(allow_null=True)
    accepted_chance = serializers.DecimalField(max_digits=4, decimal_places=3, help_text=CHANCE)
    months_ahead = serializers.IntegerField()
    source = serializers.CharField()  # type: ignore[assignment]
    version = serializers.IntegerField()


class OverhaulIntervalIn(Body):
    id = serializers.UUIDField(required=False)
    criticality = serializers.ChoiceField(choices=CRITICALITIES)
    pump_model = serializers.UUIDField(required=False, allow_null=True)
    months = serializers.IntegerField(**FIGURES["months"])
    running_hours = serializers.IntegerField(**FIGURES["running_hours"])
    accepted_chance = chance()
    months_ahead = serializers.IntegerField(**FIGURES["months_ahead"])
    source = serializers.CharField(max_length=300)  # type: ignore[assignment]


class OverhaulIntervalChange(Body):
    months = serializers.IntegerField(**FIGURES["months"])
    running_hours = serializers.IntegerField(**FIGURES["running_hours"])
    accepted_chance = chance(required=False)
    months_ahead = serializers.IntegerField(**FIGURES["months_ahead"], required=False)
    source = serializers.CharField(max_length=300, required=False)  # type: ignore[assignment]


class OverhaulIntervalFilters(Filters):
    criticality = django_filters.CharFilter(help_text="vital, essential or desirable.")
    pump_model = django_filters.UUIDFilter("pump_model_id", help_text="The model's id.")

    class Meta:
        model = OverhaulInterval
        fields: list[str] = []


OverhaulIntervalsView, OverhaulIntervalView = table_views(
    TableDoor(
        path="overhaul-intervals",
        one="overhaul interval",
        many="overhaul intervals",
        tag="Next overhauls",
        rows=OverhaulIntervalRow,
        body=OverhaulIntervalIn,
        change_body=OverhaulIntervalChange,
        filters=OverhaulIntervalFilters,
        order=("criticality", "id"),
        read=overhaul_intervals,
        add=add_interval,
        change=change_interval,
        remove=remove_interval,
        example={
            "criticality": "vital", "months": 24, "running_hours": 12000, "accepted_chance": "0.05", "months_ahead": 6,
            "source": "agreed with the plant",
        },
        change_example={"running_hours": 12000, "source": "agreed with the plant"},
        description=(
            "A row for a model counts instead of that of its criticality; an empty interval sets no day. Those that "
            "come with the service are common practice without a source: set your own."
        ),
    )
)  # fmt: skip
