"""Fits of what is not there yet: a pump in front of its nameplate, a kit on the drawing board. Nothing is written."""

from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.api.fits import FITTING_KIT, FitReasonShape, PumpFitShape
from kits.queries.fit_of_described import fits_of_described_kit_of, fits_of_described_pump
from services.api.rows import Body, read_body
from services.api.schema import describe
from services.identity.callers import caller_of

PRIVATE = {"Cache-Control": "private, no-store"}


class DescribedPumpIn(Body):
    pump_model = serializers.UUIDField(help_text="POST /nameplates/match finds it from a nameplate.")
    serial_number = serializers.CharField(max_length=40, required=False, allow_blank=True, default="")
    variant = serializers.DictField(
        child=serializers.CharField(max_length=60), required=False, help_text='As built, {"elastomer": "EPDM"}.'
    )
    fluid = serializers.CharField(max_length=40, required=False, help_text="A fluid's code; GET /fluids.")
    fluid_family = serializers.CharField(
        max_length=40, required=False, help_text="In place of a fluid; GET /fluid-families."
    )
    temperature_min_c = serializers.DecimalField(max_digits=6, decimal_places=2)
    temperature_max_c = serializers.DecimalField(max_digits=6, decimal_places=2)
    site = serializers.UUIDField(required=False, help_text="Where it stands, for what is free there.")
    on = serializers.DateField(required=False, help_text="The day of fitting; today if left out.")
    scope = serializers.CharField(max_length=40, required=False)
    limit = serializers.IntegerField(min_value=1, max_value=100, required=False, default=20)


class DescribedPumpAnswer(serializers.Serializer[Any]):
    on = serializers.DateField()
    site = serializers.UUIDField(allow_null=True)
    pending = serializers.BooleanField(help_text="Something changed; further kits may appear in a moment.")
    found = serializers.IntegerField(help_text="How many kits there are; the best are shown.")
    kits = PumpFitShape(many=True)


class DescribedPumpFitsView(APIView):
    reads_only = True

    @describe(
        summary="Kits that would fit a pump as described",
        tag="Fit",
        request=DescribedPumpIn,
        responses=DescribedPumpAnswer,
        description=(
            "For a pump that is not registered: its model, serial number, variant, fluid and temperatures are told "
            "instead. Judged and ranked like GET /pumps/{pump}/fits. Nothing is written."
        ),
        request_example={
            "pump_model": "0199a0c4-0000-7000-8000-0000000000ab",
            "serial_number": "NB2019-0417",
            "variant": {"elastomer": "EPDM"},
            "fluid": "heating-water",
            "temperature_min_c": "40",
            "temperature_max_c": "95",
            "site": "0199a0c4-0000-7000-8000-000000000001",
        },
        example={
            "on": "2026-12-02",
            "site": "0199a0c4-0000-7000-8000-000000000001",
            "pending": False,
            "found": 1,
            "kits": [FITTING_KIT],
        },
        operation_id="described_pump_fits",
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, DescribedPumpIn)
        found = fits_of_described_pump(
            by=caller_of(request), **{"on": timezone.now().date(), "site": None, "scope": None, **body}
        )
        return Response(found, headers=PRIVATE)


class DescribedLineIn(Body):
    role = serializers.CharField(max_length=40, help_text="GET /position-roles.")
    part = serializers.UUIDField(required=False, help_text="A part that is known; or else:")
    part_number = serializers.CharField(max_length=60, required=False, help_text="The number of a part that is not.")
    category = serializers.CharField(max_length=40, required=False)
    specification = serializers.CharField(max_length=200, required=False, help_text="Such as 226 EPDM 70.")
    quantity = serializers.DecimalField(max_digits=9, decimal_places=3, min_value=0)
    optional = serializers.BooleanField(required=False, default=False)
    alternative_group = serializers.CharField(max_length=20, required=False, allow_blank=True, default="")


class DescribedKitIn(Body):
    kit = serializers.UUIDField(required=False, help_text="A draft as it stands; or else scope and lines:")
    scope = serializers.CharField(max_length=40, required=False, help_text="GET /kit-scopes.")
    lines = DescribedLineIn(many=True, required=False)
    on = serializers.DateField(required=False, help_text="The day of fitting; today if left out.")


class SiteDependenceShape(serializers.Serializer[Any]):
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    site_name = serializers.CharField()
    pumps = serializers.IntegerField()
    only_this = serializers.IntegerField(help_text="Pumps that no other released kit of the scope fits.")
    by_verdict = serializers.DictField(child=serializers.IntegerField())
    by_criticality = serializers.DictField(child=serializers.IntegerField())


class ModelFitShape(serializers.Serializer[Any]):
    pump_model = serializers.UUIDField()
    code = serializers.CharField()
    designation = serializers.CharField()
    pumps = serializers.IntegerField(help_text="Installed at your sites.")
    verdict = serializers.CharField(help_text="Of the model's pumps that it fits best.")
    matched = serializers.IntegerField()
    asked = serializers.IntegerField()
    reasons = FitReasonShape(many=True)


class DescribedKitAnswer(serializers.Serializer[Any]):
    on = serializers.DateField()
    sites = SiteDependenceShape(many=True)
    models_found = serializers.IntegerField(help_text="Models that it serves in anything; the best 20 are shown.")
    models = ModelFitShape(many=True)


SITE_EXAMPLE = {
    "site": "0199a0c4-0000-7000-8000-000000000001",
    "site_code": "heat-plant",
    "site_name": "District-heating plant",
    "pumps": 7,
    "only_this": 2,
    "by_verdict": {"fits": 5, "incomplete": 2},
    "by_criticality": {"vital": 3, "essential": 4},
}


class DescribedKitFitsView(APIView):
    reads_only = True

    @describe(
        summary="What a kit as described would fit",
        tag="Fit",
        request=DescribedKitIn,
        responses=DescribedKitAnswer,
        description=(
            "For a kit that is not released: the draft, or scope and lines, are judged against every build class. "
            "The answer counts installed pumps at your sites and shows the models it serves, the best first, with "
            "reasons. Nothing is written."
        ),
        request_example={
            "scope": "full-overhaul",
            "lines": [
                {"role": "casing-o-ring", "category": "o-ring", "specification": "226 EPDM 70", "quantity": "1"},
                {"role": "bearing-de", "part": "0199a0c4-0000-7000-8000-0000000000cc", "quantity": "1"},
            ],
        },
        example={
            "on": "2026-12-02",
            "sites": [SITE_EXAMPLE],
            "models_found": 1,
            "models": [
                {
                    "pump_model": "0199a0c4-0000-7000-8000-0000000000ab",
                    "code": "NB-40",
                    "designation": "65-40-160",
                    "pumps": 7,
                    "verdict": "fits",
                    "matched": 2,
                    "asked": 2,
                    "reasons": FITTING_KIT["reasons"],
                }
            ],
        },
        operation_id="described_kit_fits",
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, DescribedKitIn)
        found = fits_of_described_kit_of(
            by=caller_of(request),
            **{"on": timezone.now().date(), "kit": None, "scope": None, "lines": None, **body},
        )
        return Response(found, headers=PRIVATE)
