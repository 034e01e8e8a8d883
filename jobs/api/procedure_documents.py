"""Procedures as documents: written out, checked without keeping, compared, and the schema of their form."""

import uuid
from collections.abc import Mapping
from typing import Any

import django_filters
from drf_spectacular.types import OpenApiTypes
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.procedure_bodies import DOCUMENT_EXAMPLE, CheckedProcedureIn, one_of_both
from jobs.api.procedures import TAG
from jobs.calculations.procedure_comparison import compare
from jobs.calculations.procedure_format import SCHEMA
from jobs.calculations.procedure_rows import document_from
from jobs.calculations.procedure_text import write_text
from jobs.calculations.pump_variables import PUMP_VARIABLES
from jobs.models import ProcedureRevision
from jobs.operations.procedure_soundness import judged, judged_text
from jobs.queries.procedures import head_of, revision_before, revision_for, step_rows
from services.api.filters import Filters, check_parameters, read_parameters
from services.api.rendering import JsonRenderer
from services.api.rows import read_body
from services.api.schema import describe
from services.api.versions import etag
from services.identity.callers import caller_of


class YamlRenderer(JsonRenderer):
    """A document as YAML text; a refusal is JSON."""

    media_type = "application/yaml"
    format = "yaml"

    def render(
        self, data: Any, accepted_media_type: str | None = None, renderer_context: Mapping[str, Any] | None = None
    ) -> bytes:
        answer = (renderer_context or {}).get("response")
        if answer is not None and answer.exception:
            return super().render(data, accepted_media_type, renderer_context)
        return write_text(data).encode()


class ProcedureDocument(serializers.Serializer[Any]):
    code = serializers.CharField()
    title = serializers.CharField()
    configuration = serializers.CharField()
    revision = serializers.IntegerField()
    prepared_by = serializers.CharField(required=False)
    scope_words = serializers.CharField(required=False)
    sections = serializers.ListField(child=serializers.DictField(), help_text="See GET procedure-schema.")


class ProcedureDocumentView(APIView):
    renderer_classes = [JsonRenderer, YamlRenderer]

    @describe(
        summary="A revision as a document, to be taken in again elsewhere",
        tag=TAG,
        responses=ProcedureDocument,
        operation_id="procedure_document_read",
        description="JSON, or YAML where Accept asks for application/yaml. Values that are as usual are left out.",
    )
    def get(self, request: Request, revision: uuid.UUID) -> Response:
        check_parameters(request, ())
        found = revision_for(caller_of(request), revision)
        headers = {"ETag": etag(found.version), "Cache-Control": "private, no-cache"}
        return Response(document_from(head_of(found), step_rows(found.pk)), headers=headers)


class ProcedureFindingShape(serializers.Serializer[Any]):
    severity = serializers.CharField(help_text="error or warning.")
    code = serializers.CharField()
    stops = serializers.CharField(help_text="draft: it cannot be kept so; review: not be handed in so; or empty.")
    pointer = serializers.CharField(help_text="JSON Pointer into the document.")
    line = serializers.IntegerField(allow_null=True, help_text="In the text, from 1.")
    column = serializers.IntegerField(allow_null=True)
    sentence = serializers.CharField(help_text="May go on with the expression and a caret under the place.")


class ProcedureFindings(serializers.Serializer[Any]):
    can_be_kept = serializers.BooleanField()
    can_be_reviewed = serializers.BooleanField()
    findings = ProcedureFindingShape(many=True)


class ProcedureFindingsView(APIView):
    @describe(
        summary="What is wrong or doubtful about a revision",
        tag=TAG,
        responses=ProcedureFindings,
        operation_id="procedure_findings_read",
    )
    def get(self, request: Request, revision: uuid.UUID) -> Response:
        check_parameters(request, ())
        found = revision_for(caller_of(request), revision)
        return Response(judged(document_from(head_of(found), step_rows(found.pk))))


class ProcedureChecksView(APIView):
    reads_only = True

    @describe(
        summary="Check a procedure without keeping it",
        tag=TAG,
        request=CheckedProcedureIn,
        responses=ProcedureFindings,
        operation_id="procedure_checks",
        request_example={"document": DOCUMENT_EXAMPLE},
        description="As YAML text or as a document. Everything found comes at once, each with its place.",
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, CheckedProcedureIn)
        one_of_both(body)
        return Response(judged_text(body["text"]) if "text" in body else judged(body["document"]))


