"""What to count when, how often a site counts, and what was found missing between counts."""

import datetime
import uuid
from typing import Any

import django_filters
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.models import StockDiscrepancy
from kits.operations.count_settings import change_count_settings, report_discrepancy
from kits.queries.count_plan import count_plan, discrepancies, settings_for
from services.api.filters import Filters, read_parameters
from services.api.refusals import Malformed
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of

TAG = "Stock counts"
USUAL_DAYS = 28
FURTHEST = 366
SITE = "0199a0c4-0000-7000-8000-000000000001"
ITEM = "0199a0c4-0000-7000-8000-0000000000bb"


# ``class`` is a word of Python, so this field is declared by name.
_PlannedFields: dict[str, Any] = {
    "item": serializers.UUIDField(),
    "number": serializers.CharField(),
    "revision": serializers.CharField(),
    "name": serializers.CharField(),
    "class": serializers.CharField(help_text="A, B or C."),
    "class_because": serializers.CharField(),
    "last_counted_on": serializers.DateField(allow_null=True),
    "due_on": serializers.DateField(),
    "planned_on": serializers.DateField(help_text="The working day on which it fits."),
    "reasons": serializers.ListField(child=serializers.CharField()),
}
PlannedShape = type("PlannedShape", (serializers.Serializer,), _PlannedFields)


class CountPlanAnswer(serializers.Serializer[Any]):
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    on = serializers.DateField()
    until = serializers.DateField()
    items = serializers.DictField(child=serializers.IntegerField(), help_text="How many of each class lie here.")
    counts_a_year = serializers.DictField(child=serializers.IntegerField(), help_text="By class.")
    counts_a_day = serializers.IntegerField(help_text="An even share of the year's counts on each working day.")
    planned = PlannedShape(many=True)


class CountPlanParameters(Filters):
    until = django_filters.DateFilter("until", help_text="The last day; four weeks from today if left out.")

    class Meta:
        fields: list[str] = []


class CountPlanView(APIView):
    @describe(
        summary="What a site should count, on which working day and why",
        tag=TAG,
        responses=CountPlanAnswer,
        filters=CountPlanParameters,
        description=(
            "By class and last count, spread evenly over working days; at once where the balance hit zero or less was "
            "found than the book says. Classes go by the value used in a year; what is vital is never below B."
        ),
        example={
            "site": SITE,
            "site_code": "heat-plant",
            "on": "2026-03-02",
            "until": "2026-03-30",
            "items": {"A": 8, "B": 12, "C": 40},
            "counts_a_year": {"A": 96, "B": 48, "C": 40},
            "counts_a_day": 1,
            "planned": [
                {
                    "item": ITEM,
                    "number": "K-40-FULL",
                    "revision": "B",
                    "name": "Full overhaul kit",
                    "class": "A",
                    "class_because": "0% of the value used in a year stands before it",
                    "last_counted_on": "2026-01-30",
                    "due_on": "2026-03-01",
                    "planned_on": "2026-03-02",
                    "reasons": ["class A is counted 12 times a year; last on 2026-01-30"],
                }
            ],
        },
        operation_id="count_plan_read",
    )
    def get(self, request: Request, site: uuid.UUID) -> Response:
        asked, now = read_parameters(request, CountPlanParameters), timezone.now()
        until = asked.get("until") or now.date() + datetime.timedelta(days=USUAL_DAYS)
        if not 0 <= (until - now.date()).days <= FURTHEST:
            raise Malformed(
                f"until is {until}.", remedy="Give a day from today on, at most a year ahead.", pointer="?until"
            )
        plan = count_plan(caller_of(request), site, now=now, until=until)
        return Response(CountPlanAnswer(plan).data, headers={"Cache-Control": "private, no-cache"})


class CountSettingsRow(serializers.Serializer[Any]):
    site = serializers.UUIDField()
    a_times_a_year = serializers.IntegerField()
    b_times_a_year = serializers.IntegerField()
    c_times_a_year = serializers.IntegerField()
    value_limit = serializers.DecimalField(
        max_digits=14, decimal_places=4, help_text="Differences worth more need a second person; 0: every difference."
    )
    currency = serializers.CharField()
    version = serializers.IntegerField()


