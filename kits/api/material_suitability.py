"""Whether materials and seal faces bear a fluid and its temperatures."""

from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.models.materials import COLDEST_C
from kits.queries.materials import material_suitability
from services.api.filters import Filters, TextInFilter, read_parameters
from services.api.refusals import Malformed
from services.api.schema import describe
from services.identity.callers import caller_of


class SaidShape(serializers.Serializer[Any]):
    value = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]
    counts = serializers.BooleanField()


class DifferingShape(serializers.Serializer[Any]):
    figure = serializers.CharField()
    because = serializers.CharField(help_text="Why the data owner chose the one that counts; empty: the most careful.")
    values = SaidShape(many=True)


class MaterialVerdictShape(serializers.Serializer[Any]):
    material = serializers.CharField(help_text="ISO 1629 code, or letters of a seal face after EN 12756.")
    result = serializers.CharField(help_text="suitable, limited, unsuitable or not-known.")
    rating = serializers.CharField(help_text="A, B, C or X; empty where the tables know none.")
    sentences = serializers.ListField(child=serializers.CharField())
    sources = serializers.ListField(child=serializers.CharField())
    differing = DifferingShape(many=True, help_text="Figures for which sources differ.")


class MaterialSuitabilityAnswer(serializers.Serializer[Any]):
    fluid_family = serializers.CharField()
    temperature_min_c = serializers.DecimalField(max_digits=6, decimal_places=2)
    temperature_max_c = serializers.DecimalField(max_digits=6, decimal_places=2)
    materials = MaterialVerdictShape(many=True)
    seal_faces = MaterialVerdictShape(many=True)


class SuitabilityParameters(Filters):
    fluid_family = django_filters.CharFilter(required=True, help_text="A fluid family's code.")
    temperature_min_c = django_filters.NumberFilter(required=True, help_text="The coldest it gets, in degrees Celsius.")
    temperature_max_c = django_filters.NumberFilter(required=True, help_text="The hottest it gets, in degrees Celsius.")
    material = TextInFilter(help_text="ISO 1629 codes, separated by commas; without these and faces: all.")
    seal_face = TextInFilter(help_text="Letters of seal faces after EN 12756, separated by commas.")


class MaterialSuitabilityView(APIView):
    @describe(
        summary="How materials and seal faces bear a fluid",
        tag="Materials",
        responses=MaterialSuitabilityAnswer,
        filters=SuitabilityParameters,
        operation_id="material_suitability_read",
        description="A screening: concentration and compound decide. Temperature limits of a compound outrank its "
        "rating; where sources differ the most careful figure counts, unless the data owner chose one.",
    )
    def get(self, request: Request) -> Response:
        asked = read_parameters(request, SuitabilityParameters)
        low, high = asked["temperature_min_c"], asked["temperature_max_c"]
        if low > high or low < COLDEST_C:
            raise Malformed(
                f"From {low} to {high} degrees Celsius is no range of temperatures.",
                remedy="Give the coldest as temperature_min_c and the hottest as temperature_max_c.",
                pointer="?temperature_min_c",
            )
        answer = material_suitability(
            by=caller_of(request),
            fluid_family=asked["fluid_family"],
            temperature_min_c=low,
            temperature_max_c=high,
            materials=_capitals(asked["material"]),
            seal_faces=_capitals(asked["seal_face"]),
        )
        return Response(answer)


def _capitals(given: list[str] | None) -> list[str]:
    return [one.strip().upper() for one in given or [] if one.strip()]
