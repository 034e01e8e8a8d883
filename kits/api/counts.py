"""Stock counts: sheets, what was counted, review and posting."""

import uuid
from collections.abc import Callable
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.api.cure_dates import CureDateField
from kits.models import Condition, Count
from kits.operations.count_entries import Counted, enter_counted
from kits.operations.count_posting import post_count
from kits.operations.counts import cancel_count, make_count, send_back_count, submit_count
from kits.queries.counts import count_lines, counts, totals
from services.api.filters import Filters, TextInFilter
from services.api.refusals import NotThere
from services.api.rows import Body, NothingIn, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import etag, expected_version
from services.api.views import ListView
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of

TAG = "Stock counts"
MOST_ENTRIES = 2000


class CountRow(Rows):
    id = serializers.UUIDField()
    number = serializers.CharField()
    site = serializers.UUIDField()
    site_code = serializers.CharField(source="site.code")
    state = serializers.CharField(help_text="open, counted, posted or cancelled.")
    blind = serializers.BooleanField(help_text="Who counts is not shown what the book says.")
    round = serializers.IntegerField(help_text="Above 1 where lines are to be counted again.")
    line_count = serializers.IntegerField()
    counted_lines = serializers.IntegerField()
    made_by_name = serializers.CharField(source="made_by.name")
    created_at = serializers.DateTimeField()
    submitted_by_name = serializers.CharField(source="submitted_by.name", allow_null=True)
    submitted_at = serializers.DateTimeField(allow_null=True)
    decided_by_name = serializers.CharField(source="decided_by.name", allow_null=True)
    decided_at = serializers.DateTimeField(allow_null=True)
    decision_reason = serializers.CharField()
    version = serializers.IntegerField()


def _figure(words: str, places: int = 3) -> serializers.DecimalField:
    return serializers.DecimalField(max_digits=18, decimal_places=places, allow_null=True, help_text=words)


class CountLineShape(serializers.Serializer[Any]):
    line = serializers.IntegerField()
    bin = serializers.UUIDField()
    bin_code = serializers.CharField()
    item = serializers.UUIDField()
    item_number = serializers.CharField()
    item_revision = serializers.CharField()
    item_name = serializers.CharField()
    unit = serializers.CharField()
    lot = serializers.UUIDField(allow_null=True, help_text="Null for a lot that was found and nobody knew.")
    lot_number = serializers.CharField()
    condition = serializers.CharField(help_text="usable or quarantined.")
    found = serializers.BooleanField(help_text="It was not on the sheet when that was made.")
    state = serializers.CharField(help_text="to-count, counted, or recount: another person counts it again.")
    recount_reason = serializers.CharField()
    not_by_name = serializers.CharField(allow_null=True, help_text="Who counted it before and may not count it again.")
    quantity = _figure("What was counted; null where it is to be counted.")
    counted_at = serializers.DateTimeField(allow_null=True)
    counted_by_name = serializers.CharField(allow_null=True)
    book = _figure("What the ledger says for when it was counted; null where you may not see it yet.")
    difference = _figure("Counted less book.")
    value = _figure("The difference at the item's cost; null where that is not known.", 4)
    currency = serializers.CharField()


class TotalShape(serializers.Serializer[Any]):
    currency = serializers.CharField()
    found = serializers.DecimalField(max_digits=18, decimal_places=4)
    missing = serializers.DecimalField(max_digits=18, decimal_places=4)
    together = serializers.DecimalField(max_digits=18, decimal_places=4)


class CountSheet(CountRow):
    computed = ("lines", "totals")
    lines = CountLineShape(many=True)
    totals = TotalShape(many=True, help_text="What the differences are worth, as far as you may see them.")


class CountFilters(Filters):
    site = django_filters.UUIDFilter("site_id", help_text="The site's id.")
    number = django_filters.CharFilter(help_text="The sheet's number.")
    state = django_filters.CharFilter(help_text="One state.")
    state__in = TextInFilter("state", help_text="Several states, separated by commas.")

    class Meta:
        model = Count
        fields: list[str] = []


