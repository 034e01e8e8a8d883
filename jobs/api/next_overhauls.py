"""When pumps should be overhauled next, and which reason decides."""

import uuid
from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.trends import PRIVATE, PUMP, SITE, NoTrendParameters
from jobs.queries.next_overhauls import pump_advice, site_advice
from services.api.filters import read_parameters
from services.api.schema import describe
from services.identity.callers import caller_of

TAG = "Next overhauls"
HOW = (
    "The earliest of the calendar, running hours, wear and risk; all four are shown with their day and reason, or why "
    "they give none. Wear is that of what is measured at steps that touch a position. Intervals and accepted chances "
    "are those of GET /overhaul-intervals. Advice replaces neither a look at the pump nor the judgement of who knows "
    "it."
)


class OverhaulCandidateShape(serializers.Serializer[Any]):
    kind = serializers.CharField(help_text="calendar, hours, wear or risk.")
    day = serializers.DateField(allow_null=True)
    characteristic = serializers.CharField(allow_blank=True, help_text="What wears, for wear.")
    words = serializers.CharField()
    decides = serializers.BooleanField()


class UsedIntervalShape(serializers.Serializer[Any]):
    months = serializers.IntegerField(allow_null=True)
    running_hours = serializers.IntegerField(allow_null=True)
    accepted_chance = serializers.FloatField()
    months_ahead = serializers.IntegerField()
    of_model = serializers.CharField(allow_blank=True, help_text="Empty where it is that of the criticality.")
    source = serializers.CharField()  # type: ignore[assignment]


class NextOverhaulShape(serializers.Serializer[Any]):
    pump = serializers.UUIDField()
    tag = serializers.CharField()
    pump_model_code = serializers.CharField()
    criticality = serializers.CharField()
    state = serializers.CharField()
    age_hours = serializers.FloatField(allow_null=True, help_text="Run since its last overhaul, or since new.")
    hours_a_day = serializers.FloatField(help_text="0 where it is not in service.")
    hours_known = serializers.BooleanField()
    day = serializers.DateField(allow_null=True, help_text="Null where nothing tells.")
    decided_by = serializers.CharField(allow_blank=True)
    overdue = serializers.BooleanField()
    planned_on = serializers.DateField(allow_null=True, help_text="The first job that is planned for it.")
    planned_job = serializers.CharField(allow_blank=True)
    candidates = OverhaulCandidateShape(many=True)
    interval = UsedIntervalShape(allow_null=True)
    words = serializers.CharField()


class SiteNextOverhaulsAnswer(serializers.Serializer[Any]):
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    as_of = serializers.DateField()
    pumps = NextOverhaulShape(many=True)


CANDIDATES = [
    {
        "kind": "calendar", "day": "2027-09-01", "characteristic": "",
        "words": "36 months after its last overhaul on 2024-09-01: 2027-09-01.", "decides": False,
    },
    {
        "kind": "hours", "day": "2027-02-15", "characteristic": "",
        "words": "9000 h of 16000 h are run, 20.0 h a day: 2027-02-15.", "decides": True,
    },
]  # fmt: skip
ROW = {
    "pump": PUMP, "tag": "P-117", "pump_model_code": "NB-40-200", "criticality": "vital", "state": "in-service",
    "age_hours": 9000.0, "hours_a_day": 20.0, "hours_known": True, "day": "2027-02-15", "decided_by": "hours",
    "overdue": False, "planned_on": None, "planned_job": "", "candidates": CANDIDATES,
    "interval": {
        "months": 36, "running_hours": 16000, "accepted_chance": 0.1, "months_ahead": 6, "of_model": "",
        "source": "common practice, no source",
    },
    "words": "Next overhaul by 2027-02-15, for running hours: 9000 h of 16000 h are run ...",
}  # fmt: skip


class PumpNextOverhaulView(APIView):
    @describe(
        summary="When a pump should be overhauled next, and why",
        tag=TAG,
        responses=NextOverhaulShape,
        filters=NoTrendParameters,
        description=HOW,
        example=ROW,
        operation_id="pump_next_overhaul_read",
    )
    def get(self, request: Request, pump: uuid.UUID) -> Response:
        read_parameters(request, NoTrendParameters)
        found = pump_advice(by=caller_of(request), pump_id=pump, today=timezone.now().date())
        return Response(found, headers=PRIVATE)


class SiteNextOverhaulsView(APIView):
    @describe(
        summary="When the pumps of a site should be overhauled next, the earliest first",
        tag=TAG,
        responses=SiteNextOverhaulsAnswer,
        filters=NoTrendParameters,
        description=HOW,
        example={"site": SITE, "site_code": "heat-plant", "as_of": "2026-03-02", "pumps": [ROW]},
        operation_id="site_next_overhauls_read",
    )
    def get(self, request: Request, site: uuid.UUID) -> Response:
        read_parameters(request, NoTrendParameters)
        found = site_advice(by=caller_of(request), site_id=site, today=timezone.now().date())
        return Response(found, headers=PRIVATE)
