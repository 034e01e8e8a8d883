"""Kits from loose parts and back: how many could be built, building them, taking them apart."""

import uuid
from typing import Any

import django_filters
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.api.cure_dates import CureDateField
from kits.api.stock_movements import TAG, MovementRow, MovementsAnswer
from kits.models import Condition, Movement
from kits.operations.kit_breaking import PartFound, break_kits
from kits.operations.kit_building import build_kits
from kits.queries.kit_building import buildable_at_sites
from kits.queries.kits import kit_for
from kits.queries.movements import movements
from services.api.filters import Filters, read_parameters
from services.api.rows import Body, read_body
from services.api.schema import describe
from services.api.writes import Answer, answer_write
from services.identity.callers import caller_of

MOST_AT_ONCE = 10_000


class HeldUpShape(serializers.Serializer[Any]):
    line = serializers.IntegerField()
    part = serializers.UUIDField()
    number = serializers.CharField()
    takes = serializers.DecimalField(max_digits=9, decimal_places=3, help_text="What one kit takes.")
    free = serializers.DecimalField(
        max_digits=12, decimal_places=3, help_text="Free and in date of all parts that may stand on the line."
    )


class BuildableShape(serializers.Serializer[Any]):
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    buildable = serializers.IntegerField(help_text="Whole kits.")
    held_up_by = HeldUpShape(many=True, help_text="Lines that, each for itself, allow no more.")
    parts_shared = serializers.BooleanField(
        help_text="No line alone holds it up; lines share parts of which there are too few together."
    )
    words = serializers.CharField()


class BuildableAnswer(serializers.Serializer[Any]):
    kit = serializers.UUIDField()
    on = serializers.DateField()
    sites = BuildableShape(many=True)


class BuildableFilters(Filters):
    site = django_filters.UUIDFilter("site_id", help_text="One site; all of yours if left out.")
    on = django_filters.DateFilter("on", help_text="The day of building, by which parts must be in date; else today.")

    class Meta:
        fields: list[str] = []


class BuildableKitsView(APIView):
    @describe(
        summary="How many of a kit could be built from loose parts",
        tag=TAG,
        responses=BuildableAnswer,
        filters=BuildableFilters,
        description=(
            "At your sites, from parts that are free, usable and in date; alternative lines and superseded parts are "
            "counted in, optional lines are not needed."
        ),
        example={
            "kit": "0199a0c4-0000-7000-8000-0000000000bb",
            "on": "2026-03-02",
            "sites": [
                {
                    "site": "0199a0c4-0000-7000-8000-000000000001",
                    "site_code": "heat-plant",
                    "buildable": 3,
                    "held_up_by": [
                        {
                            "line": 2,
                            "part": "0199a0c4-0000-7000-8000-0000000000bc",
                            "number": "OR-226-E",
                            "takes": "2.000",
                            "free": "7.000",
                        }
                    ],
                    "parts_shared": False,
                    "words": "3 kits can be built at heat-plant; OR-226-E holds it up.",
                }
            ],
        },
        operation_id="buildable_kits_read",
    )
    def get(self, request: Request, kit: uuid.UUID) -> Response:
        asked = read_parameters(request, BuildableFilters)
        found = kit_for(kit)
        on = asked.get("on") or timezone.now().date()
        rows = buildable_at_sites(caller_of(request), kit_id=found.pk, on=on, site_id=asked.get("site") or None)
        return Response({"kit": found.pk, "on": on, "sites": BuildableShape(rows, many=True).data})


class KitBuildIn(Body):
    site = serializers.UUIDField()
    kit = serializers.UUIDField(help_text="A released revision.")
    quantity = serializers.IntegerField(min_value=1, max_value=MOST_AT_ONCE)
    lot = serializers.CharField(max_length=60, help_text="A new lot's number, as on the bags.")
    bin = serializers.CharField(max_length=40, required=False, help_text="Where the kits go; else the default bin.")
    occurred_at = serializers.DateTimeField(required=False)
    reason = serializers.CharField(max_length=300)


class KitBuildAnswer(serializers.Serializer[Any]):
    lot = serializers.UUIDField()
    lot_number = serializers.CharField()
    cure_date = serializers.DateField(allow_null=True)
    expires_on = serializers.DateField(allow_null=True, help_text="The first last day among the parts.")
    left_out = serializers.ListField(
        child=serializers.IntegerField(), help_text="Optional lines for which too little is there."
    )
    movements = MovementRow(many=True)