class CountIn(Body):
    id = serializers.UUIDField(required=False, help_text="A UUID made by the client.")
    site = serializers.UUIDField()
    items = serializers.ListField(
        child=serializers.UUIDField(), required=False, max_length=2000, help_text="Only these items."
    )
    bins = serializers.ListField(
        child=serializers.CharField(max_length=40),
        required=False,
        max_length=500,
        help_text="Only these, by code.",
    )
    planned_until = serializers.DateField(required=False, help_text="Only what the plan wants counted up to this day.")
    blind = serializers.BooleanField(required=False, help_text="true if left out.")


class CountedIn(Body):
    line = serializers.IntegerField(required=False, help_text="A line of the sheet; else bin, item and lot.")
    bin = serializers.CharField(max_length=40, required=False, help_text="Where it was found; else the default bin.")
    item = serializers.UUIDField(required=False, help_text="What was found and is not on the sheet.")
    lot = serializers.CharField(max_length=60, required=False)
    condition = serializers.ChoiceField(choices=Condition.choices, required=False, help_text="usable if left out.")
    cure_date = CureDateField(required=False)
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3, min_value=0)
    counted_at = serializers.DateTimeField(required=False, help_text="When it was really counted; now if left out.")


class CountEntriesIn(Body):
    entries = CountedIn(many=True)

    def validate_entries(self, value: Any) -> Any:
        if not 1 <= len(value) <= MOST_ENTRIES:
            raise serializers.ValidationError(f"Give 1 to {MOST_ENTRIES} entries.", code="wrong-number")
        return value


class SendBackIn(Body):
    lines = serializers.ListField(child=serializers.IntegerField(), min_length=1, max_length=2000)
    reason = serializers.CharField(max_length=300)


class PostCountIn(Body):
    reason = serializers.CharField(max_length=300, required=False, help_text="What was found out about differences.")


class CancelCountIn(Body):
    reason = serializers.CharField(max_length=300)


def count_sheet(by: Caller, count_id: Any) -> dict[str, Any] | None:
    """A sheet with its lines as the caller may see them. At most three queries."""
    found = CountRow.select(counts(by=by).filter(pk=count_id)).first()
    if found is None:
        return None
    rows = count_lines(by, found)
    return {**found, "lines": CountLineShape(rows, many=True).data, "totals": TotalShape(totals(rows), many=True).data}


class CountsView(ListView):
    rows = CountRow
    filters = CountFilters
    order = ("-id",)

    def rows_for(self, request: Request) -> Any:
        return counts(by=caller_of(request))

    @describe(
        summary="List stock counts, the newest first",
        tag=TAG,
        responses=page_of(CountRow),
        filters=CountFilters,
        operation_id="counts_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Make a count sheet",
        tag=TAG,
        request=CountIn,
        responses=CountSheet,
        status=201,
        description=(
            "Of everything that lies at the site, or of some items, some bins, or what the plan wants counted. A lot "
            "in a bin stands on one live sheet at a time; what stands on another one already is left out."
        ),
        request_example={"site": "0199a0c4-0000-7000-8000-000000000001", "bins": ["A-01", "A-02"]},
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, CountIn)

        def perform() -> Answer:
            made = make_count(
                by=caller_of(request),
                site_id=body["site"],
                item_ids=body.get("items"),
                bins=body.get("bins"),
                planned_until=body.get("planned_until"),
                blind=body.get("blind", True),
                id=body.get("id"),
            )
            return created(count_sheet(caller_of(request), made.pk) or {}, f"/api/v1/counts/{made.pk}")

        return answer_write(request, perform, key_required=True)


class CountView(APIView):
    @describe(
        summary="One count sheet with its lines, in the order of the shelves",
        tag=TAG,
        responses=CountSheet,
        description=(
            "On a blind sheet book, difference and value are null while it is being counted; once it is handed in, "
            "stores and administrators see them. They are worked out as you read, since movements that are recorded "
            "late belong to them: the answer is never 304."
        ),
        operation_id="counts_read",
    )
    def get(self, request: Request, count: uuid.UUID) -> Response:
        sheet = count_sheet(caller_of(request), count)
        if sheet is None:
            raise NotThere("The count is not here.", remedy="Check the id, or ask for a role at its site.")
        return Response(sheet, headers={"ETag": etag(sheet["version"]), "Cache-Control": "private, no-store"})


