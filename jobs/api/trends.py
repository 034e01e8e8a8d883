"""What is measured on a pump over its running hours, and when it comes to its limit."""

import uuid
from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.queries.pump_trends import model_trend, pump_trends
from services.api.filters import Filters, read_parameters
from services.api.rendering import JsonRenderer
from services.api.schema import describe
from services.identity.callers import caller_of
from services.web.trend_charts import trend_chart

TAG = "Trends and lives"
PRIVATE = {"Cache-Control": "private, no-cache"}
PUMP, MODEL, SITE = (f"0199a0c4-0000-7000-8000-00000000000{one}" for one in (1, 2, 3))
LOOK = " A trend replaces no look at the pump."


class TrendPointShape(serializers.Serializer[Any]):
    segment = serializers.IntegerField()
    age_hours = serializers.FloatField(help_text="Running hours since the part was fitted, 0 as left with a new one.")
    at = serializers.DateTimeField()
    job = serializers.CharField()
    state = serializers.CharField(help_text="as-found, as-left or as-found-and-left.")
    value = serializers.FloatField()
    expanded_uncertainty = serializers.FloatField(help_text="k = 2.")
    lower = serializers.FloatField(allow_null=True, help_text="As it stood.")
    upper = serializers.FloatField(allow_null=True)
    verdict = serializers.CharField()


class TrendSegmentShape(serializers.Serializer[Any]):
    number = serializers.IntegerField()
    began = serializers.DateTimeField(allow_null=True)
    because = serializers.CharField(help_text="new, renewed or reworked.")


class WearFitShape(serializers.Serializer[Any]):
    method = serializers.CharField(help_text="least-squares, or median-of-slopes where a value lies far off.")
    rate = serializers.FloatField(help_text="In a thousand running hours.")
    rate_low = serializers.FloatField(help_text="With 95 %.")
    rate_high = serializers.FloatField()
    level = serializers.FloatField(help_text="Of the present part when it was new.")
    spread = serializers.FloatField(help_text="Standard deviation about the line.")
    degrees_of_freedom = serializers.IntegerField()
    points = serializers.IntegerField()
    segments = serializers.IntegerField(help_text="Parts that wear at this rate, each from its own level.")


class WearNowShape(serializers.Serializer[Any]):
    expected = serializers.FloatField()
    low = serializers.FloatField(help_text="A measurement today would lie between, with 95 %.")
    high = serializers.FloatField()


class AtLimitShape(serializers.Serializer[Any]):
    hours = serializers.FloatField(help_text="From today on.")
    earliest_hours = serializers.FloatField(help_text="With 95 %, after Fieller.")
    latest_hours = serializers.FloatField(allow_null=True, help_text="Null where it may never be.")
    day = serializers.DateField(allow_null=True, help_text="Null where the pump stands, or beyond a hundred years.")
    earliest_day = serializers.DateField(allow_null=True)
    latest_day = serializers.DateField(allow_null=True)


class TrendShape(serializers.Serializer[Any]):
    code = serializers.CharField()
    name = serializers.CharField()
    positions = serializers.ListField(
        child=serializers.CharField(), help_text="Renewing one of them begins a new segment."
    )
    unit = serializers.CharField()
    outcome = serializers.CharField(
        help_text="reached, at-limit, stands-still, steady, no-limit, or too-few: fewer than three values tell."
    )
    age_hours = serializers.FloatField(help_text="Of the present part, today.")
    lower = serializers.FloatField(allow_null=True, help_text="As it stood at the last measurement.")
    upper = serializers.FloatField(allow_null=True)
    limit = serializers.FloatField(allow_null=True, help_text="The one that the rate leads to.")
    segments = TrendSegmentShape(many=True)
    points = TrendPointShape(many=True)
    fit = WearFitShape(allow_null=True)
    now = WearNowShape(allow_null=True)
    at_limit = AtLimitShape(allow_null=True)
    words = serializers.CharField()


class PumpTrendsAnswer(serializers.Serializer[Any]):
    pump = serializers.UUIDField()
    tag = serializers.CharField()
    pump_model = serializers.UUIDField()
    site = serializers.UUIDField()
    as_of = serializers.DateField()
    state = serializers.CharField()
    hours_a_day = serializers.FloatField(help_text="0 where it is not in service.")
    hours_known = serializers.BooleanField(help_text="Whether its own meter tells, or the mean of other pumps.")
    trends = TrendShape(many=True)


class PopulationShape(serializers.Serializer[Any]):
    pumps = serializers.IntegerField(help_text="How many tell a rate.")
    lower_quartile = serializers.FloatField(help_text="Of their rates, in a thousand running hours.")
    median = serializers.FloatField()
    upper_quartile = serializers.FloatField()
    pooled = serializers.FloatField(allow_null=True, help_text="All values as one rate, each part from its own level.")
    pooled_low = serializers.FloatField(allow_null=True)
    pooled_high = serializers.FloatField(allow_null=True)


class PumpOfModelShape(serializers.Serializer[Any]):
    pump = serializers.UUIDField()
    tag = serializers.CharField()
    site_code = serializers.CharField()
    rate = serializers.FloatField(allow_null=True)
    wears_more_than = serializers.FloatField(allow_null=True, help_text="The share of the model's pumps, ties half.")
    outcome = serializers.CharField()
    at_limit_on = serializers.DateField(allow_null=True)
    words = serializers.CharField()


