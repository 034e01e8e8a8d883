"""Stock of an item at a site day by day, and the first day on which more can be had."""

import datetime
import uuid
from decimal import Decimal
from typing import Any

import django_filters
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.queries.stock_projection import picture_of, projection, promises
from services.api.filters import Filters, read_parameters
from services.api.refusals import Malformed
from services.api.schema import describe
from services.identity.callers import caller_of

TAG = "Stock"
USUAL_DAYS = 365
FURTHEST = 3660
SITE = "0199a0c4-0000-7000-8000-000000000001"
ITEM = "0199a0c4-0000-7000-8000-0000000000bb"


class DayShape(serializers.Serializer[Any]):
    day = serializers.DateField()
    received = serializers.DecimalField(max_digits=14, decimal_places=3)
    needed = serializers.DecimalField(max_digits=14, decimal_places=3)
    served = serializers.DecimalField(max_digits=14, decimal_places=3)
    short = serializers.DecimalField(
        max_digits=14, decimal_places=3, help_text="Of what is needed, what nothing serves."
    )
    expired = serializers.DecimalField(
        max_digits=14, decimal_places=3, help_text="Last used up to the day before, and nobody took it."
    )
    on_hand = serializers.DecimalField(
        max_digits=14, decimal_places=3, help_text="Usable and in date at the end of the day."
    )
    free = serializers.DecimalField(
        max_digits=14, decimal_places=3, help_text="Of that, what is not set aside for a job."
    )


class ShortShape(serializers.Serializer[Any]):
    job_number = serializers.CharField()
    need_date = serializers.DateField(help_text="Today where it lies in the past.")
    quantity = serializers.DecimalField(max_digits=14, decimal_places=3)
    short = serializers.DecimalField(max_digits=14, decimal_places=3)


class DyingShape(serializers.Serializer[Any]):
    lot = serializers.CharField(help_text="A lot, or the order it will come with.")
    last_day = serializers.DateField()
    quantity = serializers.DecimalField(max_digits=14, decimal_places=3)


class ReceiptShape(serializers.Serializer[Any]):
    order = serializers.CharField()
    expected_on = serializers.DateField()
    counted_on = serializers.DateField(
        allow_null=True,
        help_text=(
            "Where overdue: today and the days by which this supplier is usually late; null where nothing tells."
        ),
    )
    quantity = serializers.DecimalField(max_digits=14, decimal_places=3)
    spread_days = serializers.DecimalField(max_digits=7, decimal_places=2, help_text="Of the supplier's lead time.")


class ComingTransferShape(serializers.Serializer[Any]):
    transfer = serializers.CharField()
    from_site = serializers.CharField()
    state = serializers.CharField(help_text="approved: as if it left today; sent: under way.")
    expected_on = serializers.DateField()
    counted_on = serializers.DateField(
        allow_null=True, help_text="Null where it is overdue, or where the lender has no such lot free any more."
    )
    quantity = serializers.DecimalField(max_digits=14, decimal_places=3)
    lot = serializers.CharField()
    last_day = serializers.DateField(allow_null=True)


class ProjectionAnswer(serializers.Serializer[Any]):
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    item = serializers.UUIDField()
    item_number = serializers.CharField()
    item_revision = serializers.CharField()
    on = serializers.DateField()
    until = serializers.DateField()
    days = DayShape(many=True, help_text="The first day, and each on which something happens.")
    short = ShortShape(many=True)
    dying = DyingShape(many=True)
    receipts = ReceiptShape(many=True)
    transfers = ComingTransferShape(many=True, help_text="From other sites, lot by lot.")
    words = serializers.CharField()


class MovedLotShape(serializers.Serializer[Any]):
    lot = serializers.CharField()
    last_day = serializers.DateField(allow_null=True)
    quantity = serializers.DecimalField(max_digits=14, decimal_places=3)


class PieceShape(serializers.Serializer[Any]):
    from_site = serializers.CharField()
    arrives_on = serializers.DateField()
    quantity = serializers.DecimalField(max_digits=14, decimal_places=3)
    cost = serializers.DecimalField(max_digits=18, decimal_places=4)
    currency = serializers.CharField()
    lots = MovedLotShape(many=True, help_text="Where you have a role at the lender.")


class WayShape(serializers.Serializer[Any]):
    way = serializers.ChoiceField(choices=["stock-and-orders", "build-from-parts", "transfer", "new-order"])
    on = serializers.DateField(allow_null=True)
    cautious_on = serializers.DateField(
        allow_null=True, help_text="If orders come as late as one in twenty does; null where it is then impossible."
    )
    pieces = PieceShape(many=True, help_text="Of a transfer: what would leave which site today.")
    words = serializers.CharField()


