"""How long parts of a model last, by the way they fail."""

import uuid
from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.trends import MODEL, PRIVATE, TAG, NoTrendParameters
from jobs.queries.part_lives import model_lives
from services.api.filters import read_parameters
from services.api.schema import describe
from services.identity.callers import caller_of


class BoundedShape(serializers.Serializer[Any]):
    value = serializers.FloatField()
    low = serializers.FloatField(help_text="With 95 %, normal on the logarithm.")
    high = serializers.FloatField()


class PartLifeShape(serializers.Serializer[Any]):
    role = serializers.CharField(help_text="The position's role.")
    mode = serializers.CharField(allow_blank=True, help_text="The code of the failure; empty: any way of failing.")
    failures = serializers.IntegerField()
    censored = serializers.IntegerField(help_text="Parts that still run, were renewed sound, or failed otherwise.")
    shape = BoundedShape(allow_null=True, help_text="Null where fewer than three failed.")
    scale_hours = BoundedShape(allow_null=True)
    b10_hours = BoundedShape(allow_null=True, help_text="By then one part in ten has failed.")
    mean_hours = serializers.FloatField(allow_null=True)
    reading = serializers.CharField(help_text="too-few, early, chance, wear-out, not-told or alike.")
    words = serializers.CharField()


class ModelLivesAnswer(serializers.Serializer[Any]):
    pump_model = serializers.UUIDField()
    code = serializers.CharField()
    as_of = serializers.DateField()
    pumps = serializers.IntegerField()
    lives = PartLifeShape(many=True)


class ModelLivesView(APIView):
    @describe(
        summary="How long parts of a model last, by position and way of failing",
        tag=TAG,
        responses=ModelLivesAnswer,
        filters=NoTrendParameters,
        description=(
            "Weibull lives in running hours over all pumps of the model wherever they stand; parts that still run, "
            "were renewed sound or failed in another way are known to have lasted longer. Parts that were in a pump "
            "when it came are left out: nobody recorded when they were fitted."
        ),
        example={
            "pump_model": MODEL, "code": "NB-40-200", "as_of": "2026-03-02", "pumps": 9,
            "lives": [
                {
                    "role": "shaft-seal", "mode": "ELP", "failures": 5, "censored": 4,
                    "shape": {"value": 2.88, "low": 1.38, "high": 6.03},
                    "scale_hours": {"value": 11238.6, "low": 8243.9, "high": 15321.1},
                    "b10_hours": {"value": 5145.3, "low": 2820.6, "high": 9386.1}, "mean_hours": 10018.5,
                    "reading": "wear-out", "words": "shaft-seal, ELP: 5 failed, 4 lasted longer than is known. ...",
                }
            ],
        },
        operation_id="pump_model_lives_read",
    )  # fmt: skip
    def get(self, request: Request, model: uuid.UUID) -> Response:
        read_parameters(request, NoTrendParameters)
        found = model_lives(by=caller_of(request), model_id=model, today=timezone.now().date())
        return Response(found, headers=PRIVATE)
