"""What lies dead at a site, and what is more than enough."""

import uuid
from typing import Any

import django_filters
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.queries.stock_surplus import stock_surplus
from services.api.filters import Filters, read_parameters
from services.api.refusals import Malformed
from services.api.schema import describe
from services.identity.callers import caller_of

TAG = "Stock"
USUAL, MOST = 100, 500
KINDS = ("dead", "excess")
SITE = "0199a0c4-0000-7000-8000-000000000001"
ITEM = "0199a0c4-0000-7000-8000-0000000000bb"


class SurplusItemShape(serializers.Serializer[Any]):
    item = serializers.UUIDField()
    number = serializers.CharField()
    revision = serializers.CharField()
    name = serializers.CharField()
    item_kind = serializers.CharField(help_text="part or kit.")
    kind = serializers.ChoiceField(choices=KINDS)
    on_hand = serializers.DecimalField(max_digits=14, decimal_places=3, help_text="Usable and in date.")
    reserved = serializers.DecimalField(
        max_digits=14, decimal_places=3, help_text="What jobs claim, with lots or without."
    )
    promised_away = serializers.DecimalField(max_digits=14, decimal_places=3, help_text="To other sites, not sent yet.")
    level = serializers.IntegerField(help_text="What replenishment fills up to.")
    kept = serializers.DecimalField(
        max_digits=14, decimal_places=3, help_text="What should stay beside what is claimed."
    )
    surplus = serializers.DecimalField(max_digits=14, decimal_places=3, help_text="What could go.")
    value = serializers.DecimalField(
        max_digits=20, decimal_places=4, allow_null=True, help_text="Of what could go; null where there is no cost."
    )
    currency = serializers.CharField()
    kept_since = serializers.DateField()
    last_used_on = serializers.DateField(
        allow_null=True, help_text="Issued, built into a kit or sent to another site; null: never."
    )
    first_out_of_date_on = serializers.DateField(allow_null=True, help_text="The earliest last day of a lot.")
    reasons = serializers.ListField(child=serializers.CharField())


class SurplusValueShape(serializers.Serializer[Any]):
    currency = serializers.CharField()
    value = serializers.DecimalField(max_digits=20, decimal_places=4)


class StockSurplusAnswer(serializers.Serializer[Any]):
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    on = serializers.DateField()
    quiet_months = serializers.IntegerField(help_text="So many months without use may mean dead.")
    looked_ahead_months = serializers.IntegerField(help_text="What is used later is no reason to keep it.")
    overhauls_as_of = serializers.DateField(
        allow_null=True, help_text="When the need of installed pumps was worked out; null: never, so it is not known."
    )
    looked_at = serializers.IntegerField(help_text="Items of which something usable and in date lies here.")
    dead = serializers.IntegerField()
    excess = serializers.IntegerField()
    values = SurplusValueShape(many=True, help_text="Of all that could go, by currency.")
    items = SurplusItemShape(many=True, help_text="The most valuable first.")
    left_off = serializers.IntegerField(help_text="Items beyond the limit.")


class StockSurplusParameters(Filters):
    kind = django_filters.ChoiceFilter("kind", choices=[(one, one) for one in KINDS], help_text="dead or excess.")
    limit = django_filters.NumberFilter("limit", help_text=f"How many items, {USUAL} if left out, at most {MOST}.")

    class Meta:
        fields: list[str] = []


class StockSurplusView(APIView):
    @describe(
        summary="What lies dead at a site, and what is more than enough",
        tag=TAG,
        responses=StockSurplusAnswer,
        filters=StockSurplusParameters,
        description=(
            "Dead: not used for 24 months, claimed by no job, and no installed pump is expected to need it. Excess: on "
            "hand above the higher of the level and the use expected until it is out of date, less what jobs claim. "
            "Nothing is moved or scrapped: offer it to another site first."
        ),
        example={
            "site": SITE,
            "site_code": "heat-plant",
            "on": "2026-03-02",
            "quiet_months": 24,
            "looked_ahead_months": 24,
            "overhauls_as_of": "2026-03-01",
            "looked_at": 212,
            "dead": 0,
            "excess": 1,
            "values": [{"currency": "EUR", "value": "738.0000"}],
            "items": [
                {
                    "item": ITEM, "number": "K-40-FULL", "revision": "B", "name": "Full overhaul kit",
                    "item_kind": "kit", "kind": "excess", "on_hand": "10.000", "reserved": "2.000",
                    "promised_away": "0.000", "level": 3, "kept": "4.000", "surplus": "4.000", "value": "738.0000",
                    "currency": "EUR", "kept_since": "2023-01-09", "last_used_on": "2025-12-01",
                    "first_out_of_date_on": "2031-06-30",
                    "reasons": [
                        "10 are on hand, of which jobs claim 2.",
                        "By past use, 3.6 will be used in 24 months or before they are out of date.",
                        "Replenishment fills up to 3.",
                        "Beyond the 4 to keep, 4 could go: to another site first, scrapped last.",
                    ],
                }
            ],
            "left_off": 0,
        },
        operation_id="stock_surplus_read",
    )  # fmt: skip
    def get(self, request: Request, site: uuid.UUID) -> Response:
        asked = read_parameters(request, StockSurplusParameters)
        limit = USUAL if asked.get("limit") is None else asked["limit"]
        if limit != int(limit) or not 1 <= limit <= MOST:
            raise Malformed(f"limit is {limit}.", remedy=f"Give a whole number from 1 to {MOST}.", pointer="?limit")
        found = stock_surplus(
            caller_of(request), site, on=timezone.now().date(), limit=int(limit), kind=asked.get("kind") or None
        )
        return Response(StockSurplusAnswer(found).data, headers={"Cache-Control": "private, no-cache"})
