"""How long a material keeps in store from its cure date."""

from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.calculations.storage_life import CureUnreadable, parse_cure
from kits.queries.materials import storage_life_of
from services.api.filters import Filters, read_parameters
from services.api.refusals import Malformed
from services.api.schema import describe
from services.identity.callers import caller_of


class LifeBySourceShape(serializers.Serializer[Any]):
    group = serializers.CharField()
    initial_years = serializers.IntegerField()
    extension_years = serializers.IntegerField()
    initial_end = serializers.DateField()
    extension_end = serializers.DateField()
    source = serializers.CharField()  # type: ignore[assignment]
    counts = serializers.BooleanField()
    chosen_because = serializers.CharField()


class StorageLifeAnswer(serializers.Serializer[Any]):
    material = serializers.CharField()
    cure_date = serializers.DateField(help_text="A quarter counts as its last day.")
    result = serializers.CharField(help_text="known or not-known.")
    group = serializers.CharField(allow_null=True)
    initial_end = serializers.DateField(allow_null=True, help_text="The last day of the initial period.")
    extension_end = serializers.DateField(allow_null=True, help_text="The last day after the one extension.")
    source = serializers.CharField()  # type: ignore[assignment]
    on = serializers.DateField(allow_null=True)
    state = serializers.CharField(allow_null=True, help_text="On that day: in-date, inspect or past.")
    sentences = serializers.ListField(child=serializers.CharField())
    by_source = LifeBySourceShape(many=True, help_text="The one that counts first.")


class StorageLifeParameters(Filters):
    material = django_filters.CharFilter(required=True, help_text="An ISO 1629 code.")
    cure_date = django_filters.CharFilter(required=True, help_text="As on the pack: 2025-08-14 or 3Q2025.")
    on = django_filters.DateFilter(help_text="Also say how it stands on this day.")


class StorageLifeView(APIView):
    @describe(
        summary="How long a material keeps",
        tag="Materials",
        responses=StorageLifeAnswer,
        filters=StorageLifeParameters,
        operation_id="storage_life_read",
        description="After ISO 2230, counted from cure. What a lot was given when it came is not changed by this.",
    )
    def get(self, request: Request) -> Response:
        asked = read_parameters(request, StorageLifeParameters)
        try:
            cured = parse_cure(asked["cure_date"])
        except CureUnreadable as error:
            raise Malformed(str(error), remedy="Write it as on the pack.", pointer="?cure_date") from error
        material = asked["material"].strip().upper()
        return Response(storage_life_of(by=caller_of(request), material=material, cured=cured, on=asked["on"]))