class ChangedField(serializers.Serializer[Any]):
    field = serializers.CharField()
    before = serializers.JSONField(allow_null=True)
    after = serializers.JSONField(allow_null=True)
    words = serializers.ListField(
        child=serializers.DictField(child=serializers.CharField()),
        required=False,
        help_text="Of texts: runs of words, each same, removed or added.",
    )


class NamedStep(serializers.Serializer[Any]):
    number = serializers.IntegerField()
    section = serializers.CharField()
    title = serializers.CharField()


class MovedStep(NamedStep):
    before_number = serializers.IntegerField()
    before_section = serializers.CharField()


class ChangedCharacteristic(serializers.Serializer[Any]):
    code = serializers.CharField()
    fields = ChangedField(many=True)  # type: ignore[assignment]


class ChangedStep(NamedStep):
    before_number = serializers.IntegerField()
    fields = ChangedField(many=True)  # type: ignore[assignment]
    characteristics_added = serializers.ListField(child=serializers.CharField(), required=False)
    characteristics_removed = serializers.ListField(child=serializers.CharField(), required=False)
    characteristics_changed = ChangedCharacteristic(many=True, required=False)


class ProcedureComparison(serializers.Serializer[Any]):
    before = serializers.UUIDField(allow_null=True, help_text="null: there was none, everything is added.")
    after = serializers.UUIDField()
    fields = ChangedField(many=True)  # type: ignore[assignment]
    added = NamedStep(many=True)
    removed = NamedStep(many=True)
    moved = MovedStep(many=True)
    changed = ChangedStep(many=True)
    unchanged = serializers.IntegerField(help_text="Steps that are the same, moved ones included.")


class ComparisonParameters(Filters):
    before = django_filters.UUIDFilter(help_text="The revision to hold it against; the one before it if left out.")

    class Meta:
        model = ProcedureRevision
        fields: list[str] = []


class ProcedureComparisonView(APIView):
    @describe(
        summary="What is new in a revision",
        tag=TAG,
        responses=ProcedureComparison,
        filters=ComparisonParameters,
        operation_id="procedure_comparison_read",
        description="Steps are paired by what they say: one that was renumbered or moved is still that step.",
    )
    def get(self, request: Request, revision: uuid.UUID) -> Response:
        asked = read_parameters(request, ComparisonParameters)
        caller = caller_of(request)
        after = revision_for(caller, revision)
        before = revision_for(caller, asked["before"]) if asked["before"] else revision_before(caller, after)
        found = compare(
            head_of(before or after),
            step_rows(before.pk) if before else [],
            head_of(after),
            step_rows(after.pk),
        )
        return Response({"before": before.pk if before else None, "after": after.pk, **found})


class ProcedureSchemaView(APIView):
    @describe(
        summary="The form of procedures as JSON Schema, draft 2020-12",
        tag=TAG,
        responses=OpenApiTypes.OBJECT,
        operation_id="procedure_schema_read",
    )
    def get(self, request: Request) -> Response:
        check_parameters(request, ())
        return Response(SCHEMA, headers={"Cache-Control": "private, max-age=3600"})


class ProcedureVariableShape(serializers.Serializer[Any]):
    name = serializers.CharField()
    short_name = serializers.CharField(help_text="Without the unit; may be written instead.")
    unit = serializers.CharField(help_text="Empty where it holds words.")
    words = serializers.CharField(help_text="What it is.")
    values = serializers.ListField(child=serializers.CharField(), help_text="Words it is known to hold.")
    closed = serializers.BooleanField(help_text="There are no other words than these.")
    several = serializers.BooleanField(help_text="It holds several words; one that matches is enough.")


class ProcedureVariables(serializers.Serializer[Any]):
    results = ProcedureVariableShape(many=True)


class ProcedureVariablesView(APIView):
    @describe(
        summary="What conditions and limits may ask of a pump and its kit",
        tag=TAG,
        responses=ProcedureVariables,
        operation_id="procedure_variables_list",
    )
    def get(self, request: Request) -> Response:
        check_parameters(request, ())
        rows = [
            {
                "name": one.name,
                "short_name": one.short,
                "unit": one.unit,
                "words": one.words,
                "values": list(one.values),
                "closed": one.closed,
                "several": one.several,
            }
            for one in PUMP_VARIABLES.values()
        ]
        return Response({"results": rows})
