"""The pumps that a kit is for: which they are, and how much hangs on it at each site."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.api.described_fits import SITE_EXAMPLE, SiteDependenceShape
from kits.queries.fit_of_kit import dependence_on_kit, pumps_of_kit
from kits.queries.kits import kit_for
from services.api.filters import Filters, check_parameters
from services.api.rows import Rows
from services.api.schema import describe, page_of
from services.api.views import ListView
from services.identity.callers import caller_of

CRITICALITIES = [(one, one) for one in ("vital", "essential", "desirable")]
VERDICTS = [(one, one) for one in ("fits", "fits-with-notes", "incomplete", "unsuitable")]


class KitPumpRow(Rows):
    id = serializers.UUIDField(help_text="The pump.")
    tag = serializers.CharField()
    serial_number = serializers.CharField()
    site = serializers.UUIDField(source="site_id")
    site_code = serializers.CharField(source="site.code")
    pump_model = serializers.UUIDField(source="pump_model_id")
    model_code = serializers.CharField(source="pump_model.code")
    criticality = serializers.CharField()
    state = serializers.CharField()
    verdict = serializers.CharField(source="fit.verdict")
    matched = serializers.IntegerField(source="fit.matched", help_text="Mandatory positions that the kit serves.")
    asked = serializers.IntegerField(source="fit.asked", help_text="Mandatory positions in the kit's scope.")
    declared = serializers.BooleanField(source="fit.declared", help_text="The maker says the kit is for it.")
    another_fits = serializers.BooleanField(help_text="Some other released kit of the scope fits it too.")


class KitPumpFilters(Filters):
    site = django_filters.UUIDFilter("site_id", help_text="The site.")
    criticality = django_filters.ChoiceFilter(choices=CRITICALITIES, help_text="vital, essential or desirable.")
    verdict = django_filters.ChoiceFilter(
        "fit__verdict", choices=VERDICTS, help_text="fits, fits-with-notes, incomplete or unsuitable."
    )
    another_fits = django_filters.BooleanFilter(help_text="false: only pumps that no other kit of the scope fits.")

    class Meta:
        fields: list[str] = []


PUMP_EXAMPLE = {
    "id": "0199a0c4-0000-7000-8000-0000000000aa",
    "tag": "P-117",
    "serial_number": "NB2019-0417",
    "site": "0199a0c4-0000-7000-8000-000000000001",
    "site_code": "heat-plant",
    "pump_model": "0199a0c4-0000-7000-8000-0000000000ab",
    "model_code": "NB-40",
    "criticality": "vital",
    "state": "in-service",
    "verdict": "fits",
    "matched": 8,
    "asked": 8,
    "declared": True,
    "another_fits": False,
}


class KitPumpsView(ListView):
    rows = KitPumpRow
    filters = KitPumpFilters
    order = ("tag", "id")

    def rows_for(self, request: Request) -> Any:
        kit = kit_for(self.kwargs["kit"])
        return pumps_of_kit(by=caller_of(request), kit_id=kit.pk)

    @describe(
        summary="Installed pumps that a kit serves",
        tag="Fit",
        responses=page_of(KitPumpRow),
        filters=KitPumpFilters,
        description="At your sites, withdrawn pumps left out; each with the kit's stored verdict.",
        example={"results": [PUMP_EXAMPLE], "next": None, "previous": None},
        operation_id="kit_pumps_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


class DependenceAnswer(serializers.Serializer[Any]):
    kit = serializers.UUIDField()
    pending = serializers.BooleanField(help_text="Something changed; the counts may change in a moment.")
    sites = SiteDependenceShape(many=True)


class KitDependenceView(APIView):
    @describe(
        summary="What depends on a kit, site by site",
        tag="Fit",
        responses=DependenceAnswer,
        description=(
            "Installed pumps at your sites by criticality and verdict, and how many of them no other released kit of "
            "the same scope fits."
        ),
        example={"kit": "0199a0c4-0000-7000-8000-0000000000bb", "pending": False, "sites": [SITE_EXAMPLE]},
        operation_id="kit_dependence_read",
    )
    def get(self, request: Request, kit: uuid.UUID) -> Response:
        check_parameters(request, [])
        found = dependence_on_kit(by=caller_of(request), kit_id=kit_for(kit).pk)
        return Response(found, headers={"Cache-Control": "private, no-cache"})
