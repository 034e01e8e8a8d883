"""Handing files in, and reading what became of their rows."""

import uuid
from collections.abc import Mapping
from typing import Any, get_args

import django_filters
from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiParameter
from rest_framework import serializers
from rest_framework.parsers import BaseParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.api.filters import Filters, check_parameters
from services.api.loading import Outcome, known_loads
from services.api.refusals import Malformed, NotThere
from services.api.rows import Rows
from services.api.schema import describe, page_of
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write
from services.bulk_loads.models import BulkLoad, BulkLoadRow
from services.bulk_loads.operations import LARGEST, take_file
from services.bulk_loads.reading import XLSX
from services.identity.callers import Caller, caller_of
from services.work.models import BackgroundRun

TAG = "Bulk loads"


class AnyFileParser(BaseParser):
    """The body as it came; what it is, is told by its Content-Type."""

    media_type = "*/*"

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Mapping[str, Any] | None = None) -> Any:
        # One byte more than is taken tells that it is too large, without holding all of it.
        return bytes(stream.read(LARGEST + 1))


class BulkLoadOut(Rows):
    id = serializers.UUIDField()
    kind = serializers.CharField()
    name = serializers.CharField()
    media_type = serializers.CharField()
    dry_run = serializers.BooleanField()
    whole_or_nothing = serializers.BooleanField()
    mapping = serializers.CharField(help_text="The name of the mapping it was read with; empty without one.")
    notes = serializers.ListField(
        child=serializers.CharField(), help_text="What was noted of the file as a whole, such as its encoding."
    )
    run = serializers.UUIDField(source="run_id", help_text="GET /background-runs/{id} tells how far it is.")
    state = serializers.CharField(source="run.state", help_text="queued, running, done, failed or cancelled.")
    result = serializers.DictField(source="run.result", help_text="The counts; of a failed load the problem.")
    created_rows = serializers.IntegerField()
    changed_rows = serializers.IntegerField()
    unchanged_rows = serializers.IntegerField()
    refused_rows = serializers.IntegerField()
    noted_rows = serializers.IntegerField()
    created_at = serializers.DateTimeField()
    version = serializers.IntegerField()


class RowNoteShape(serializers.Serializer[Any]):
    column = serializers.CharField()
    value = serializers.CharField()
    detail = serializers.CharField()


class RowProblemShape(RowNoteShape):
    remedy = serializers.CharField()


class BulkLoadRowOut(Rows):
    row = serializers.IntegerField(help_text="As numbered in the file; a CSV's header is row 1.")
    key = serializers.CharField()
    outcome = serializers.CharField(help_text="created, changed, unchanged or refused.")
    notes = RowNoteShape(many=True, help_text="What was mended, or is worth knowing; the row was taken.")
    problems = RowProblemShape(many=True, help_text="Why it was refused.")


LOAD_EXAMPLE = {
    "id": "0199a0c4-0000-7000-8000-000000000070",
    "kind": "pumps",
    "name": "pumps.csv",
    "media_type": "text/csv",
    "dry_run": False,
    "whole_or_nothing": False,
    "mapping": "",
    "notes": ["'External ID' was read as the column external_id."],
    "run": "0199a0c4-0000-7000-8000-000000000071",
    "state": "done",
    "result": {
        "bulk_load": "0199a0c4-0000-7000-8000-000000000070",
        "created": 115,
        "changed": 0,
        "unchanged": 0,
        "refused": 3,
        "noted": 7,
    },
    "created_rows": 115,
    "changed_rows": 0,
    "unchanged_rows": 0,
    "refused_rows": 3,
    "noted_rows": 7,
    "created_at": "2026-03-02T06:00:00Z",
}
NOTHING_YET = dict.fromkeys(("created_rows", "changed_rows", "unchanged_rows", "refused_rows", "noted_rows"), 0)
ROW_EXAMPLE = {
    "row": 17,
    "key": "P-1016",
    "outcome": "refused",
    "notes": [],
    "problems": [
        {
            "column": "impeller_diameter_mm",
            "value": "approx. 208",
            "detail": "It is no number.",
            "remedy": "Write a number such as 12.5, in mm.",
        }
    ],
}
KIND_EXAMPLE = {
    "name": "makers",
    "accepts": "rows",
    "help": "Makers of pumps and parts.",
    "columns": [
        {"name": "code", "type": "text", "is_required": True, "choices": [], "help": "", "unit": ""},
        {"name": "name", "type": "text", "is_required": True, "choices": [], "help": "", "unit": ""},
    ],
}


class BulkLoadFilters(Filters):
    kind = django_filters.CharFilter(help_text="The kind of file.")
    state = django_filters.ChoiceFilter(
        "run__state",
        choices=BackgroundRun.State.choices,
        help_text="queued, running, done, failed or cancelled.",
    )

    class Meta:
        model = BulkLoad
        fields: list[str] = []


class BulkLoadRowFilters(Filters):
    outcome = django_filters.ChoiceFilter(
        choices=[(one, one) for one in get_args(Outcome)], help_text="created, changed, unchanged or refused."
    )
    noted = django_filters.BooleanFilter("notes", method="filter_noted", help_text="Only rows with notes.")

    class Meta:
        model = BulkLoadRow
        fields: list[str] = []

    def filter_noted(self, queryset: QuerySet[Any], name: str, value: bool) -> QuerySet[Any]:
        return queryset.exclude(notes=[]) if value else queryset.filter(notes=[])


def own_loads(by: Caller) -> QuerySet[BulkLoad]:
    """Files that the caller handed in."""
    return BulkLoad.objects.filter(run__requested_by_id=by.id)


