"""Labels: making, replacing, making void, and putting them on sheets as PDF."""

import datetime
import uuid
from typing import Any, ClassVar

import django_filters
from django.conf import settings
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.calculations.label_codes import CodeUnreadable, grouped, label_address, read_code
from jobs.calculations.label_pdf import PrintedLabel, sheet_pdf
from jobs.calculations.label_sheets import FORMATS, MOST_LABELS
from jobs.models import Label, LabelKind
from jobs.operations.label_sheets import put_on_sheet
from jobs.operations.labels import make_labels, replace_label, void_label
from jobs.queries.labels import Thing, labels
from jobs.refusals import CodeNotRead
from services.api.filters import Filters, TextInFilter
from services.api.refusals import InvalidValue
from services.api.rendering import JsonRenderer
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of

TAG = "Labels"
KINDS = "kit, lot, pump or bin."


class LabelRow(Rows):
    computed: ClassVar[tuple[str, ...]] = ("printed_code", "uri")
    id = serializers.UUIDField()
    code = serializers.CharField()
    printed_code = serializers.CharField(help_text="As it stands beneath the symbol.")
    uri = serializers.CharField(help_text="What the symbol holds.")
    kind = serializers.CharField(help_text=KINDS)
    thing = serializers.UUIDField(help_text="The id of the kit, lot, pump or bin.")
    number = serializers.CharField(help_text="Of the kit or lot; the pump's tag; the bin's code.")
    site = serializers.UUIDField(allow_null=True, help_text="Of a pump or bin.")
    site_code = serializers.CharField(allow_null=True)
    state = serializers.CharField(help_text="active, replaced or void.")
    reason = serializers.CharField(help_text="Why it was replaced or made void.")
    replaced_by = serializers.UUIDField(allow_null=True)
    replaced_by_code = serializers.CharField(source="next_code", allow_null=True)
    printed_at = serializers.DateTimeField(allow_null=True)
    created_at = serializers.DateTimeField()
    version = serializers.IntegerField()


class LabelMade(LabelRow):
    computed = ("printed_code", "uri", "is_new")
    is_new = serializers.BooleanField(help_text="Made by this request; else it was there already.")


class LabelsMade(serializers.Serializer[Any]):
    labels = LabelMade(many=True)


class ThingIn(Body):
    kind = serializers.ChoiceField(choices=LabelKind.values)
    id = serializers.UUIDField()


class LabelsIn(Body):
    things = serializers.ListField(child=ThingIn(), min_length=1, max_length=MOST_LABELS)


class LabelReasonIn(Body):
    reason = serializers.CharField(max_length=300)


class LabelSheetIn(Body):
    labels = serializers.ListField(
        child=serializers.UUIDField(), required=False, max_length=MOST_LABELS, help_text="Ids of active labels."
    )
    things = serializers.ListField(
        child=ThingIn(),
        required=False,
        max_length=MOST_LABELS,
        help_text="Labels are made where there is none; set after the labels named.",
    )
    format = serializers.ChoiceField(
        choices=list(FORMATS), help_text="; ".join(f"{one.name}: {one.words}" for one in FORMATS.values()) + "."
    )
    start_at = serializers.IntegerField(
        required=False, default=1, min_value=1, help_text="The first cell to use, row by row, on a sheet begun before."
    )
    copies = serializers.IntegerField(required=False, default=1, min_value=1, max_value=MOST_LABELS)


class LabelFilters(Filters):
    kind = django_filters.CharFilter(help_text=KINDS)
    state = django_filters.CharFilter(help_text="active, replaced or void.")
    state__in = TextInFilter("state", help_text="Several states, separated by commas.")
    code = django_filters.CharFilter(method="with_code", help_text="The code as printed, typed or scanned.")
    kit = django_filters.UUIDFilter("kit_id", help_text="The kit's id.")
    lot = django_filters.UUIDFilter("lot_id", help_text="The lot's id.")
    pump = django_filters.UUIDFilter("pump_id", help_text="The pump's id.")
    bin = django_filters.UUIDFilter("bin_id", help_text="The bin's id.")
    site = django_filters.UUIDFilter("site", help_text="The site of pumps and bins.")
    printed = django_filters.BooleanFilter(
        "printed_at", "isnull", exclude=True, help_text="Only labels that were put on a sheet, or only the others."
    )

    class Meta:
        model = Label
        fields: list[str] = []

    def with_code(self, queryset: Any, name: str, value: str) -> Any:
        return queryset.filter(code=code_of(value, f"?{name}"))


def code_of(text: str, pointer: str | None = None) -> str:
    """The code in what was scanned or typed. Raises `InvalidValue`."""
    try:
        return read_code(text)
    except CodeUnreadable as error:
        raise CodeNotRead(
            str(error), remedy="Scan it again, or type the ten characters beneath the symbol.", pointer=pointer
        ) from error


def _complete(row: dict[str, Any]) -> dict[str, Any]:
    if "code" in row:
        row["printed_code"] = grouped(row["code"])
        row["uri"] = label_address(settings.PUBLIC_ADDRESS, row["code"])
    return row


def _label(by: Caller, label: uuid.UUID) -> dict[str, Any] | None:
    row = LabelRow.select(labels(by=by).filter(pk=label)).first()
    return None if row is None else _complete(row)


