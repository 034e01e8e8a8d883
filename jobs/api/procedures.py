"""Procedures and their revisions: lists, drafts and what stands in them."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.procedure_bodies import (
    DOCUMENT_EXAMPLE,
    ContentChange,
    CopyIn,
    DraftIn,
    content_of,
)
from jobs.models import Procedure, ProcedureRevision
from jobs.operations.procedures import change_draft, copy_revision, draft_revision
from jobs.queries.procedures import procedures, revisions, steps_of
from services.api.filters import Filters
from services.api.rows import Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import caller_of

TAG = "Procedures"
STATES = "draft, in-review, reviewed, published, superseded or withdrawn."


class ProcedureRow(Rows):
    id = serializers.UUIDField()
    code = serializers.CharField()
    title = serializers.CharField()
    configuration = serializers.CharField()
    scope_words = serializers.CharField()
    version = serializers.IntegerField()


class ProcedureFilters(Filters):
    code = django_filters.CharFilter(help_text="The procedure's code.")
    configuration = django_filters.CharFilter(help_text="close-coupled, long-coupled-back-pull-out, in-line …")

    class Meta:
        model = Procedure
        fields: list[str] = []


class ProceduresView(ListView):
    rows = ProcedureRow
    filters = ProcedureFilters
    order = ("code", "id")

    def rows_for(self, request: Request) -> Any:
        return procedures(by=caller_of(request))

    @describe(
        summary="List procedures",
        tag=TAG,
        responses=page_of(ProcedureRow),
        filters=ProcedureFilters,
        operation_id="procedures_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


class ProcedureRevisionRow(Rows):
    id = serializers.UUIDField()
    procedure = serializers.UUIDField(source="procedure_id")
    procedure_code = serializers.CharField(source="procedure.code")
    title = serializers.CharField()
    configuration = serializers.CharField(source="procedure.configuration")
    revision = serializers.IntegerField()
    state = serializers.CharField(help_text=STATES)
    prepared_by = serializers.CharField()
    content_hash = serializers.CharField()
    submitted_at = serializers.DateTimeField(allow_null=True)
    submitted_by = serializers.CharField(source="submitted_by.name", allow_null=True)
    reviewed_at = serializers.DateTimeField(allow_null=True)
    reviewed_by = serializers.CharField(source="reviewed_by.name", allow_null=True)
    published_at = serializers.DateTimeField(allow_null=True)
    published_by = serializers.CharField(source="published_by.name", allow_null=True)
    version = serializers.IntegerField()


class CharacteristicShape(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    code = serializers.CharField()
    name = serializers.CharField()
    quantity = serializers.CharField()
    unit = serializers.CharField()
    readings = serializers.IntegerField()
    rule = serializers.CharField()
    limits = serializers.DictField()
    set_up = serializers.DictField(help_text="What the rule knows besides readings.")
    instrument_type = serializers.CharField()
    second_instrument_type = serializers.CharField(help_text="Empty where one instrument does.")
    decision_rule = serializers.CharField()


class ConsumableShape(serializers.Serializer[Any]):
    name = serializers.CharField()
    kind = serializers.CharField(help_text="lubricant, cleaner, sealant, adhesive, cloth, protection or other.")
    note = serializers.CharField(help_text="Where or how it is used; may be empty.")


class WantedPhotoShape(serializers.Serializer[Any]):
    shows = serializers.CharField(help_text="What must be seen on it.")
    needed = serializers.BooleanField()


class StepShape(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    number = serializers.IntegerField()
    section = serializers.CharField()
    title = serializers.CharField()
    instruction = serializers.CharField()
    signal_word = serializers.CharField(help_text="danger, warning, caution, notice, or empty.")
    caution = serializers.CharField(help_text="Always shown with the step; never collapsed.")
    achieves = serializers.ListField(child=serializers.CharField(), help_text="What other steps rely on.")
    tools = serializers.ListField(child=serializers.CharField())
    consumables = ConsumableShape(many=True)
    positions = serializers.ListField(child=serializers.CharField())
    conditions = serializers.ListField(child=serializers.JSONField(), help_text="Expressions, or mappings with of.")
    hold_point = serializers.BooleanField()
    look_at = serializers.CharField(help_text="What the second person looks at at a hold point.")
    photos = WantedPhotoShape(many=True)
    computes = serializers.DictField(allow_null=True)
    characteristics = CharacteristicShape(many=True)


class ProcedureRevisionDetail(ProcedureRevisionRow):
    computed = ("steps",)
    scope_words = serializers.CharField()
    steps = StepShape(many=True)


class ProcedureRevisionFilters(Filters):
    procedure_code = django_filters.CharFilter("procedure__code", help_text="The procedure's code.")
    configuration = django_filters.CharFilter("procedure__configuration", help_text="The pumps it is for.")
    state = django_filters.CharFilter(help_text=STATES)

    class Meta:
        model = ProcedureRevision
        fields: list[str] = []


class ProcedureRevisionsView(ListView):
    rows = ProcedureRevisionRow
    filters = ProcedureRevisionFilters
    order = ("procedure__code", "-revision", "id")

    def rows_for(self, request: Request) -> Any:
        return revisions(by=caller_of(request))

    @describe(
        summary="List revisions of procedures",
        tag=TAG,
        responses=page_of(ProcedureRevisionRow),
        filters=ProcedureRevisionFilters,
        operation_id="procedure_revisions_list",
        description="Revisions that are or were published; for authors also those being written or reviewed.",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Write a draft",
        tag=TAG,
        request=DraftIn,
        responses=ProcedureRevisionDetail,
        status=201,
        request_example={"document": DOCUMENT_EXAMPLE},
        operation_id="procedure_revisions_create",
        description=(
            "A whole procedure as YAML text or as a document, see GET procedure-schema. The code and revision in it "
            "say what it is: a draft that exists gets the new content, the same content again changes nothing. What "
            "is wrong is named with its pointer and, in a text, its line."
        ),
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, DraftIn)
        document, read = content_of(body)

        def perform() -> Answer:
            made, written = draft_revision(
                by=caller_of(request), document=document, read=read, revision_id=body.get("id")
            )
            row = revision_row(request, made) or {}
            return created(row, f"/api/v1/procedure-revisions/{made}") if written else changed(row)

        return answer_write(request, perform)


def revision_row(request: Request, revision: uuid.UUID) -> dict[str, Any] | None:
    """A revision with its steps, as far as the caller may see it."""
    found = ProcedureRevisionDetail.select(revisions(by=caller_of(request)).filter(pk=revision)).first()
    return None if found is None else {**found, "steps": steps_of(revision)}


class ProcedureRevisionView(APIView):
    @describe(
        summary="A revision with its steps, cautions and characteristics",
        tag=TAG,
        responses=ProcedureRevisionDetail,
        operation_id="procedure_revisions_read",
    )
    def get(self, request: Request, revision: uuid.UUID) -> Response:
        return answer_one(request, revision_row(request, revision), "The revision")

    @describe(
        summary="Give a draft other content",
        tag=TAG,
        request=ContentChange,
        responses=ProcedureRevisionDetail,
        if_match=True,
        request_example={"document": {"title": "Overhaul of an in-line pump"}},
        operation_id="procedure_revisions_change",
        description=(
            "text replaces the content whole; document is a merge patch of the content: what it leaves out stays, "
            "null takes a field out, lists such as sections are replaced whole. Code and revision stay."
        ),
    )
    def patch(self, request: Request, revision: uuid.UUID) -> Response:
        version = expected_version(request)
        document, read = content_of(read_body(request, ContentChange))

        def perform() -> Answer:
            change_draft(
                by=caller_of(request), revision_id=revision, expected_version=version, document=document, read=read
            )
            return changed(revision_row(request, revision) or {})

        return answer_write(request, perform)


class CopyRevisionView(APIView):
    @describe(
        summary="Begin a new draft as a copy",
        tag=TAG,
        request=CopyIn,
        responses=ProcedureRevisionDetail,
        status=201,
        request_example={"revision": 4},
        operation_id="procedure_revisions_copy",
        description="Of any revision one sees; its number is the next one where none is given.",
    )
    def post(self, request: Request, revision: uuid.UUID) -> Response:
        body = read_body(request, CopyIn)

        def perform() -> Answer:
            made = copy_revision(
                by=caller_of(request), revision_id=revision, number=body.get("revision"), copy_id=body.get("id")
            )
            return created(revision_row(request, made) or {}, f"/api/v1/procedure-revisions/{made}")

        return answer_write(request, perform)
