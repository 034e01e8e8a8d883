"""Which kits the installed pumps are expected to need, and when one pump comes up."""

import uuid
from typing import Any

import django_filters
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.operations.overhaul_forecasts import request_forecast
from jobs.queries.overhaul_forecasts import MONTHS, pump_outlook, site_forecast
from services.api.filters import Filters, read_parameters
from services.api.refusals import Malformed
from services.api.rows import NothingIn, read_body
from services.api.schema import describe
from services.api.writes import Answer, answer_write
from services.identity.callers import caller_of

TAG = "Overhaul forecasts"
USUAL_MONTHS = 6
SITE = "0199a0c4-0000-7000-8000-000000000001"
SENTENCE = (
    "NB-40-200: 11 overhauls that nobody had planned and 48 lives longer than told; shape 2.31, scale 15820 h, mean "
    "life 14017 h, from its own overhauls."
)


class FamilyFitShape(serializers.Serializer[Any]):
    family = serializers.CharField(help_text="The pump model's code.")
    shape = serializers.FloatField(help_text="Of the Weibull distribution: above 1 chances grow with age.")
    scale_hours = serializers.FloatField(help_text="Running hours within which 63 % are overhauled.")
    mean_life_hours = serializers.FloatField()
    failures = serializers.IntegerField(help_text="Overhauls that nobody had planned.")
    censored = serializers.IntegerField(help_text="Lives longer than told: pumps that run, and planned overhauls.")
    basis = serializers.CharField(help_text="own, shape-pooled (only the scale is its own) or pooled.")
    pool = serializers.CharField(help_text="Where the rest comes from: the configuration, all pumps, or empty.")
    words = serializers.CharField()


class FamilyShareShape(FamilyFitShape):
    pumps = serializers.IntegerField()
    mean = serializers.FloatField(help_text="What its pumps add to the month's expectation.")


class PlannedOverhaulShape(serializers.Serializer[Any]):
    job = serializers.CharField()
    day = serializers.DateField()
    needed_before = serializers.FloatField(help_text="The chance that the pump needs it before that day.")


class MonthShape(serializers.Serializer[Any]):
    month = serializers.DateField(help_text="Its first day; the first month is what is left of it.")
    expected = serializers.FloatField(source="mean", help_text="Overhauls that are not planned, from the pumps alone.")
    variance = serializers.FloatField()
    none = serializers.FloatField(source="no_overhaul", help_text="The chance that none comes up unplanned.")
    q95 = serializers.IntegerField(help_text="19 of 20 such months need at most so many, planned ones included.")
    planned = serializers.IntegerField(source="certain")
    planned_jobs = PlannedOverhaulShape(source="planned", many=True)
    expected_until = serializers.FloatField(source="mean_until", help_text="From as_of to the month's end.")
    q95_until = serializers.IntegerField()
    planned_until = serializers.IntegerField(source="certain_until")
    history = serializers.FloatField(source="history_mean", help_text="What history alone says of unplanned ones.")
    walk_in = serializers.FloatField(source="walk_in_mean", help_text="What is issued without any job.")
    blended = serializers.FloatField(source="blended_mean", help_text="Pumps and history joined, walk-in added.")
    blended_variance = serializers.FloatField()
    families = FamilyShareShape(many=True)
    working = serializers.DictField()
    words = serializers.CharField()


class ItemForecastShape(serializers.Serializer[Any]):
    item = serializers.UUIDField()
    number = serializers.CharField()
    revision = serializers.CharField()
    pumps = serializers.IntegerField(help_text="Pumps whose overhaul may use it.")
    weight_of_history = serializers.FloatField()
    weight_of_pumps = serializers.FloatField()
    months = MonthShape(many=True)


class SiteForecastAnswer(serializers.Serializer[Any]):
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    as_of = serializers.DateField(allow_null=True, help_text="When it was worked out; null where it never was.")
    items = ItemForecastShape(many=True)


class ChanceShape(serializers.Serializer[Any]):
    months = serializers.IntegerField()
    chance = serializers.FloatField(help_text="The larger of the two.")
    life = serializers.FloatField(help_text="From how long pumps of its model run.")
    wear = serializers.FloatField(help_text="That something measured on it is at its limit; 0 where nothing tells.")


class ExpectedWearShape(serializers.Serializer[Any]):
    characteristic = serializers.CharField(help_text="Its code.")
    name = serializers.CharField(help_text="What is measured, as the words say it.")
    expected_on = serializers.DateField()
    earliest_on = serializers.DateField()
    latest_on = serializers.DateField(allow_null=True)


class PumpForecastAnswer(serializers.Serializer[Any]):
    pump = serializers.UUIDField()
    tag = serializers.CharField()
    site = serializers.UUIDField()
    as_of = serializers.DateField()
    state = serializers.CharField()
    age_hours = serializers.FloatField(allow_null=True, help_text="Run since its last overhaul, or since new.")
    overhauled_on = serializers.DateField(allow_null=True)
    hours_a_day = serializers.FloatField(help_text="0 where it is not in service.")
    hours_known = serializers.BooleanField(help_text="Whether its own meter tells, or the mean of other pumps.")
    planned_on = serializers.DateField(allow_null=True)
    planned_job = serializers.CharField(allow_blank=True)
    chances = ChanceShape(many=True, help_text="Empty where no overhaul of any pump is recorded.")
    wear = ExpectedWearShape(allow_null=True, help_text="What is expected at its limit first.")
    fit = FamilyFitShape(allow_null=True)
    words = serializers.CharField()