def _things(body: dict[str, Any]) -> list[Thing]:
    return [Thing(one["kind"], one["id"]) for one in body.get("things", [])]


class LabelsView(ListView):
    rows = LabelRow
    filters = LabelFilters
    order = ("id",)

    def rows_for(self, request: Request) -> Any:
        return labels(by=caller_of(request))

    def shape(self, page: list[dict[str, Any]], request: Request) -> None:
        for row in page:
            _complete(row)

    @describe(
        summary="List labels", tag=TAG, responses=page_of(LabelRow), filters=LabelFilters, operation_id="labels_list"
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Make labels, or find those that are there",
        tag=TAG,
        request=LabelsIn,
        responses=LabelsMade,
        description=(
            "The active label of each kit, lot, pump or bin, in their order. A thing has one active label: asking "
            "again gives the same code."
        ),
        request_example={"things": [{"kind": "pump", "id": "0199a0c4-0000-7000-8000-0000000000aa"}]},
    )
    def post(self, request: Request) -> Response:
        things = _things(read_body(request, LabelsIn))

        def perform() -> Answer:
            by = caller_of(request)
            ids, new = make_labels(by=by, things=things)
            rows = {row["id"]: _complete(row) for row in LabelRow.select(labels(by=by).filter(pk__in=ids))}
            return Answer({"labels": [rows[pk] | {"is_new": pk in new} for pk in ids]})

        return answer_write(request, perform)


class LabelView(APIView):
    @describe(summary="One label", tag=TAG, responses=LabelRow, operation_id="labels_read")
    def get(self, request: Request, label: uuid.UUID) -> Response:
        return answer_one(request, _label(caller_of(request), label), "The label")


class ReplaceLabelView(APIView):
    @describe(
        summary="Replace a label that was damaged or lost",
        tag=TAG,
        request=LabelReasonIn,
        responses=LabelRow,
        status=201,
        if_match=True,
        description="Answers the new label. The old code still leads on, and says that it was replaced.",
        request_example={"reason": "torn off"},
    )
    def post(self, request: Request, label: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, LabelReasonIn)

        def perform() -> Answer:
            by = caller_of(request)
            made = replace_label(by=by, label_id=label, expected_version=version, reason=body["reason"])
            return created(_label(by, made.pk) or {}, f"/api/v1/labels/{made.pk}")

        return answer_write(request, perform)


class VoidLabelView(APIView):
    @describe(
        summary="Make a label void",
        tag=TAG,
        request=LabelReasonIn,
        responses=LabelRow,
        if_match=True,
        description="For a label that stands on the wrong thing: its code leads nowhere any more.",
        request_example={"reason": "stuck on the wrong pump"},
    )
    def post(self, request: Request, label: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, LabelReasonIn)

        def perform() -> Answer:
            by = caller_of(request)
            void_label(by=by, label_id=label, expected_version=version, reason=body["reason"])
            return changed(_label(by, label) or {})

        return answer_write(request, perform)


class PdfRenderer(JsonRenderer):
    """PDF bytes as they are; a refusal is JSON."""

    media_type = "application/pdf"
    format = "pdf"


class LabelSheetsView(APIView):
    renderer_classes = [PdfRenderer]

    @describe(
        summary="Set labels on sheets as PDF",
        tag=TAG,
        request=LabelSheetIn,
        responses=OpenApiTypes.BINARY,
        description=(
            "Each label has a QR symbol that holds its address, the code beneath it, and what it is. At most "
            f"{MOST_LABELS} labels, copies included. Print at full size: no scaling to the page."
        ),
        request_example={
            "things": [{"kind": "lot", "id": "0199a0c4-0000-7000-8000-0000000000cc"}],
            "format": "a4-70x37",
            "start_at": 4,
        },
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, LabelSheetIn)
        if not body.get("labels") and not body.get("things"):
            raise InvalidValue("Nothing is named to be printed.", remedy="Name labels, or things.", pointer="#/labels")

        def perform() -> Answer:
            return Answer(
                put_on_sheet(
                    by=caller_of(request),
                    label_ids=body.get("labels", []),
                    things=_things(body),
                    sheet=body["format"],
                    start_at=body["start_at"],
                    copies=body["copies"],
                    printed_at=timezone.now(),
                )
            )

        # What is kept for a repeat is what stands on the sheet; the same words give the same PDF.
        kept = answer_write(request, perform)
        pdf = _set(kept.data)
        headers = {name: value for name, value in kept.headers.items() if name == "Idempotency-Replayed"}
        headers["Content-Disposition"] = 'inline; filename="labels.pdf"'
        return Response(pdf, headers=headers, content_type="application/pdf")


def _set(content: dict[str, Any]) -> bytes:
    return sheet_pdf(
        [
            PrintedLabel(
                address=one["address"],
                code=one["code"],
                kind=one["kind"],
                heading=one["heading"],
                strong=one["strong"],
                lines=tuple(one["lines"]),
            )
            for one in content["labels"]
        ],
        FORMATS[content["format"]],
        printed_at=datetime.datetime.fromisoformat(content["printed_at"]),
        start_at=content["start_at"],
    )