class PromiseAnswer(serializers.Serializer[Any]):
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    item = serializers.UUIDField()
    item_number = serializers.CharField()
    item_revision = serializers.CharField()
    quantity = serializers.DecimalField(max_digits=14, decimal_places=3)
    earliest = serializers.DateField()
    on = serializers.DateField(allow_null=True, help_text="The first day of all the ways.")
    way = serializers.CharField(allow_null=True)
    ways = WayShape(many=True)
    out_of_date_by_then = DyingShape(many=True)
    elsewhere = serializers.ListField(
        child=serializers.DictField(), help_text="Free and in date at other sites, as far as you may see it."
    )
    no_transit_time = serializers.ListField(
        child=serializers.CharField(), help_text="Sites that have some, from which none is promised: no transit time."
    )
    words = serializers.CharField()


class ProjectionParameters(Filters):
    until = django_filters.DateFilter("until", help_text="The last day; a year from today if left out.")

    class Meta:
        fields: list[str] = []


class PromiseParameters(Filters):
    quantity = django_filters.NumberFilter("quantity", help_text="How many; 1 if left out.")
    earliest = django_filters.DateFilter("earliest", help_text="Not before this day; today if left out.")

    class Meta:
        fields: list[str] = []


def _today() -> datetime.date:
    return timezone.now().date()


def _within(day: datetime.date, name: str) -> datetime.date:
    if not 0 <= (day - _today()).days <= FURTHEST:
        raise Malformed(
            f"{name} is {day}.", remedy="Give a day from today on, at most ten years ahead.", pointer=f"?{name}"
        )
    return day


class StockProjectionView(APIView):
    @describe(
        summary="Stock of an item at a site, day by day",
        tag=TAG,
        responses=ProjectionAnswer,
        filters=ProjectionParameters,
        description=(
            "What is on hand in date, what jobs claim on their day, what open orders and transfers bring, what was "
            "promised to other sites and what expires. Lots that "
            "die first are used first; a lot that will be dead by then serves nobody."
        ),
        example={
            "site": SITE,
            "site_code": "heat-plant",
            "item": ITEM,
            "item_number": "K-40-FULL",
            "item_revision": "B",
            "on": "2026-03-02",
            "until": "2027-03-02",
            "days": [
                {
                    "day": "2026-03-02", "received": "0.000", "needed": "0.000", "served": "0.000", "short": "0.000",
                    "expired": "0.000", "on_hand": "3.000", "free": "2.000",
                }
            ],
            "short": [],
            "dying": [{"lot": "L-2207", "last_day": "2026-06-30", "quantity": "1.000"}],
            "receipts": [],
            "transfers": [],
            "words": "Every claim is served. Out of date before anybody claims it: 1 of lot L-2207 on 2026-06-30.",
        },
        operation_id="stock_projection_read",
    )  # fmt: skip
    def get(self, request: Request, site: uuid.UUID, item: uuid.UUID) -> Response:
        asked = read_parameters(request, ProjectionParameters)
        until = _within(asked.get("until") or _today() + datetime.timedelta(days=USUAL_DAYS), "until")
        picture = picture_of(caller_of(request), site_id=site, item_id=item, on=_today())
        return Response(ProjectionAnswer(projection(picture, until)).data)


class PromiseDateView(APIView):
    @describe(
        summary="The first day on which more of an item can be had at a site",
        tag=TAG,
        responses=PromiseAnswer,
        filters=PromiseParameters,
        description=(
            "From stock, open orders and transfers under way, from loose parts, by a transfer from another site that "
            "could leave today, or from a new order; without any claim that is there already going short, here or "
            "at the lender. Nothing is written or set aside."
        ),
        example={
            "site": SITE,
            "site_code": "heat-plant",
            "item": ITEM,
            "item_number": "K-40-FULL",
            "item_revision": "B",
            "quantity": "1.000",
            "earliest": "2026-03-02",
            "on": "2026-03-20",
            "way": "stock-and-orders",
            "ways": [
                {
                    "way": "stock-and-orders", "on": "2026-03-20", "cautious_on": "2026-04-03", "pieces": [],
                    "words": "1 can be had on 2026-03-20 with order PO-0007. If open orders come late, on 2026-04-03.",
                }
            ],
            "out_of_date_by_then": [],
            "elsewhere": [],
            "no_transit_time": [],
            "words": "1 can be had on 2026-03-20 with order PO-0007. If open orders come late, on 2026-04-03.",
        },
        operation_id="promise_date_read",
    )  # fmt: skip
    def get(self, request: Request, site: uuid.UUID, item: uuid.UUID) -> Response:
        asked = read_parameters(request, PromiseParameters)
        quantity = Decimal(1) if asked.get("quantity") is None else asked["quantity"]
        if not 0 < quantity <= 10**6:
            raise Malformed("quantity must be above zero.", remedy="Give how many are wanted.", pointer="?quantity")
        earliest = _within(asked.get("earliest") or _today(), "earliest")
        picture = picture_of(caller_of(request), site_id=site, item_id=item, on=_today())
        return Response(PromiseAnswer(promises(picture, quantity=quantity, earliest=earliest)).data)
