"""Trying a judgement without recording it."""

from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.readings import (
    MOST_READINGS,
    BudgetLineShape,
    GivenIn,
    ReadingsIn,
    ReadingsShape,
    ReasonShape,
    ResultShape,
)
from jobs.calculations.readings import RULES
from jobs.calculations.verdict import DECISION_RULES
from jobs.queries.judgements import tried_judgement
from services.api.filters import check_parameters
from services.api.rows import Body, read_body
from services.api.schema import describe
from services.identity.callers import caller_of


class DescribedCharacteristicIn(Body):
    name = serializers.CharField(max_length=200, required=False)
    rule = serializers.ChoiceField(choices=RULES)
    readings = serializers.IntegerField(min_value=1, max_value=MOST_READINGS, default=1, help_text="Of each group.")
    set_up = serializers.DictField(required=False, help_text="What the rule knows besides readings.")
    unit = serializers.CharField(max_length=20, help_text="Of the value and its limits.")
    lower = serializers.DecimalField(max_digits=18, decimal_places=6, required=False, allow_null=True)
    upper = serializers.DecimalField(max_digits=18, decimal_places=6, required=False, allow_null=True)
    decision_rule = serializers.ChoiceField(choices=DECISION_RULES, default="guard-band")


class DescribedInstrumentIn(Body):
    number = serializers.CharField(max_length=40, required=False)
    unit = serializers.CharField(max_length=20)
    range_from = serializers.DecimalField(max_digits=14, decimal_places=6)
    range_to = serializers.DecimalField(max_digits=14, decimal_places=6)
    resolution = serializers.DecimalField(max_digits=14, decimal_places=6, min_value=0)
    expanded_uncertainty = serializers.DecimalField(
        max_digits=14, decimal_places=6, min_value=0, help_text="The certificate's, for k = 2."
    )
    calibration_due = serializers.DateField(required=False, help_text="Left out: taken as in calibration.")


class JudgementIn(Body):
    characteristic = serializers.UUIDField(required=False, help_text="Of a job, as its steps name it.")
    described_characteristic = DescribedCharacteristicIn(required=False)
    readings = ReadingsIn()
    unit = serializers.CharField(max_length=20, help_text="Of the readings.")
    given = GivenIn(required=False)
    instrument = serializers.UUIDField(required=False)
    described_instrument = DescribedInstrumentIn(required=False)
    second_instrument = serializers.UUIDField(required=False)
    described_second_instrument = DescribedInstrumentIn(required=False)
    measured_on = serializers.DateField(required=False, help_text="For the calibration; today, if left out.")


class QuestionShape(serializers.Serializer[Any]):
    pointer = serializers.CharField()
    sentence = serializers.CharField()


class JudgementShape(serializers.Serializer[Any]):
    verdict = serializers.CharField(help_text="accept, reject or not-proved.")
    value = serializers.DecimalField(max_digits=18, decimal_places=6)
    value_si = serializers.DecimalField(max_digits=24, decimal_places=12)
    expanded_uncertainty = serializers.DecimalField(max_digits=18, decimal_places=6)
    coverage_factor = serializers.DecimalField(max_digits=4, decimal_places=2)
    degrees_of_freedom = serializers.DecimalField(max_digits=6, decimal_places=1, allow_null=True)
    decision_rule = serializers.CharField()
    guard_band = serializers.DecimalField(max_digits=18, decimal_places=6)
    lower = serializers.DecimalField(max_digits=18, decimal_places=6, allow_null=True)
    upper = serializers.DecimalField(max_digits=18, decimal_places=6, allow_null=True)
    limits_unit = serializers.CharField()
    room_to_limit = serializers.DecimalField(max_digits=18, decimal_places=6, allow_null=True)
    room_left = serializers.DecimalField(max_digits=18, decimal_places=6, allow_null=True)
    reasons = ReasonShape(many=True)
    results = ResultShape(many=True)
    budget = BudgetLineShape(many=True)
    rule = serializers.CharField()
    readings = ReadingsShape()
    unit = serializers.CharField()
    given = serializers.DictField(help_text="What the rule knew, defaults included.")
    questions = QuestionShape(many=True, help_text="Readings that look like another unit's.")


EXAMPLE = {
    "described_characteristic": {
        "name": "Clearance at the wear ring",
        "rule": "diametral-clearance",
        "readings": 2,
        "set_up": {"bore_material": "bronze", "shaft_material": "steel"},
        "unit": "mm",
        "lower": "0.43",
        "upper": "0.86",
    },
    "readings": {"bore": ["150.52", "150.53"], "shaft": ["150.01", "150.01"]},
    "unit": "mm",
    "given": {"bore_temperature_c": "23", "shaft_temperature_c": "23"},
    "described_instrument": {
        "unit": "mm",
        "range_from": "100",
        "range_to": "200",
        "resolution": "0.005",
        "expanded_uncertainty": "0.008",
    },
}


class JudgementsView(APIView):
    reads_only = True

    @describe(
        summary="Try a judgement: value, uncertainty, verdict and room left, without recording",
        tag="Measurements",
        request=JudgementIn,
        responses=JudgementShape,
        operation_id="judgements_try",
        description=(
            "The same answer that recording a measurement would give: of a characteristic of a job, or of one that is "
            "described with its limits; with a registered instrument, or one that is described. Questions are asked "
            "where recording would refuse until somebody looked again. Nothing is written."
        ),
        request_example=EXAMPLE,
    )
    def post(self, request: Request) -> Response:
        check_parameters(request, [])
        body = read_body(request, JudgementIn)
        found = tried_judgement(
            by=caller_of(request),
            today=timezone.now().date(),
            given=body.pop("given", {}),
            **body,
        )
        return Response(found)
