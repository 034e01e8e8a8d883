"""Saved mappings, and proposals for them."""

import uuid
from typing import Any

import django_filters
from drf_spectacular.utils import OpenApiParameter
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.api.filters import Filters, check_parameters
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.bulk_loads.api import TAG, AnyFileParser, media_type_of
from services.bulk_loads.mappings import change_mapping, load_kind, mappings, register_mapping, remove_mapping
from services.bulk_loads.models import ColumnMapping
from services.bulk_loads.proposing import propose
from services.bulk_loads.reading import XLSX, Reading
from services.identity.callers import caller_of

MOST_ENTRIES = 300


def _few(value: dict[str, Any]) -> None:
    if len(value) > MOST_ENTRIES:
        raise serializers.ValidationError(f"It has more than {MOST_ENTRIES} entries.", code="too-many")


def _texts(words: str, **more: Any) -> Any:
    child = serializers.CharField(max_length=200, **more)
    return serializers.DictField(child=child, required=False, validators=[_few], help_text=words)


class MappingRow(Rows):
    id = serializers.UUIDField()
    kind = serializers.CharField()
    name = serializers.CharField()
    columns = serializers.DictField(  # type: ignore[assignment]  # a declared field leaves the class's own method alone
        child=serializers.CharField(), help_text="Header of the file: our column."
    )
    constants = serializers.DictField(child=serializers.CharField(), help_text="Our column: text for every row.")
    translations = serializers.DictField(
        child=serializers.DictField(child=serializers.CharField()),
        help_text="Our column: {text of the file: our text}.",
    )
    units = serializers.DictField(child=serializers.CharField(), help_text="Our column: unit of its bare numbers.")
    decimal_mark = serializers.CharField(help_text="',' or '.'; empty: each number tells.")
    date_form = serializers.CharField(help_text="day-first or month-first; empty: each date tells.")
    sheet = serializers.CharField()
    ignore_others = serializers.BooleanField(help_text="Columns that are not named here are left aside.")
    version = serializers.IntegerField()


class MappingChange(Body):
    name = serializers.CharField(max_length=80, required=False)
    columns = _texts("Header of the file: our column.")
    constants = _texts("Our column: the text that every row gets, where the file has no such column.")
    translations = serializers.DictField(
        child=serializers.DictField(child=serializers.CharField(max_length=200), validators=[_few]),
        required=False,
        validators=[_few],
        help_text="Our column: {text of the file: our text}.",
    )
    units = _texts("Our column: the unit of its numbers where they name none, such as in or degF.")
    decimal_mark = serializers.ChoiceField(choices=ColumnMapping.DecimalMark.choices, required=False, allow_blank=True)
    date_form = serializers.ChoiceField(choices=ColumnMapping.DateForm.choices, required=False, allow_blank=True)
    sheet = serializers.CharField(max_length=31, required=False, allow_blank=True)
    ignore_others = serializers.BooleanField(required=False)


class MappingIn(MappingChange):
    id = serializers.UUIDField(required=False)
    kind = serializers.CharField(max_length=40)
    name = serializers.CharField(max_length=80)


class MappingFilters(Filters):
    kind = django_filters.CharFilter(help_text="The kind of file.")
    name = django_filters.CharFilter("name", "iexact", help_text="The name.")

    class Meta:
        model = ColumnMapping
        fields: list[str] = []


SENT = {
    "kind": "pumps",
    "name": "Plant register",
    "columns": {"Equipment": "external_id", "Position": "tag", "Ser. no.": "serial_number"},
    "constants": {"site": "heat-plant"},
    "translations": {"criticality": {"A": "vital", "B": "essential", "C": "desirable"}},
    "units": {"impeller_diameter_mm": "in"},
    "decimal_mark": ",",
    "date_form": "day-first",
    "sheet": "Pumps",
    "ignore_others": True,
}
EXAMPLE = {"id": "0199a0c4-0000-7000-8000-000000000072", **SENT, "version": 1}
PROPOSAL = {
    "kind": "pumps",
    "header_row": 1,
    "headers": [
        {
            "header": "Serial No",
            "column": "serial_number",
            "score": 0.857,
            "second_column": "seal_faces",
            "second_score": 0.421,
        }
    ],
    "missing": ["model"],
    "mapping": {"kind": "pumps", "columns": {"Serial No": "serial_number"}, "ignore_others": False},
}


def _mapping(pk: Any) -> dict[str, Any] | None:
    return MappingRow.select(mappings().filter(pk=pk)).first()


