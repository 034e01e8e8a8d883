"""How well stock shall serve."""

from decimal import Decimal
from functools import partial

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from assets.operations.table_rows import add_row, change_row, remove_row
from kits.models import ServiceTarget
from kits.operations.service_targets import TARGETS
from kits.queries.trade_tables import service_targets
from services.api.filters import Filters
from services.api.rows import Body, Rows

MEASURES = "fill: the share of needs met from the shelf; cycle: the chance of no shortage until an order is there."
CRITICALITIES = list(ServiceTarget._meta.get_field("criticality").choices or [])


class ServiceTargetRow(Rows):
    id = serializers.UUIDField()
    criticality = serializers.CharField()
    fill_rate = serializers.DecimalField(max_digits=5, decimal_places=4, help_text="The share, of whichever measure.")
    measure = serializers.CharField(help_text=MEASURES)
    source = serializers.CharField()  # type: ignore[assignment]
    version = serializers.IntegerField()


class ServiceTargetIn(Body):
    id = serializers.UUIDField(required=False)
    criticality = serializers.ChoiceField(choices=CRITICALITIES)
    fill_rate = serializers.DecimalField(
        max_digits=5, decimal_places=4, min_value=Decimal("0.0001"), max_value=Decimal("0.9999")
    )
    measure = serializers.ChoiceField(choices=ServiceTarget.Measure.choices, required=False, help_text=MEASURES)
    source = serializers.CharField(max_length=300)  # type: ignore[assignment]


class ServiceTargetChange(Body):
    fill_rate = serializers.DecimalField(
        max_digits=5, decimal_places=4, min_value=Decimal("0.0001"), max_value=Decimal("0.9999"), required=False
    )
    measure = serializers.ChoiceField(choices=ServiceTarget.Measure.choices, required=False, help_text=MEASURES)
    source = serializers.CharField(max_length=300, required=False)  # type: ignore[assignment]


class ServiceTargetFilters(Filters):
    criticality = django_filters.CharFilter(help_text="vital, essential or desirable.")

    class Meta:
        model = ServiceTarget
        fields: list[str] = []


ServiceTargetsView, ServiceTargetView = table_views(
    TableDoor(
        path="service-targets",
        one="service target",
        many="service targets",
        tag="Catalogue",
        rows=ServiceTargetRow,
        body=ServiceTargetIn,
        change_body=ServiceTargetChange,
        filters=ServiceTargetFilters,
        order=("criticality", "id"),
        read=service_targets,
        add=partial(add_row, TARGETS),
        change=partial(change_row, TARGETS),
        remove=partial(remove_row, TARGETS),
        example={"criticality": "vital", "fill_rate": "0.98", "source": "agreed with the plant"},
        change_example={"fill_rate": "0.98"},
    )
)
