"""Balances, and what is free where."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.api.fits import day_of
from kits.models import Balance
from kits.queries.availability import availability
from kits.queries.stock import balances
from services.api.filters import Filters, check_parameters
from services.api.refusals import Malformed
from services.api.rows import Rows
from services.api.schema import describe, page_of
from services.api.views import ListView
from services.identity.callers import caller_of

TAG = "Stock"
LARGEST = 200


class BalanceRow(Rows):
    id = serializers.UUIDField()
    site = serializers.UUIDField()
    site_code = serializers.CharField(source="site.code")
    bin = serializers.UUIDField()
    bin_code = serializers.CharField(source="bin.code")
    item = serializers.UUIDField()
    item_kind = serializers.CharField(source="item.kind", help_text="part or kit.")
    item_number = serializers.CharField(source="item.number")
    item_revision = serializers.CharField(source="item.revision")
    item_name = serializers.CharField(source="item.name")
    lot = serializers.UUIDField()
    lot_number = serializers.CharField(source="lot.number")
    expires_on = serializers.DateField(source="lot.expires_on", allow_null=True)
    condition = serializers.CharField(help_text="usable or quarantined.")
    on_hand = serializers.DecimalField(max_digits=12, decimal_places=3)
    reserved = serializers.DecimalField(max_digits=12, decimal_places=3)
    updated_at = serializers.DateTimeField()


class BalanceFilters(Filters):
    site = django_filters.UUIDFilter("site_id", help_text="The site's id.")
    site_code = django_filters.CharFilter("site__code", help_text="The site's code.")
    item = django_filters.UUIDFilter("item_id", help_text="The item's id.")
    item_number = django_filters.CharFilter("item__number", "iexact", help_text="The item's number.")
    kind = django_filters.CharFilter("item__kind", help_text="part or kit.")
    lot_number = django_filters.CharFilter("lot__number", help_text="The lot's number.")
    condition = django_filters.CharFilter(help_text="usable or quarantined.")
    expires_on__lte = django_filters.DateFilter("lot__expires_on", "lte", help_text="Out of date on or after this day.")

    class Meta:
        model = Balance
        fields: list[str] = []


class StockBalancesView(ListView):
    rows = BalanceRow
    filters = BalanceFilters
    order = ("site__code", "item__number", "id")

    def rows_for(self, request: Request) -> Any:
        return balances(by=caller_of(request))

    @describe(
        summary="List what lies on the shelves",
        tag=TAG,
        responses=page_of(BalanceRow),
        filters=BalanceFilters,
        operation_id="stock_balances_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


class AvailabilityRow(serializers.Serializer[Any]):
    item = serializers.UUIDField()
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    site_name = serializers.CharField()
    free = serializers.DecimalField(max_digits=12, decimal_places=3)


class AvailabilityAnswer(serializers.Serializer[Any]):
    on = serializers.DateField()
    results = AvailabilityRow(many=True)


class AvailabilityParameters(Filters):
    item = django_filters.CharFilter(help_text="Ids of items, separated by commas; at most 200.")
    on = django_filters.DateFilter(help_text="The day it must still be in date; today if left out.")


class StockAvailabilityView(APIView):
    @describe(
        summary="What is free of an item, by site",
        tag=TAG,
        responses=AvailabilityAnswer,
        filters=AvailabilityParameters,
        description="Free quantity in date on a day. All sites with the scope availability, else the sites granted.",
    )
    def get(self, request: Request) -> Response:
        check_parameters(request, ["item", "on"])
        day = day_of(request)
        found = availability(caller_of(request), item_ids=_ids(request.query_params.get("item", "")), on=day)
        return Response({"on": day, "results": found}, headers={"Cache-Control": "private, no-cache"})


def _ids(text: str) -> list[uuid.UUID]:
    try:
        ids = [uuid.UUID(one.strip()) for one in text.split(",") if one.strip()]
    except ValueError as error:
        raise Malformed(
            "item holds something that is no id.", remedy="Give ids of items, separated by commas.", pointer="?item"
        ) from error
    if not 1 <= len(ids) <= LARGEST:
        raise Malformed(f"item names {len(ids)} items.", remedy=f"Name 1 to {LARGEST} items by id.", pointer="?item")
    return ids
