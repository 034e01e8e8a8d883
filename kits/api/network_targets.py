"""How much to keep where, over a central store and its sites. Nothing is written."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.operations.network_asked import Supplied, TargetAsked, Way, told_once
from kits.operations.network_sites import Money
from kits.operations.network_targets import network_target
from services.api.rows import Body, read_body
from services.api.schema import describe
from services.identity.callers import caller_of

TAG = "Replenishment"
PRIVATE = {"Cache-Control": "private, no-store"}
CENTRAL = "0199a0c4-0000-7000-8000-000000000001"
SITE = "0199a0c4-0000-7000-8000-000000000002"
ITEM = "0199a0c4-0000-7000-8000-0000000000bb"
MODELS = ["vari-metric", "exact", "metric"]


def amount(**options: Any) -> serializers.DecimalField:
    """Money, with up to four decimals."""
    return serializers.DecimalField(max_digits=14, decimal_places=4, **options)


def estimate(**options: Any) -> serializers.DecimalField:
    """A figure that is worked out, rounded to six places."""
    return serializers.DecimalField(max_digits=16, decimal_places=6, **options)


def units(**options: Any) -> serializers.DecimalField:
    """A quantity of an item."""
    return serializers.DecimalField(max_digits=14, decimal_places=3, **options)


def days(**options: Any) -> serializers.DecimalField:
    """Days, fractions allowed."""
    return serializers.DecimalField(max_digits=7, decimal_places=2, min_value=Decimal(0), **options)


class MoneyIn(Body):
    amount = serializers.DecimalField(max_digits=14, decimal_places=4, min_value=Decimal(0))
    currency = serializers.RegexField("^[A-Z]{3}$", help_text="ISO 4217.")


class DemandIn(Body):
    site = serializers.UUIDField()
    item = serializers.UUIDField()
    a_month = serializers.DecimalField(max_digits=10, decimal_places=4, min_value=Decimal(0))


class TransitIn(Body):
    site = serializers.UUIDField()
    days = days()
    from_supplier = serializers.BooleanField(
        required=False, default=False, help_text="It buys for itself, and that takes so many days."
    )


class SupplyIn(Body):
    item = serializers.UUIDField()
    lead_time_days = days(required=False)
    price = serializers.DecimalField(max_digits=14, decimal_places=4, min_value=Decimal("0.0001"), required=False)
    currency = serializers.RegexField("^[A-Z]{3}$", required=False)


class NetworkTargetIn(Body):
    sites = serializers.ListField(
        child=serializers.UUIDField(),
        required=False,
        help_text="The central store among them; all where you are stores, planner or admin if left out.",
    )
    central_store = serializers.UUIDField(
        required=False, help_text="The site that buys for the others; the one marked as central store if left out."
    )
    items = serializers.ListField(
        child=serializers.UUIDField(),
        required=False,
        help_text="Kits and parts; every kit that was needed there in the last three years if left out.",
    )
    budget = MoneyIn(required=False, help_text="What all of the stock may cost; or else availability.")
    availability = serializers.DecimalField(
        max_digits=9,
        decimal_places=8,
        min_value=Decimal("0.00000001"),
        max_value=Decimal("0.99999999"),
        required=False,
        help_text="Share of pumps that wait for nothing, above 0 and below 1.",
    )
    pumps = serializers.IntegerField(
        min_value=1, max_value=10_000_000, required=False, help_text="Those at the sites, if left out."
    )
    model = serializers.ChoiceField(
        choices=MODELS, required=False, default="vari-metric", help_text="How waiting at the central store is shared."
    )
    demands = DemandIn(many=True, required=False, help_text="In place of what history says.")
    transits = TransitIn(many=True, required=False, help_text="In place of the transit times from the central store.")
    supplies = SupplyIn(many=True, required=False, help_text="In place of the cheapest terms of a supplier.")


class StockOfNetworkShape(serializers.Serializer[Any]):
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    demand_a_month = estimate()
    level = serializers.IntegerField(help_text="To keep, on hand and on order together.")
    level_now = serializers.IntegerField(help_text="What is on hand and on order now, in whole units.")
    difference = serializers.IntegerField(help_text="Level less what is there now.")
    on_hand = units(help_text="Usable and in date, less what other sites were promised.")
    coming = units(help_text="On order and on its way from other sites.")
    backorders = estimate(help_text="Needs that wait at any moment, on average.")
    backorders_now = estimate()


class ItemOfNetworkShape(serializers.Serializer[Any]):
    item = serializers.UUIDField()
    number = serializers.CharField()
    revision = serializers.CharField()
    name = serializers.CharField()
    price = amount()
    lead_time_days = days()
    demand_a_month = estimate()
    kits = serializers.IntegerField(help_text="Units at all sites.")
    kits_now = serializers.IntegerField()
    cost = amount()
    backorders = estimate()
    backorders_now = estimate()
    stock = StockOfNetworkShape(many=True, help_text="The central store first.")


class SiteOfNetworkShape(serializers.Serializer[Any]):
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    site_name = serializers.CharField()
    is_central_store = serializers.BooleanField()
    transit_days = days()
    from_supplier = serializers.BooleanField()
    demand_a_month = estimate()
    kits = serializers.IntegerField()
    kits_now = serializers.IntegerField()
    cost = amount()
    cost_now = amount()
    backorders = estimate()
    backorders_now = estimate()
    wait_days = serializers.DecimalField(
        max_digits=9, decimal_places=2, allow_null=True, help_text="That a need waits on average."
    )


class CurvePointShape(serializers.Serializer[Any]):
    cost = amount()
    backorders = estimate()
    availability = estimate(allow_null=True)


class NetworkNowShape(serializers.Serializer[Any]):
    cost = amount()
    kits = serializers.IntegerField()
    backorders = estimate()
    availability = estimate(allow_null=True)


class LeftOutShape(serializers.Serializer[Any]):
    item = serializers.UUIDField()
    number = serializers.CharField()
    revision = serializers.CharField()
    why = serializers.CharField()


class NetworkTargetAnswer(NetworkNowShape):
    on = serializers.DateField()
    central_store = serializers.UUIDField()
    central_store_code = serializers.CharField()
    model = serializers.CharField()
    currency = serializers.CharField()
    budget = amount(allow_null=True)
    availability_wanted = serializers.DecimalField(max_digits=9, decimal_places=8, allow_null=True)
    pumps = serializers.IntegerField(allow_null=True)
    least_backorders = estimate(help_text="No plan that costs as much has fewer.")
    now = NetworkNowShape(help_text="What is there now, judged in the same way.")
    curve = CurvePointShape(many=True, help_text="From nothing on; each point is the least for its own cost.")
    sites = SiteOfNetworkShape(many=True, help_text="The central store first.")
    items = ItemOfNetworkShape(many=True)
    left_out = LeftOutShape(many=True)
    words = serializers.ListField(child=serializers.CharField())


def asked_of(body: Mapping[str, Any]) -> TargetAsked:
    """What a body asks for. Raises `InvalidValue` where it says something twice."""
    money = body.get("budget")
    return TargetAsked(
        sites=body.get("sites"),
        central_store=body.get("central_store"),
        items=body.get("items"),
        budget=Money(money["amount"], money["currency"]) if money else None,
        availability=body.get("availability"),
        pumps=body.get("pumps"),
        model=body["model"],
        demands=told_once("demands", (((one["site"], one["item"]), one["a_month"]) for one in body.get("demands", []))),
        ways=told_once(
            "transits", ((one["site"], Way(one["days"], one["from_supplier"])) for one in body.get("transits", []))
        ),
        supplies=told_once(
            "supplies",
            (
                (one["item"], Supplied(one.get("lead_time_days"), one.get("price"), one.get("currency")))
                for one in body.get("supplies", [])
            ),
        ),
    )


class NetworkTargetsView(APIView):
    reads_only = True

    @describe(
        summary="What to keep at a central store and its sites",
        tag=TAG,
        request=NetworkTargetIn,
        responses=NetworkTargetAnswer,
        description=(
            "A what-if: the levels of the central store and of each site that a budget buys with the fewest needs "
            "waiting, or that reach an availability (near the cheapest, not surely the cheapest), with the curve of "
            "cost against waiting and what is there now, judged in the same way. Demand is forecast as replenishment "
            "does, but of all that was needed, booked in time or not; prices are those of the cheapest terms, lead "
            "times as replenishment counts them, days those of the transit times; each can be told otherwise. By "
            "stores, planner or admin at all of the sites. Nothing is written."
        ),
        request_example={
            "sites": [CENTRAL, SITE],
            "central_store": CENTRAL,
            "budget": {"amount": "20000", "currency": "EUR"},
            "demands": [{"site": SITE, "item": ITEM, "a_month": "0.25"}],
        },
        operation_id="network_targets",
    )
    def post(self, request: Request) -> Response:
        asked = asked_of(read_body(request, NetworkTargetIn))
        found = network_target(by=caller_of(request), asked=asked, today=timezone.now().date())
        return Response(found, headers=PRIVATE)
