"""Which kits to move between sites in one run. Nothing is written."""

from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.api.network_targets import ITEM, PRIVATE, SITE, MoneyIn, amount
from kits.api.parts import CRITICALITIES
from kits.operations.network_asked import told_once
from kits.operations.network_sites import Money
from kits.operations.transfer_plans import LEFT_ALONE_DAYS, MovesAsked, transfer_plan
from services.api.rows import Body, read_body
from services.api.schema import describe
from services.identity.callers import caller_of

LENDER = "0199a0c4-0000-7000-8000-000000000003"


class WaitingCostIn(Body):
    criticality = serializers.ChoiceField(choices=CRITICALITIES)
    amount = serializers.DecimalField(max_digits=14, decimal_places=4, min_value=0)


class TransferPlanIn(Body):
    sites = serializers.ListField(
        child=serializers.UUIDField(),
        required=False,
        help_text="All where you are stores, planner or admin if left out.",
    )
    items = serializers.ListField(
        child=serializers.UUIDField(), required=False, help_text="All that moved there if left out."
    )
    waiting_cost = MoneyIn(help_text="What one need costs that waits until the next receipt. Nobody can look it up.")
    waiting_costs = WaitingCostIn(
        many=True, required=False, help_text="The same for items of a criticality, where it differs."
    )
    moved_within_days = serializers.IntegerField(
        min_value=0,
        max_value=366,
        required=False,
        default=LEFT_ALONE_DAYS,
        help_text="What was moved in so many days is left alone.",
    )


class SiteOfPlanShape(serializers.Serializer[Any]):
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    site_name = serializers.CharField()


class PlannedLineShape(serializers.Serializer[Any]):
    item = serializers.UUIDField()
    number = serializers.CharField()
    revision = serializers.CharField()
    name = serializers.CharField()
    quantity = serializers.IntegerField()
    gain = amount(help_text="What waiting costs less, the cost of moving taken off.")
    cost = amount(help_text="Of moving.")
    words = serializers.CharField()


class BodyLineShape(serializers.Serializer[Any]):
    item = serializers.UUIDField()
    quantity = serializers.CharField()


class BodyOfTransferShape(serializers.Serializer[Any]):
    from_site = serializers.UUIDField()
    to_site = serializers.UUIDField()
    lines = BodyLineShape(many=True)


class PlannedTransferShape(serializers.Serializer[Any]):
    from_site_code = serializers.CharField()
    from_site_name = serializers.CharField()
    to_site_code = serializers.CharField()
    to_site_name = serializers.CharField()
    arrives_on = serializers.DateField(help_text="If it leaves today.")
    currency = serializers.CharField()
    gain = amount()
    cost = amount()
    lines = PlannedLineShape(many=True)
    body = BodyOfTransferShape(help_text="What POST /transfers takes.")


class LeftAloneShape(serializers.Serializer[Any]):
    site_code = serializers.CharField()
    item = serializers.CharField(help_text="Number and revision.")


class UnknownWaysShape(serializers.Serializer[Any]):
    from_site_code = serializers.CharField()
    to_site_codes = serializers.ListField(child=serializers.CharField())


class TransferPlanAnswer(serializers.Serializer[Any]):
    on = serializers.DateField()
    sites = SiteOfPlanShape(many=True)
    currency = serializers.CharField()
    kits = serializers.IntegerField(help_text="Units moved.")
    gain = amount()
    cost = amount()
    transfers = PlannedTransferShape(many=True)
    left_alone = LeftAloneShape(many=True, help_text="Moved lately.")
    no_transit_time = UnknownWaysShape(many=True, help_text="Nothing is moved where nobody said how long it takes.")
    words = serializers.ListField(child=serializers.CharField())


class TransferPlansView(APIView):
    reads_only = True

    @describe(
        summary="Which kits to move between sites",
        tag="Transfers",
        request=TransferPlanIn,
        responses=TransferPlanAnswer,
        description=(
            "A what-if over many sites at once: the moves that save more of waiting than they cost, the greatest gain "
            "in all. Reserved lots stay, a lender keeps its own reorder point and what its jobs ask for, lots count "
            "only if they can be used on arrival, and no kit goes both ways. Each transfer has the body that POST "
            "/transfers takes. By stores, planner or admin at all of the sites. Nothing is written."
        ),
        request_example={
            "sites": [SITE, LENDER],
            "items": [ITEM],
            "waiting_cost": {"amount": "400", "currency": "EUR"},
            "waiting_costs": [{"criticality": "vital", "amount": "2500"}],
        },
        operation_id="transfer_plans",
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, TransferPlanIn)
        money = body["waiting_cost"]
        asked = MovesAsked(
            waiting_cost=Money(money["amount"], money["currency"]),
            waiting_costs=told_once(
                "waiting_costs", ((one["criticality"], one["amount"]) for one in body.get("waiting_costs", []))
            ),
            sites=body.get("sites"),
            items=body.get("items"),
            moved_within_days=body["moved_within_days"],
        )
        found = transfer_plan(by=caller_of(request), asked=asked, today=timezone.now().date())
        return Response(found, headers=PRIVATE)