class RunAsked(serializers.Serializer[Any]):
    run = serializers.UUIDField()
    state = serializers.CharField()


class SiteForecastParameters(Filters):
    item = django_filters.UUIDFilter("item", help_text="Only this item.")
    months = django_filters.NumberFilter("months", help_text=f"1 to {MONTHS}, the current one first; 6 if left out.")

    class Meta:
        fields: list[str] = []


FIT = {
    "family": "NB-40-200", "shape": 2.31, "scale_hours": 15820.4, "mean_life_hours": 14016.9, "failures": 11,
    "censored": 48, "basis": "own", "pool": "", "words": SENTENCE,
}  # fmt: skip


class SiteOverhaulForecastView(APIView):
    @describe(
        summary="Kits that the pumps of a site are expected to need, by month",
        tag=TAG,
        responses=SiteForecastAnswer,
        filters=SiteForecastParameters,
        description=(
            "From the running hours of each pump since its last overhaul and from how long pumps of its model ran "
            "before. Planned jobs are certain on their day. Worked out every night; POST to overhaul-forecasts asks "
            "for it now."
        ),
        example={
            "site": SITE,
            "site_code": "heat-plant",
            "as_of": "2026-03-02",
            "items": [
                {
                    "item": "0199a0c4-0000-7000-8000-0000000000bb", "number": "K-40-FULL", "revision": "B", "pumps": 10,
                    "weight_of_history": 0.35, "weight_of_pumps": 0.65,
                    "months": [
                        {
                            "month": "2026-03-01", "expected": 0.42, "variance": 0.39, "none": 0.66, "q95": 3,
                            "planned": 1,
                            "planned_jobs": [{"job": "J-2026-00012", "day": "2026-03-20", "needed_before": 0.03}],
                            "expected_until": 0.42, "q95_until": 3, "planned_until": 1, "history": 0.3, "walk_in": 0.0,
                            "blended": 0.38, "blended_variance": 0.39, "families": [FIT | {"pumps": 10, "mean": 0.42}],
                            "working": {"q95_at_best_fit": 2}, "words": "Planned: J-2026-00012 on 2026-03-20. ...",
                        }
                    ],
                }
            ],
        },
        operation_id="site_overhaul_forecast_read",
    )  # fmt: skip
    def get(self, request: Request, site: uuid.UUID) -> Response:
        asked = read_parameters(request, SiteForecastParameters)
        months = USUAL_MONTHS if asked.get("months") is None else asked["months"]
        if months != int(months) or not 1 <= months <= MONTHS:
            raise Malformed(
                f"months is {months}.", remedy=f"Give a whole number from 1 to {MONTHS}.", pointer="?months"
            )
        found = site_forecast(by=caller_of(request), site_id=site, item_id=asked.get("item"), months=int(months))
        return Response(SiteForecastAnswer(found).data)


class OverhaulForecastRunsView(APIView):
    @describe(
        summary="Ask for the overhaul forecast of a site",
        tag=TAG,
        request=NothingIn,
        responses=RunAsked,
        status=202,
        description="Recorded and taken up by a worker; GET /background-runs/{id} tells how it went.",
    )
    def post(self, request: Request, site: uuid.UUID) -> Response:
        read_body(request, NothingIn)

        def perform() -> Answer:
            run = request_forecast(by=caller_of(request), site_id=site)
            return Answer({"run": run, "state": "queued"}, 202, {"Location": f"/api/v1/background-runs/{run}"})

        return answer_write(request, perform, key_required=True)


class PumpOverhaulForecastView(APIView):
    @describe(
        summary="The chance that a pump has to be overhauled in the next 3, 6 and 12 months",
        tag=TAG,
        responses=PumpForecastAnswer,
        description=(
            "Worked out as it is asked for, from the pump's running hours since its last overhaul and from the lives "
            "of pumps of its model, or from its wear where that comes sooner. What is expected is no inspection: it "
            "replaces no look at the pump."
        ),
        example={
            "pump": "0199a0c4-0000-7000-8000-0000000000aa", "tag": "P-117", "site": SITE, "as_of": "2026-03-02",
            "state": "in-service", "age_hours": 11240.0, "overhauled_on": "2024-06-11", "hours_a_day": 17.8,
            "hours_known": True, "planned_on": None, "planned_job": "",
            "chances": [
                {"months": 3, "chance": 0.12, "life": 0.12, "wear": 0.0},
                {"months": 6, "chance": 0.31, "life": 0.24, "wear": 0.31},
                {"months": 12, "chance": 0.93, "life": 0.46, "wear": 0.93},
            ],
            "wear": {
                "characteristic": "wear-ring-gap", "name": "Gap at the wear ring", "expected_on": "2026-11-02",
                "earliest_on": "2026-08-14", "latest_on": "2027-02-20",
            },
            "fit": FIT, "words": f"It has run 11240 h since its last overhaul, 17.8 h a day. {SENTENCE}",
        },
        operation_id="pump_overhaul_forecast_read",
    )  # fmt: skip
    def get(self, request: Request, pump: uuid.UUID) -> Response:
        found = pump_outlook(by=caller_of(request), pump_id=pump, as_of=timezone.now().date())
        return Response(PumpForecastAnswer(found).data)
