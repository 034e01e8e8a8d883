"""How long suppliers take: agreed against learned."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kits.models import LearnedLeadTime
from kits.queries.lead_times import lead_times
from services.api.filters import Filters
from services.api.rows import Rows
from services.api.schema import describe, page_of
from services.api.views import ListView
from services.identity.callers import caller_of


def _days(help_text: str = "", **more: Any) -> serializers.DecimalField:
    return serializers.DecimalField(max_digits=7, decimal_places=2, help_text=help_text, **more)


def _weight() -> serializers.DecimalField:
    return serializers.DecimalField(max_digits=5, decimal_places=4)


class LeadTimeRow(Rows):
    item = serializers.UUIDField(allow_null=True, help_text="Null: the supplier as a whole.")
    number = serializers.CharField(source="item.number", allow_null=True)
    revision = serializers.CharField(source="item.revision", allow_null=True)
    agreed_days = _days("As in the terms.", allow_null=True)
    agreed_sd_days = _days(allow_null=True)
    observed_mean_days = _days("Mean of what came.", allow_null=True)
    received = serializers.IntegerField(help_text="Receipts seen: of the item, or of the whole supplier.")
    received_of_supplier = serializers.IntegerField()
    weight_of_item = _weight()
    weight_of_supplier = _weight()
    weight_of_agreed = _weight()
    mean_days = _days("What is counted on.")
    sd_days = _days()
    basis = serializers.CharField(source="source", help_text="agreed, observed or blended.")
    words = serializers.CharField(help_text="Agreed against learned, as a sentence.")
    as_of = serializers.DateField(help_text="Since when these figures hold.")


class LeadTimeFilters(Filters):
    item = django_filters.UUIDFilter("item_id", help_text="The item's id.")
    basis = django_filters.CharFilter("source", help_text="agreed, observed or blended.")

    class Meta:
        model = LearnedLeadTime
        fields: list[str] = []


class SupplierLeadTimesView(ListView):
    rows = LeadTimeRow
    filters = LeadTimeFilters
    order = ("item_order", "id")

    def rows_for(self, request: Request) -> Any:
        return lead_times(by=caller_of(request), supplier_id=self.kwargs["supplier"])

    @describe(
        summary="List a supplier's lead times, agreed against learned",
        tag="Suppliers",
        responses=page_of(LeadTimeRow),
        filters=LeadTimeFilters,
        operation_id="supplier_lead_times_list",
        description="From an order's sending to its goods on the shelf, learned every night from the receipts of three "
        "years. Few receipts are drawn towards the supplier's usual lateness and the agreed terms; the three weights "
        "say how much each is heard. The whole supplier first, then its items by number. Empty until something came.",
    )
    def get(self, request: Request, supplier: uuid.UUID, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)