class BulkLoadsView(ListView):
    rows = BulkLoadOut
    filters = BulkLoadFilters
    order = ("-id",)
    parser_classes = [AnyFileParser]

    def rows_for(self, request: Request) -> Any:
        return own_loads(caller_of(request))

    @describe(
        summary="List the files you handed in",
        tag=TAG,
        responses=page_of(BulkLoadOut),
        filters=BulkLoadFilters,
        example={"results": [LOAD_EXAMPLE], "next": None, "previous": None},
        operation_id="bulk_loads_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Hand a file in",
        tag=TAG,
        request={
            "text/csv": str,
            XLSX: bytes,
            "application/x-ndjson": str,
            "application/json": dict,
            "application/yaml": str,
        },
        example=LOAD_EXAMPLE | NOTHING_YET | {"state": "queued", "result": {}},
        responses=BulkLoadOut,
        status=202,
        description=(
            "The body is the file. It is loaded by a worker; GET /bulk-loads/{id} tells how it went and "
            "/bulk-loads/{id}/rows what became of each row. Rows that are there already are left alone, so a file "
            "may be sent again. A file whose columns are not those of its kind is refused as a whole; so is one of "
            "more than 50 MB (documents: 1 MB). What a file means in one way only is mended and noted: encodings, "
            "decimal commas, units, a spreadsheet's dates and noise; what could mean two things is refused with the "
            "row, the column and the remedy, or read after a mapping."
        ),
        parameters=[
            OpenApiParameter("kind", str, required=True, description="GET /bulk-load-kinds lists them."),
            OpenApiParameter("name", str, description="A name to find it by, such as the file's."),
            OpenApiParameter("dry_run", bool, description="Report only; nothing stays."),
            OpenApiParameter("whole_or_nothing", bool, description="One refused row undoes all."),
            OpenApiParameter("mapping", str, description="The name of a saved mapping; GET /column-mappings."),
            OpenApiParameter("sheet", str, description="Of a workbook; the first that holds anything if left out."),
        ],
    )
    def post(self, request: Request) -> Response:
        check_parameters(request, ["kind", "name", "dry_run", "whole_or_nothing", "mapping", "sheet"])
        content = request.data if isinstance(request.data, bytes) else b""

        def perform() -> Answer:
            made = take_file(
                by=caller_of(request),
                kind=request.query_params.get("kind", ""),
                content=content,
                media_type=media_type_of(request),
                name=request.query_params.get("name", ""),
                dry_run=_flag(request, "dry_run"),
                whole_or_nothing=_flag(request, "whole_or_nothing"),
                mapping=request.query_params.get("mapping", "")[:80],
                sheet=request.query_params.get("sheet", ""),
            )
            row = BulkLoadOut.select(own_loads(caller_of(request)).filter(pk=made.pk)).get()
            return Answer(row, 202, {"Location": f"/api/v1/bulk-loads/{made.pk}"})

        return answer_write(request, perform, key_required=True)


def media_type_of(request: Request) -> str:
    """What the body says it is, without parameters."""
    return (request.content_type or "").partition(";")[0].strip().lower()


def _flag(request: Request, name: str) -> bool:
    text = request.query_params.get(name, "false")
    if text not in {"true", "false"}:
        raise Malformed(
            f"{name}={text[:20]!r} is neither true nor false.", remedy="Use true or false.", pointer=f"?{name}"
        )
    return text == "true"


class BulkLoadView(APIView):
    @describe(
        summary="One file that was handed in",
        tag=TAG,
        responses=BulkLoadOut,
        example=LOAD_EXAMPLE,
        operation_id="bulk_loads_read",
    )
    def get(self, request: Request, load: uuid.UUID) -> Response:
        row = BulkLoadOut.select(own_loads(caller_of(request)).filter(pk=load)).first()
        if row is not None:
            row.pop("version")
        return answer_one(request, row, "The file")


class BulkLoadRowsView(ListView):
    rows = BulkLoadRowOut
    filters = BulkLoadRowFilters
    order = ("row",)

    def rows_for(self, request: Request) -> Any:
        if not own_loads(caller_of(request)).filter(pk=self.kwargs["load"]).exists():
            raise NotThere("The file is not here.", remedy="Check the id; you see the files you handed in.")
        return BulkLoadRow.objects.filter(bulk_load_id=self.kwargs["load"])

    @describe(
        summary="What became of each row",
        tag=TAG,
        responses=page_of(BulkLoadRowOut),
        filters=BulkLoadRowFilters,
        example={"results": [ROW_EXAMPLE], "next": None, "previous": None},
        operation_id="bulk_load_rows_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


class ColumnShape(serializers.Serializer[Any]):
    name = serializers.CharField()
    type = serializers.CharField()
    is_required = serializers.BooleanField(source="required")
    choices = serializers.ListField(child=serializers.CharField())
    help = serializers.CharField()
    unit = serializers.CharField(help_text="Of its numbers; cells that name another unit are converted.")


class LoadKindShape(serializers.Serializer[Any]):
    name = serializers.CharField()
    accepts = serializers.CharField(help_text="rows or document.")
    help = serializers.CharField()
    columns = ColumnShape(many=True)


class LoadKindsAnswer(serializers.Serializer[Any]):
    results = LoadKindShape(many=True)


class BulkLoadKindsView(APIView):
    @describe(
        summary="Kinds of files, with their columns",
        tag=TAG,
        responses=LoadKindsAnswer,
        example={"results": [KIND_EXAMPLE]},
    )
    def get(self, request: Request) -> Response:
        check_parameters(request, [])
        kinds = sorted(known_loads().values(), key=lambda one: one.name)
        return Response(LoadKindsAnswer({"results": kinds}).data)
