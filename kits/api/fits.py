"""Which kits fit a pump, ranked, with reasons."""

import uuid
from typing import Any

import django_filters
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.queries.fit import fits_of_pump
from services.api.filters import Filters, check_parameters
from services.api.refusals import Malformed
from services.api.schema import describe
from services.identity.callers import caller_of


class ComparedShape(serializers.Serializer[Any]):
    name = serializers.CharField()
    asked = serializers.CharField()
    offered = serializers.CharField()
    same = serializers.BooleanField()


class FitReasonShape(serializers.Serializer[Any]):
    code = serializers.CharField(
        help_text="exact, superseded, equivalent, missing, short, limited, unsuitable or not-known."
    )
    role = serializers.CharField()
    asked = serializers.CharField()
    offered = serializers.CharField()
    compared = ComparedShape(many=True)
    sentence = serializers.CharField()


class NearestShape(serializers.Serializer[Any]):
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    site_name = serializers.CharField()
    free = serializers.DecimalField(max_digits=12, decimal_places=3)
    distance_km = serializers.FloatField(
        allow_null=True, help_text="As the crow flies; null where the place of one of the two sites is not known."
    )


class PumpFitShape(serializers.Serializer[Any]):
    kit = serializers.UUIDField()
    number = serializers.CharField()
    revision = serializers.CharField()
    name = serializers.CharField()
    scope = serializers.CharField()
    verdict = serializers.CharField(help_text="fits, fits-with-notes, incomplete or unsuitable.")
    matched = serializers.IntegerField(help_text="Mandatory positions that the kit serves.")
    asked = serializers.IntegerField(help_text="Mandatory positions in the kit's scope.")
    declared = serializers.BooleanField(help_text="The maker says the kit is for this pump.")
    free_at_site = serializers.DecimalField(max_digits=12, decimal_places=3, help_text="In date on the day.")
    nearest_other_site = NearestShape(allow_null=True)
    available_elsewhere = serializers.BooleanField(help_text="Somewhere else, perhaps at a site not shown: ask stores.")
    lead_time_days = serializers.DecimalField(
        max_digits=7, decimal_places=2, allow_null=True, help_text="Of the quickest supplier."
    )
    cost = serializers.DecimalField(max_digits=14, decimal_places=4, allow_null=True)
    currency = serializers.CharField(allow_blank=True)
    reasons = FitReasonShape(many=True)


class FitsAnswer(serializers.Serializer[Any]):
    pump = serializers.UUIDField()
    tag = serializers.CharField()
    site = serializers.UUIDField()
    on = serializers.DateField()
    pending = serializers.BooleanField(help_text="Something changed; further kits may appear in a moment.")
    found = serializers.IntegerField(help_text="How many kits there are; the best are shown.")
    kits = PumpFitShape(many=True)


FITTING_KIT: dict[str, Any] = {
    "kit": "0199a0c4-0000-7000-8000-0000000000bb",
    "number": "KIT-NB-40",
    "revision": "B",
    "name": "Overhaul kit NB 40, EPDM",
    "scope": "full-overhaul",
    "verdict": "fits",
    "matched": 8,
    "asked": 8,
    "declared": True,
    "free_at_site": "1.000",
    "nearest_other_site": {
        "site": "0199a0c4-0000-7000-8000-000000000002",
        "site_code": "central-store",
        "site_name": "Central store",
        "free": "3.000",
        "distance_km": 41.5,
    },
    "available_elsewhere": True,
    "lead_time_days": "14.00",
    "cost": "412.5000",
    "currency": "EUR",
    "reasons": [
        {
            "code": "exact",
            "role": "casing-o-ring",
            "asked": "OR-226-E",
            "offered": "OR-226-E",
            "compared": [],
            "sentence": "Casing O-ring: OR-226-E, as asked for.",
        }
    ],
}


class FitsParameters(Filters):
    scope = django_filters.CharFilter(help_text="Only kits of this scope; GET /kit-scopes.")
    limit = django_filters.NumberFilter(help_text="How many of the best, 1 to 100; 20 if left out.")
    on = django_filters.DateFilter(help_text="The day of fitting; today if left out.")


class PumpFitsView(APIView):
    @describe(
        summary="Kits that fit a pump, the best first",
        tag="Fit",
        responses=FitsAnswer,
        filters=FitsParameters,
        description=(
            "Judged by part number, supersession, typed specification and material, for this pump's fluid and "
            "temperatures. A kit whose material will fail is shown as unsuitable, never left out. Ranked by verdict, "
            "then what is in date and free at the pump's site, then the nearest other site that has one, then lead "
            "time; of what is equally near the one that renews more, then the cheaper; every factor is shown."
        ),
        example={
            "pump": "0199a0c4-0000-7000-8000-0000000000aa",
            "tag": "P-117",
            "site": "0199a0c4-0000-7000-8000-000000000001",
            "on": "2026-12-02",
            "pending": False,
            "found": 1,
            "kits": [FITTING_KIT],
        },
        operation_id="pump_fits_read",
    )
    def get(self, request: Request, pump: uuid.UUID) -> Response:
        check_parameters(request, ["on", "scope", "limit"])
        found = fits_of_pump(
            by=caller_of(request),
            pump_id=pump,
            on=day_of(request),
            scope=request.query_params.get("scope"),
            limit=limit_of(request),
        )
        return Response(found, headers={"Cache-Control": "private, no-cache"})


def day_of(request: Request) -> Any:
    """The day that ``?on=`` names; today where it is left out. Raises `Malformed`."""
    text = request.query_params.get("on")
    if text is None:
        return timezone.now().date()
    try:
        return serializers.DateField().run_validation(text)
    except serializers.ValidationError as error:
        raise Malformed(f"on={text[:20]!r} is no date.", remedy="Write it like 2026-12-02.", pointer="?on") from error


def limit_of(request: Request) -> int:
    """How many of the best ``?limit=`` asks for. Raises `Malformed`."""
    text = request.query_params.get("limit", "20")
    if not text.isdecimal() or not 1 <= int(text[:4]) <= 100:
        raise Malformed(f"limit={text[:20]!r} is not from 1 to 100.", remedy="Ask for 1 to 100.", pointer="?limit")
    return int(text)