class ModelTrendAnswer(serializers.Serializer[Any]):
    pump_model = serializers.UUIDField()
    code = serializers.CharField(help_text="Of the model.")
    characteristic = serializers.CharField()
    name = serializers.CharField()
    unit = serializers.CharField()
    as_of = serializers.DateField()
    measured = serializers.IntegerField(help_text="Pumps on which it is measured.")
    population = PopulationShape(allow_null=True, help_text="Null where no pump tells a rate.")
    pumps = PumpOfModelShape(many=True, help_text="Those at the caller's own sites.")
    words = serializers.CharField()


class NoTrendParameters(Filters):
    class Meta:
        fields: list[str] = []


POINT = {
    "segment": 0, "age_hours": 8120.5, "at": "2024-06-11T09:05:00Z", "job": "J-2024-00031", "state": "as-found",
    "value": 0.192, "expanded_uncertainty": 0.012, "lower": 0.12, "upper": 0.3, "verdict": "accept",
}  # fmt: skip
TREND = {
    "code": "wear-ring-gap", "name": "Gap at the casing wear ring", "positions": ["wear-ring-casing"], "unit": "mm",
    "outcome": "reached", "age_hours": 13000.0, "lower": 0.12, "upper": 0.3, "limit": 0.3,
    "segments": [{"number": 0, "began": "2019-04-02T00:00:00Z", "because": "new"}], "points": [POINT],
    "fit": {
        "method": "least-squares", "rate": 0.005025, "rate_low": 0.004626, "rate_high": 0.005424, "level": 0.1506,
        "spread": 0.00083, "degrees_of_freedom": 2, "points": 4, "segments": 1,
    },
    "now": {"expected": 0.2159, "low": 0.2108, "high": 0.221},
    "at_limit": {
        "hours": 16731.3, "earliest_hours": 14100.2, "latest_hours": 19922.7, "day": "2028-06-15",
        "earliest_day": "2028-02-05", "latest_day": "2028-11-22",
    },
    "words": "4 values on one part: 0.005025 mm in 1000 h ...",
}  # fmt: skip
ANSWER = {
    "pump": PUMP, "tag": "P-117", "pump_model": MODEL, "site": SITE, "as_of": "2026-03-02", "state": "in-service",
    "hours_a_day": 20.0, "hours_known": True, "trends": [TREND],
}  # fmt: skip


class SvgRenderer(JsonRenderer):
    """SVG as it is; a refusal is JSON."""

    media_type = "image/svg+xml"
    format = "svg"


class PumpTrendsView(APIView):
    @describe(
        summary="Everything measured on a pump over its running hours",
        tag=TAG,
        responses=PumpTrendsAnswer,
        filters=NoTrendParameters,
        description=(
            "Each characteristic with its values, wear rate, and when it comes to the limit as it stood. A new part "
            f"begins anew; parts of one position wear at one rate, each from its own level.{LOOK}"
        ),
        example=ANSWER,
        operation_id="pump_trends_read",
    )
    def get(self, request: Request, pump: uuid.UUID) -> Response:
        read_parameters(request, NoTrendParameters)
        found = pump_trends(by=caller_of(request), pump_id=pump, today=timezone.now().date())
        return Response(found, headers=PRIVATE)


class PumpTrendView(APIView):
    renderer_classes = [JsonRenderer, SvgRenderer]

    @describe(
        summary="One characteristic of a pump over its running hours",
        tag=TAG,
        responses=PumpTrendsAnswer,
        filters=NoTrendParameters,
        description=(
            "As JSON, or with Accept: image/svg+xml as a chart with limits, line and band. Fewer than three values "
            f"that belong together tell nothing, and it says so.{LOOK}"
        ),
        example=ANSWER,
        operation_id="pump_trend_read",
    )
    def get(self, request: Request, pump: uuid.UUID, characteristic: str) -> Response:
        read_parameters(request, NoTrendParameters)
        found = pump_trends(by=caller_of(request), pump_id=pump, today=timezone.now().date(), code=characteristic)
        headers = PRIVATE | {"Vary": "Accept"}
        if getattr(request.accepted_renderer, "format", "") == "svg":
            drawn = trend_chart(found["tag"], found["trends"][0])
            return Response(drawn.encode(), headers=headers, content_type="image/svg+xml")
        return Response(found, headers=headers)


class ModelTrendView(APIView):
    @describe(
        summary="How fast a characteristic wears over all pumps of a model",
        tag=TAG,
        responses=ModelTrendAnswer,
        filters=NoTrendParameters,
        description=(
            "Quartiles of the pumps' wear rates, all values taken together as one rate, and where each pump at your "
            f"sites stands among them. The figures are of all pumps wherever they stand.{LOOK}"
        ),
        example={
            "pump_model": MODEL, "code": "NB-40-200", "characteristic": "wear-ring-gap",
            "name": "Gap at the casing wear ring", "unit": "mm", "as_of": "2026-03-02", "measured": 6,
            "population": {
                "pumps": 5, "lower_quartile": 0.0041, "median": 0.0052, "upper_quartile": 0.0066, "pooled": 0.0054,
                "pooled_low": 0.0048, "pooled_high": 0.006,
            },
            "pumps": [
                {
                    "pump": PUMP, "tag": "P-117", "site_code": "heat-plant", "rate": 0.005025, "wears_more_than": 0.3,
                    "outcome": "reached", "at_limit_on": "2028-06-15", "words": "4 values on one part: ...",
                }
            ],
            "words": "NB-40-200: of 6 pumps on which it is measured 5 tell how fast it wears: ...",
        },
        operation_id="pump_model_trend_read",
    )  # fmt: skip
    def get(self, request: Request, model: uuid.UUID, characteristic: str) -> Response:
        read_parameters(request, NoTrendParameters)
        found = model_trend(by=caller_of(request), model_id=model, code=characteristic, today=timezone.now().date())
        return Response(found, headers=PRIVATE)