class CountSettingsChange(Body):
    a_times_a_year = serializers.IntegerField(min_value=1, max_value=250, required=False)
    b_times_a_year = serializers.IntegerField(min_value=1, max_value=250, required=False)
    c_times_a_year = serializers.IntegerField(min_value=1, max_value=250, required=False)
    value_limit = serializers.DecimalField(max_digits=14, decimal_places=4, min_value=0, required=False)
    currency = serializers.RegexField("^[A-Z]{3}$", required=False, help_text="ISO 4217.")


def _settings(by: Caller, site: uuid.UUID) -> dict[str, Any]:
    return dict(CountSettingsRow(settings_for(by, site)).data)


class CountSettingsView(APIView):
    @describe(
        summary="How often a site counts, and when a second person is needed",
        tag=TAG,
        responses=CountSettingsRow,
        operation_id="count_settings_read",
    )
    def get(self, request: Request, site: uuid.UUID) -> Response:
        return answer_one(request, _settings(caller_of(request), site))

    @describe(
        summary="Change how a site counts",
        tag=TAG,
        request=CountSettingsChange,
        responses=CountSettingsRow,
        if_match=True,
        description="For supervisors and administrators: who counts does not choose when a second person is needed.",
        request_example={"a_times_a_year": 6, "value_limit": "250", "currency": "EUR"},
        operation_id="count_settings_change",
    )
    def patch(self, request: Request, site: uuid.UUID) -> Response:
        body, version = read_body(request, CountSettingsChange), expected_version(request)

        def perform() -> Answer:
            change_count_settings(by=caller_of(request), site_id=site, expected_version=version, changes=body)
            return changed(_settings(caller_of(request), site))

        return answer_write(request, perform)


class DiscrepancyRow(Rows):
    id = serializers.UUIDField()
    site = serializers.UUIDField()
    site_code = serializers.CharField(source="site.code")
    item = serializers.UUIDField()
    item_number = serializers.CharField(source="item.number")
    item_revision = serializers.CharField(source="item.revision")
    lot_number = serializers.CharField(source="lot.number", allow_null=True)
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3, help_text="What was not there.")
    occurred_at = serializers.DateTimeField()
    reason = serializers.CharField()
    by_name = serializers.CharField(source="by.name")
    count = serializers.UUIDField(source="settled_by.id", allow_null=True, help_text="The count that answered it.")
    count_number = serializers.CharField(source="settled_by.number", allow_null=True)
    version = serializers.IntegerField()


class DiscrepancyFilters(Filters):
    site = django_filters.UUIDFilter("site_id", help_text="The site's id.")
    item = django_filters.UUIDFilter("item_id", help_text="The item's id.")
    open = django_filters.BooleanFilter("settled_by", "isnull", help_text="Only what no count has answered yet.")

    class Meta:
        model = StockDiscrepancy
        fields: list[str] = []


class DiscrepancyIn(Body):
    site = serializers.UUIDField()
    item = serializers.UUIDField()
    lot = serializers.CharField(max_length=60, required=False)
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3, help_text="What was not there.")
    occurred_at = serializers.DateTimeField(required=False)
    reason = serializers.CharField(max_length=300)


class DiscrepanciesView(ListView):
    rows = DiscrepancyRow
    filters = DiscrepancyFilters
    order = ("-id",)

    def rows_for(self, request: Request) -> Any:
        return discrepancies(by=caller_of(request))

    @describe(
        summary="List what was found missing, the newest first",
        tag=TAG,
        responses=page_of(DiscrepancyRow),
        filters=DiscrepancyFilters,
        operation_id="stock_discrepancies_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Report that less lies on the shelf than the book says",
        tag=TAG,
        request=DiscrepancyIn,
        responses=DiscrepancyRow,
        status=201,
        description="Nothing is posted: the item is to be counted at once, and that count answers it.",
        request_example={"site": SITE, "item": ITEM, "quantity": "1", "reason": "the bin was empty"},
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, DiscrepancyIn)

        def perform() -> Answer:
            by = caller_of(request)
            made = report_discrepancy(
                by=by,
                site_id=body["site"],
                item_id=body["item"],
                quantity=body["quantity"],
                reason=body["reason"],
                lot=body.get("lot", ""),
                occurred_at=body.get("occurred_at"),
            )
            row = DiscrepancyRow.select(discrepancies(by=by).filter(pk=made.pk)).first()
            return created(row or {}, f"/api/v1/stock-discrepancies?item={made.item_id}")

        return answer_write(request, perform, key_required=True)
