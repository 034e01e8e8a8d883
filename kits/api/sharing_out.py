"""Scarce stock shared out to the jobs that claim it, and the jobs that wait."""

import uuid
from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.queries.sharing_out import allocation_everywhere, allocation_of, waiting_jobs
from services.api.filters import check_parameters
from services.api.schema import describe
from services.identity.callers import caller_of

TAG = "Stock"
SITE = "0199a0c4-0000-7000-8000-000000000001"
ITEM = "0199a0c4-0000-7000-8000-0000000000bb"
ORDER = (
    "In the order of the pump's criticality (vital, essential, desirable, not known), then the day of need, then the "
    "job's number; each claim whole on the first day that those before it leave. Nothing is written or set aside."
)


class ShareShape(serializers.Serializer[Any]):
    job_number = serializers.CharField()
    criticality = serializers.CharField(allow_null=True, help_text="Of the pump; null where it is not known.")
    need_date = serializers.DateField()
    quantity = serializers.DecimalField(max_digits=14, decimal_places=3)
    on = serializers.DateField(allow_null=True, help_text="When it is served; null where nothing known would do.")
    waits = serializers.BooleanField()
    waits_days = serializers.IntegerField(allow_null=True, help_text="From its day, or from today where that is past.")
    waits_for = serializers.ListField(child=serializers.CharField(), help_text="The order or transfer.")
    behind = serializers.ListField(child=serializers.CharField(), help_text="Jobs served until then that come first.")
    why = serializers.CharField()


class SumsShape(serializers.Serializer[Any]):
    asked = serializers.DecimalField(max_digits=14, decimal_places=3)
    on_their_day = serializers.DecimalField(max_digits=14, decimal_places=3)
    on_their_day_at_most = serializers.DecimalField(
        max_digits=14, decimal_places=3, help_text="What could be served on its day if only the days counted."
    )
    words = serializers.CharField()


class SharedOutAnswer(SumsShape):
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    on = serializers.DateField()


class AllocationAnswer(SharedOutAnswer):
    item = serializers.UUIDField()
    item_number = serializers.CharField()
    item_revision = serializers.CharField()
    claims = ShareShape(many=True)


class SiteAllocationShape(SumsShape):
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    claims = ShareShape(many=True)


class AllocationEverywhereAnswer(SumsShape):
    item = serializers.UUIDField()
    item_number = serializers.CharField()
    item_revision = serializers.CharField()
    on = serializers.DateField()
    sites = SiteAllocationShape(many=True, help_text="Yours, where jobs claim it; stock is shared out site by site.")


class WaitingShape(ShareShape):
    item = serializers.UUIDField()
    item_number = serializers.CharField()
    item_revision = serializers.CharField()


class WaitingJobsAnswer(SharedOutAnswer):
    waiting = WaitingShape(many=True)


SHARE = {
    "job_number": "J-2026-00031",
    "criticality": "desirable",
    "need_date": "2026-03-09",
    "quantity": "1.000",
    "on": "2026-03-20",
    "waits": True,
    "waits_days": 11,
    "waits_for": ["PO-0007"],
    "behind": ["J-2026-00029"],
    "why": "On 2026-03-09 J-2026-00029 comes first. Served on 2026-03-20, with PO-0007.",
}
TOLD = {
    "asked": "2.000",
    "on_their_day": "1.000",
    "on_their_day_at_most": "1.000",
    "words": "Served on their day: 1 of 2.",
}
PLACE = {"site": SITE, "site_code": "heat-plant"}
SUMS = {**PLACE, "on": "2026-03-02", **TOLD}
NAMES = {"item": ITEM, "item_number": "K-40-FULL", "item_revision": "B"}


class AllocationView(APIView):
    @describe(
        summary="Who gets an item at a site, and who waits",
        tag=TAG,
        responses=AllocationAnswer,
        description=f"Claims without lots. {ORDER}",
        example={**SUMS, **NAMES, "claims": [SHARE]},
        operation_id="allocation_read",
    )
    def get(self, request: Request, site: uuid.UUID, item: uuid.UUID) -> Response:
        check_parameters(request, ())
        found = allocation_of(caller_of(request), site_id=site, item_id=item, on=timezone.now().date())
        return Response(AllocationAnswer(found).data)


class AllocationEverywhereView(APIView):
    @describe(
        summary="Who gets an item at each of your sites, and who waits",
        tag=TAG,
        responses=AllocationEverywhereAnswer,
        description=f"Claims without lots, site by site; a transfer between them is not thought of. {ORDER}",
        example={**NAMES, "on": "2026-03-02", "sites": [{**PLACE, **TOLD, "claims": [SHARE]}], **TOLD},
        operation_id="allocation_everywhere_read",
    )
    def get(self, request: Request, item: uuid.UUID) -> Response:
        check_parameters(request, ())
        found = allocation_everywhere(caller_of(request), item_id=item, on=timezone.now().date())
        return Response(AllocationEverywhereAnswer(found).data)


class WaitingJobsView(APIView):
    @describe(
        summary="Jobs of a site that wait for a kit or part",
        tag=TAG,
        responses=WaitingJobsAnswer,
        description=f"Claims that are not served on their day, over all items. {ORDER}",
        example={**SUMS, "waiting": [{**NAMES, **SHARE}]},
        operation_id="waiting_jobs_read",
    )
    def get(self, request: Request, site: uuid.UUID) -> Response:
        check_parameters(request, ())
        found = waiting_jobs(caller_of(request), site_id=site, on=timezone.now().date())
        return Response(WaitingJobsAnswer(found).data)
