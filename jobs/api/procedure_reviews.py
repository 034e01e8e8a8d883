"""What happens to a revision after it is written, and the record of it."""

import uuid
from collections.abc import Callable
from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.procedure_bodies import MendIn, RemarksIn, WithdrawalIn
from jobs.api.procedures import TAG, ProcedureRevisionDetail, revision_row
from jobs.operations.procedure_reviews import publish, review, send_back, submit, withdraw
from jobs.queries.procedures import acts_of, revision_for
from services.api.rows import Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView
from services.api.writes import Answer, answer_write, changed
from services.identity.callers import caller_of


def _act(request: Request, revision: uuid.UUID, operation: Callable[..., None], **words: str) -> Response:
    version = expected_version(request)

    def perform() -> Answer:
        operation(by=caller_of(request), revision_id=revision, expected_version=version, **words)
        return changed(revision_row(request, revision) or {})

    return answer_write(request, perform)


class SubmitView(APIView):
    @describe(
        summary="Hand a draft in for review",
        tag=TAG,
        request=RemarksIn,
        responses=ProcedureRevisionDetail,
        if_match=True,
        description="Its content stands still from now on. Refused where GET findings names what stops a review.",
    )
    def post(self, request: Request, revision: uuid.UUID) -> Response:
        return _act(request, revision, submit, **read_body(request, RemarksIn))


class ReviewView(APIView):
    @describe(
        summary="Find a revision good",
        tag=TAG,
        request=RemarksIn,
        responses=ProcedureRevisionDetail,
        if_match=True,
        description="For an author of procedures who neither wrote this revision nor handed it in.",
    )
    def post(self, request: Request, revision: uuid.UUID) -> Response:
        return _act(request, revision, review, **read_body(request, RemarksIn))


class SendBackView(APIView):
    @describe(
        summary="Send a revision back with remarks",
        tag=TAG,
        request=MendIn,
        responses=ProcedureRevisionDetail,
        if_match=True,
        request_example={"remarks": "Step 430: which torque?"},
        description="It is a draft again, and is handed in anew once it is mended.",
    )
    def post(self, request: Request, revision: uuid.UUID) -> Response:
        return _act(request, revision, send_back, **read_body(request, MendIn))


class PublishView(APIView):
    @describe(
        summary="Publish a reviewed revision",
        tag=TAG,
        responses=ProcedureRevisionDetail,
        if_match=True,
        description="The revision published so far is superseded; running jobs stay on theirs.",
    )
    def post(self, request: Request, revision: uuid.UUID) -> Response:
        return _act(request, revision, publish)


class WithdrawView(APIView):
    @describe(
        summary="Withdraw a revision that was published",
        tag=TAG,
        request=WithdrawalIn,
        responses=ProcedureRevisionDetail,
        if_match=True,
        request_example={"reason": "Step 410 names the wrong torque."},
    )
    def post(self, request: Request, revision: uuid.UUID) -> Response:
        return _act(request, revision, withdraw, **read_body(request, WithdrawalIn))


class RevisionActRow(Rows):
    id = serializers.UUIDField()
    act = serializers.CharField(
        help_text="drafted, changed, submitted, sent-back, reviewed, published, superseded or withdrawn."
    )
    remarks = serializers.CharField()
    content_hash = serializers.CharField(help_text="Of the content it was done with.")
    at = serializers.DateTimeField()
    by = serializers.CharField(source="by.name")


class RevisionActsView(ListView):
    rows = RevisionActRow
    order = ("id",)

    def rows_for(self, request: Request) -> Any:
        caller = caller_of(request)
        return acts_of(revision_for(caller, self.kwargs["revision"]).pk, by=caller)

    @describe(
        summary="What was done with a revision, by whom, and what was said",
        tag=TAG,
        responses=page_of(RevisionActRow),
        operation_id="revision_acts_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)