class MappingsView(ListView):
    rows = MappingRow
    filters = MappingFilters
    order = ("kind", "name", "id")

    def rows_for(self, request: Request) -> Any:
        return mappings()

    @describe(
        summary="List saved mappings",
        tag=TAG,
        responses=page_of(MappingRow),
        filters=MappingFilters,
        example={"results": [EXAMPLE], "next": None, "previous": None},
        operation_id="column_mappings_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Save a mapping under a name",
        tag=TAG,
        request=MappingIn,
        responses=MappingRow,
        status=201,
        example=EXAMPLE,
        request_example=SENT,
        description=(
            "How files of one origin are read into one kind: POST /bulk-loads?kind=…&mapping=name. A column of the "
            "file that is named neither here nor by the kind refuses the file, unless ignore_others is true."
        ),
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, MappingIn)

        def perform() -> Answer:
            made = register_mapping(by=caller_of(request), mapping_id=body.pop("id", None), **body)
            return created(_mapping(made.pk) or {}, f"/api/v1/column-mappings/{made.pk}")

        return answer_write(request, perform, key_required=True)


class MappingView(APIView):
    @describe(
        summary="One mapping",
        tag=TAG,
        responses=MappingRow,
        example=EXAMPLE,
        operation_id="column_mappings_read",
    )
    def get(self, request: Request, mapping: uuid.UUID) -> Response:
        return answer_one(request, _mapping(mapping), "The mapping")

    @describe(
        summary="Change a mapping",
        tag=TAG,
        request=MappingChange,
        responses=MappingRow,
        if_match=True,
        example=EXAMPLE | {"decimal_mark": ".", "version": 2},
        request_example={"decimal_mark": "."},
        description="Each field given replaces the one kept. Files handed in before keep what they came with.",
    )
    def patch(self, request: Request, mapping: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, MappingChange, partial=True)

        def perform() -> Answer:
            change_mapping(by=caller_of(request), mapping_id=mapping, expected_version=version, **body)
            return changed(_mapping(mapping) or {})

        return answer_write(request, perform)

    @describe(summary="Remove a mapping", tag=TAG, responses=None, status=204, if_match=True)
    def delete(self, request: Request, mapping: uuid.UUID) -> Response:
        version = expected_version(request)

        def perform() -> Answer:
            remove_mapping(by=caller_of(request), mapping_id=mapping, expected_version=version)
            return Answer(None, 204)

        return answer_write(request, perform)


class ProposedShape(serializers.Serializer[Any]):
    header = serializers.CharField()
    column = serializers.CharField(allow_null=True, help_text="Null: none of ours is likely.")
    score = serializers.FloatField(help_text="How alike the two are, from 0 to 1.")
    second_column = serializers.CharField(allow_null=True)
    second_score = serializers.FloatField()


class ProposalShape(serializers.Serializer[Any]):
    kind = serializers.CharField()
    header_row = serializers.IntegerField()
    headers = ProposedShape(many=True)
    missing = serializers.ListField(
        child=serializers.CharField(), help_text="Required columns that no header is likely to be."
    )
    mapping = serializers.DictField(help_text="A body for POST /column-mappings, but for its name.")


class ProposeView(APIView):
    parser_classes = [AnyFileParser]

    @describe(
        summary="Propose a mapping for a file",
        tag=TAG,
        request={"text/csv": str, XLSX: bytes, "application/x-ndjson": str, "application/json": dict},
        responses=ProposalShape,
        example=PROPOSAL,
        description=(
            "The body is the file or its head. Headers are compared with the columns of the kind by their names; "
            "nothing is saved. Look it over before saving it: POST /column-mappings."
        ),
        parameters=[
            OpenApiParameter("kind", str, required=True, description="GET /bulk-load-kinds lists them."),
            OpenApiParameter("sheet", str, description="Of a workbook; the first that holds anything if left out."),
        ],
    )
    def post(self, request: Request) -> Response:
        check_parameters(request, ["kind", "sheet"])
        kind = load_kind(request.query_params.get("kind", ""))
        content = request.data if isinstance(request.data, bytes) else b""
        sheet = request.query_params.get("sheet", "")
        found = propose(kind, content, media_type_of(request), Reading(sheet=sheet))
        others = any(one.column is None for one in found.headers)
        mapping: dict[str, Any] = {"kind": kind.name, "columns": found.columns(), "ignore_others": others}
        if sheet:
            mapping["sheet"] = sheet
        body = {
            "kind": kind.name,
            "header_row": found.row,
            "headers": found.headers,
            "missing": found.missing,
            "mapping": mapping,
        }
        return Response(ProposalShape(body).data)
