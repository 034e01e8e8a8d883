"""Procedures and their revisions."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.models import Procedure, ProcedureRevision
from jobs.operations.procedures import publish, withdraw
from jobs.queries.procedures import procedures, revisions, steps_of
from services.api.filters import Filters
from services.api.rows import Rows
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import answer_write, changed
from services.identity.callers import caller_of

TAG = "Procedures"


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
    title = serializers.CharField(source="procedure.title")
    configuration = serializers.CharField(source="procedure.configuration")
    revision = serializers.IntegerField()
    state = serializers.CharField()
    prepared_by = serializers.CharField()
    content_hash = serializers.CharField()
    published_at = serializers.DateTimeField(allow_null=True)
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


class StepShape(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    number = serializers.IntegerField()
    section = serializers.CharField()
    title = serializers.CharField()
    instruction = serializers.CharField()
    signal_word = serializers.CharField(help_text="danger, warning, caution, notice, or empty.")
    caution = serializers.CharField(help_text="Always shown with the step; never collapsed.")
    tools = serializers.ListField(child=serializers.CharField())
    consumables = serializers.ListField(child=serializers.CharField())
    positions = serializers.ListField(child=serializers.CharField())
    conditions = serializers.ListField(child=serializers.DictField())
    hold_point = serializers.BooleanField()
    computes = serializers.DictField(allow_null=True)
    characteristics = CharacteristicShape(many=True)


class ProcedureRevisionDetail(ProcedureRevisionRow):
    computed = ("steps",)
    steps = StepShape(many=True)


class ProcedureRevisionFilters(Filters):
    procedure_code = django_filters.CharFilter("procedure__code", help_text="The procedure's code.")
    configuration = django_filters.CharFilter("procedure__configuration", help_text="The pumps it is for.")
    state = django_filters.CharFilter(help_text="draft, published or withdrawn.")

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
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


def _revision_row(request: Request, revision: uuid.UUID) -> dict[str, Any] | None:
    found = ProcedureRevisionRow.select(revisions(by=caller_of(request)).filter(pk=revision)).first()
    return None if found is None else {**found, "steps": steps_of(revision)}


class ProcedureRevisionView(APIView):
    @describe(
        summary="A revision with its steps, cautions and characteristics",
        tag=TAG,
        responses=ProcedureRevisionDetail,
        operation_id="procedure_revisions_read",
    )
    def get(self, request: Request, revision: uuid.UUID) -> Response:
        return answer_one(request, _revision_row(request, revision), "The revision")


class PublishView(APIView):
    @describe(
        summary="Publish a draft revision",
        tag=TAG,
        responses=ProcedureRevisionDetail,
        if_match=True,
        description="The revision published so far is withdrawn; running jobs stay on theirs.",
    )
    def post(self, request: Request, revision: uuid.UUID) -> Response:
        version = expected_version(request)

        def perform() -> Any:
            publish(by=caller_of(request), revision_id=revision, expected_version=version)
            return changed(_revision_row(request, revision) or {})

        return answer_write(request, perform)


class WithdrawView(APIView):
    @describe(summary="Withdraw a published revision", tag=TAG, responses=ProcedureRevisionDetail, if_match=True)
    def post(self, request: Request, revision: uuid.UUID) -> Response:
        version = expected_version(request)

        def perform() -> Any:
            withdraw(by=caller_of(request), revision_id=revision, expected_version=version)
            return changed(_revision_row(request, revision) or {})

        return answer_write(request, perform)
