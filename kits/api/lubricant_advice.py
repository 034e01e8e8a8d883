"""Which lubricant to use when parts of some elastomers are fitted."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.queries.materials import assembly_advice
from services.api.filters import Filters, TextInFilter, read_parameters
from services.api.schema import describe
from services.identity.callers import caller_of


class LubricantAdviceShape(serializers.Serializer[Any]):
    lubricant = serializers.CharField()
    name = serializers.CharField()
    verdict = serializers.CharField(help_text="ok, check, avoid or forbidden.")
    material = serializers.CharField(help_text="The elastomer that decided it.")
    note = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]
    differing = serializers.ListField(child=serializers.CharField(), help_text="What each source says, if they differ.")


class CautionShape(serializers.Serializer[Any]):
    code = serializers.CharField()
    sentence = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]


class LubricantAdviceAnswer(serializers.Serializer[Any]):
    elastomers = serializers.ListField(child=serializers.CharField())
    unknown = serializers.ListField(child=serializers.CharField(), help_text="Elastomers the table does not know.")
    lubricants = LubricantAdviceShape(many=True, help_text="What is usable first.")
    cautions = CautionShape(many=True, help_text="Always to be shown with the advice.")


class LubricantParameters(Filters):
    elastomers = TextInFilter(required=True, help_text="ISO 1629 codes of all that is fitted, separated by commas.")


class LubricantAdviceView(APIView):
    @describe(
        summary="Which lubricant may touch these elastomers",
        tag="Lubricants",
        responses=LubricantAdviceAnswer,
        filters=LubricantParameters,
        operation_id="lubricant_advice_read",
        description="Over several elastomers the most careful verdict counts. The cautions belong to the advice.",
    )
    def get(self, request: Request) -> Response:
        asked = read_parameters(request, LubricantParameters)
        elastomers = [one.strip().upper() for one in asked["elastomers"] if one.strip()]
        return Response(assembly_advice(by=caller_of(request), elastomers=elastomers))