class CountEntriesView(APIView):
    @describe(
        summary="Enter what was counted",
        tag=TAG,
        request=CountEntriesIn,
        responses=CountSheet,
        description=(
            "Line by line or all at once. A line that was entered may be corrected until the sheet is handed in. What "
            "was found and is not on the sheet gets a line of its own; a lot that is new is made when it is posted."
        ),
        request_example={
            "entries": [
                {"line": 1, "quantity": "3", "counted_at": "2026-03-02T09:14:00Z"},
                {"bin": "A-02", "item": "0199a0c4-0000-7000-8000-0000000000bb", "lot": "L-2207", "quantity": "1"},
            ]
        },
    )
    def post(self, request: Request, count: uuid.UUID) -> Response:
        body = read_body(request, CountEntriesIn)
        entries = [
            Counted(
                quantity=one["quantity"],
                counted_at=one.get("counted_at"),
                line=one.get("line"),
                bin=one.get("bin", ""),
                item_id=one.get("item"),
                lot=one.get("lot", ""),
                condition=one.get("condition", Condition.USABLE),
                cure_date=one.get("cure_date"),
            )
            for one in body["entries"]
        ]

        def perform() -> Answer:
            enter_counted(by=caller_of(request), count_id=count, entries=entries)
            return changed(count_sheet(caller_of(request), count) or {})

        return answer_write(request, perform, key_required=True)


def _act(request: Request, count: uuid.UUID, do: Callable[[int], Any], *, key_required: bool = False) -> Response:
    version = expected_version(request)

    def perform() -> Answer:
        do(version)
        return changed(count_sheet(caller_of(request), count) or {})

    return answer_write(request, perform, key_required=key_required)


class SubmitCountView(APIView):
    @describe(
        summary="Hand a count sheet in",
        tag=TAG,
        request=NothingIn,
        responses=CountSheet,
        if_match=True,
        description=(
            "Every line is counted. The sheet is counted then and waits for review; where the first count of a line "
            "differs by more than the site's limit it stays open instead, and another person counts that line again."
        ),
    )
    def post(self, request: Request, count: uuid.UUID) -> Response:
        read_body(request, NothingIn)
        return _act(
            request,
            count,
            lambda version: submit_count(by=caller_of(request), count_id=count, expected_version=version),
        )


class SendBackCountView(APIView):
    @describe(
        summary="Have lines of a sheet counted again",
        tag=TAG,
        request=SendBackIn,
        responses=CountSheet,
        if_match=True,
        request_example={"lines": [3], "reason": "a box stands behind the shelf"},
    )
    def post(self, request: Request, count: uuid.UUID) -> Response:
        body = read_body(request, SendBackIn)
        return _act(
            request,
            count,
            lambda version: send_back_count(
                by=caller_of(request),
                count_id=count,
                expected_version=version,
                lines=body["lines"],
                reason=body["reason"],
            ),
        )


class PostCountView(APIView):
    @describe(
        summary="Post a reviewed count",
        tag=TAG,
        request=PostCountIn,
        responses=CountSheet,
        if_match=True,
        description=(
            "One count adjustment a line that differs, as of when it was counted; what moved since stays as it is. "
            "Reserved lots that are gone are reserved elsewhere or released. Whoever counted a line does not post a "
            "difference of it above the site's limit."
        ),
    )
    def post(self, request: Request, count: uuid.UUID) -> Response:
        body = read_body(request, PostCountIn)
        return _act(
            request,
            count,
            lambda version: post_count(
                by=caller_of(request), count_id=count, expected_version=version, reason=body.get("reason", "")
            ),
            key_required=True,
        )


class CancelCountView(APIView):
    @describe(
        summary="Cancel a count",
        tag=TAG,
        request=CancelCountIn,
        responses=CountSheet,
        if_match=True,
        description="Nothing is posted; what was entered is kept.",
        request_example={"reason": "the store is being rebuilt"},
    )
    def post(self, request: Request, count: uuid.UUID) -> Response:
        body = read_body(request, CancelCountIn)
        return _act(
            request,
            count,
            lambda version: cancel_count(
                by=caller_of(request), count_id=count, expected_version=version, reason=body["reason"]
            ),
        )
