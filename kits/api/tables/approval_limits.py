"""How much may be ordered by whom."""

from decimal import Decimal

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from kits.models import ApprovalLimit
from kits.operations.approval_limits import add_approval_limit, change_approval_limit, remove_approval_limit
from kits.queries.approval_limits import approval_limits
from services.api.filters import Filters
from services.api.rows import Body, Rows


class ApprovalLimitRow(Rows):
    id = serializers.UUIDField()
    role = serializers.CharField(help_text="stores, admin, or automatic: what replenishment approves by itself.")
    currency = serializers.CharField()
    limit = serializers.DecimalField(max_digits=14, decimal_places=2, help_text="The most an order may be worth.")
    window_days = serializers.IntegerField(
        help_text="Orders of a site at a supplier within so many days add up; 0: each counts for itself."
    )
    version = serializers.IntegerField()


class ApprovalLimitFigures(Body):
    limit = serializers.DecimalField(
        max_digits=14, decimal_places=2, min_value=Decimal(0), help_text="The most an order may be worth."
    )
    window_days = serializers.IntegerField(min_value=0, max_value=366, required=False)


class ApprovalLimitIn(ApprovalLimitFigures):
    id = serializers.UUIDField(required=False)
    role = serializers.ChoiceField(choices=[str(one) for one in ApprovalLimit.Approver.values])
    currency = serializers.RegexField("^[A-Z]{3}$", help_text="ISO 4217.")


class ApprovalLimitFilters(Filters):
    role = django_filters.CharFilter(help_text="stores, admin or automatic.")
    currency = django_filters.CharFilter(help_text="ISO 4217.")

    class Meta:
        model = ApprovalLimit
        fields: list[str] = []


ApprovalLimitsView, ApprovalLimitView = table_views(
    TableDoor(
        path="approval-limits",
        one="approval limit",
        many="approval limits",
        tag="Replenishment",
        rows=ApprovalLimitRow,
        body=ApprovalLimitIn,
        change_body=ApprovalLimitFigures,
        filters=ApprovalLimitFilters,
        order=("role", "currency", "id"),
        read=approval_limits,
        add=add_approval_limit,
        change=change_approval_limit,
        remove=remove_approval_limit,
        example={"role": "stores", "currency": "EUR", "limit": "2000", "window_days": 7},
        change_example={"limit": "2500"},
        description="Kept by administrators of the whole operator. A role without any limit may approve everything; "
        "one with limits may approve nothing in another currency. Nothing is approved automatically without its limit.",
    )
)