class PartFoundIn(Body):
    part = serializers.UUIDField()
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3, min_value=0)
    lot = serializers.CharField(max_length=60)
    cure_date = CureDateField(required=False)


class KitBreakIn(Body):
    site = serializers.UUIDField()
    kit = serializers.UUIDField()
    lot = serializers.CharField(max_length=60)
    quantity = serializers.IntegerField(min_value=1, max_value=MOST_AT_ONCE)
    bin = serializers.CharField(max_length=40, required=False, help_text="Where the kits lie; else the default bin.")
    condition = serializers.ChoiceField(choices=Condition.choices, required=False, help_text="usable if left out.")
    parts = PartFoundIn(
        many=True, required=False, help_text="What came out, as the packs say; everything as it went in if left out."
    )
    occurred_at = serializers.DateTimeField(required=False)
    reason = serializers.CharField(max_length=300)


def _rows(request: Request, made: list[Movement]) -> list[Any]:
    found = movements(by=caller_of(request)).filter(pk__in=[one.pk for one in made])
    return list(MovementRow.select(found).order_by("id"))


class KitBuildsView(APIView):
    @describe(
        summary="Build kits from loose parts",
        tag=TAG,
        request=KitBuildIn,
        responses=KitBuildAnswer,
        status=201,
        description=(
            "Takes the parts that expire first, makes a new lot of the kit and dates it by what went in. One entry of "
            "the ledger for each lot of parts and one for the kits; reversing one reverses all. Where too little is "
            "free, nothing happens and the answer names the lines."
        ),
        request_example={
            "site": "0199a0c4-0000-7000-8000-000000000001",
            "kit": "0199a0c4-0000-7000-8000-0000000000bb",
            "quantity": 2,
            "lot": "B-2611",
            "reason": "for the winter overhauls",
        },
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, KitBuildIn)

        def perform() -> Answer:
            done = build_kits(
                by=caller_of(request),
                site_id=body["site"],
                kit_id=body["kit"],
                quantity=body["quantity"],
                lot=body["lot"],
                bin_code=body.get("bin", ""),
                occurred_at=body.get("occurred_at") or timezone.now(),
                reason=body["reason"],
            )
            answer = {
                "lot": str(done.lot.pk),
                "lot_number": done.lot.number,
                "cure_date": done.lot.cure_date and done.lot.cure_date.isoformat(),
                "expires_on": done.lot.expires_on and done.lot.expires_on.isoformat(),
                "left_out": done.left_out,
                "movements": _rows(request, done.movements),
            }
            return Answer(answer, 201, {"Location": f"/api/v1/lots/{done.lot.pk}"})

        return answer_write(request, perform, key_required=True)


class KitBreaksView(APIView):
    @describe(
        summary="Take kits apart",
        tag=TAG,
        request=KitBreakIn,
        responses=MovementsAnswer,
        status=201,
        description=(
            "The parts go back on the shelf with the lots they came from. Reserved kits are never broken. Where it is "
            "not known which lots are in these kits, the answer asks for parts. What was missing or damaged is left "
            "out of parts."
        ),
        request_example={
            "site": "0199a0c4-0000-7000-8000-000000000001",
            "kit": "0199a0c4-0000-7000-8000-0000000000bb",
            "lot": "B-2611",
            "quantity": 1,
            "reason": "seal needed for another pump",
        },
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, KitBreakIn)

        def perform() -> Answer:
            found = body.get("parts")
            made = break_kits(
                by=caller_of(request),
                site_id=body["site"],
                kit_id=body["kit"],
                lot=body["lot"],
                quantity=body["quantity"],
                bin_code=body.get("bin", ""),
                condition=body.get("condition", Condition.USABLE),
                occurred_at=body.get("occurred_at") or timezone.now(),
                reason=body["reason"],
                parts=None
                if found is None
                else [
                    PartFound(one["part"], one["quantity"], one["lot"], one.get("cure_date"))
                    for one in found
                    if one["quantity"]
                ],
            )
            location = {"Location": f"/api/v1/stock-movements/{made[0].pk}"}
            return Answer({"movements": _rows(request, made)}, 201, location)

        return answer_write(request, perform, key_required=True)
