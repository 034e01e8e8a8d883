"""Reorder points and usual orders as replenishment last set them."""

from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kits.models import ReplenishmentLevel
from kits.queries.proposals import levels
from services.api.filters import Filters, TextInFilter
from services.api.rows import Rows
from services.api.schema import describe, page_of
from services.api.views import ListView
from services.identity.callers import caller_of

TAG = "Replenishment"


class LevelRow(Rows):
    id = serializers.UUIDField()
    site = serializers.UUIDField()
    site_code = serializers.CharField(source="site.code")
    item = serializers.UUIDField()
    item_number = serializers.CharField(source="item.number")
    item_revision = serializers.CharField(source="item.revision")
    item_name = serializers.CharField(source="item.name")
    criticality = serializers.CharField(source="item.criticality")
    reorder_point = serializers.IntegerField(help_text="More is ordered at or below it; -1: only what is owed.")
    order_quantity = serializers.IntegerField(help_text="What is usually ordered at once.")
    pattern = serializers.CharField(help_text="none, smooth, intermittent, erratic or lumpy.")
    method = serializers.CharField(help_text="How its demand was forecast.")
    mean_a_month = serializers.FloatField(help_text="Expected of what nobody has booked in time.")
    fill_rate = serializers.DecimalField(max_digits=5, decimal_places=4, help_text="The share aimed at.")
    measure = serializers.CharField(help_text="Of needs (fill), or of times to restock without a shortage (cycle).")
    reached = serializers.FloatField(help_text="The share that the reorder point gives.")
    lead_time_days = serializers.DecimalField(max_digits=7, decimal_places=2)
    as_of = serializers.DateField(help_text="The day it was last set otherwise; figures beside it are of that day.")
    version = serializers.IntegerField()


class LevelFilters(Filters):
    site = django_filters.UUIDFilter("site_id", help_text="The site's id.")
    item = django_filters.UUIDFilter("item_id", help_text="The item's id.")
    pattern = django_filters.CharFilter(help_text="One class of demand.")
    pattern__in = TextInFilter("pattern", help_text="Several classes, separated by commas.")
    method = django_filters.CharFilter(help_text="One method of forecasting.")

    class Meta:
        model = ReplenishmentLevel
        fields: list[str] = []


class LevelsView(ListView):
    rows = LevelRow
    filters = LevelFilters
    order = ("-id",)

    def rows_for(self, request: Request) -> Any:
        return levels(by=caller_of(request))

    @describe(
        summary="List reorder points and usual orders",
        tag=TAG,
        responses=page_of(LevelRow),
        filters=LevelFilters,
        description=(
            "A level holds while it is good enough, so that orders do not follow every small change of a forecast."
        ),
        operation_id="replenishment_levels_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)
