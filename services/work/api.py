"""Background work: how far it is and how it ended."""

import uuid
from typing import Any

import django_filters
from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.api.filters import Filters
from services.api.rows import NothingIn, Rows, read_body
from services.api.schema import describe, page_of
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed
from services.identity.callers import Caller, caller_of
from services.work.models import BackgroundRun
from services.work.operations import NOTHING_LEFT, cancel_run

TAG = "Background runs"


class RunRow(Rows):
    id = serializers.UUIDField()
    kind = serializers.CharField()
    state = serializers.CharField(help_text="queued, running, done, failed or cancelled.")
    site = serializers.UUIDField(source="site_id", allow_null=True)
    progress_done = serializers.IntegerField(help_text="Moves while it runs.")
    progress_total = serializers.IntegerField(allow_null=True)
    result = serializers.DictField(
        help_text="What came of it; of a failed run the problem; of a cancelled one what it left."
    )
    attempts = serializers.IntegerField()
    created_at = serializers.DateTimeField()
    started_at = serializers.DateTimeField(allow_null=True)
    ended_at = serializers.DateTimeField(allow_null=True)
    last_error = serializers.CharField()
    version = serializers.IntegerField()


EXAMPLE = {
    "id": "0199a0c4-0000-7000-8000-000000000071",
    "kind": "services.bulk_loads.tasks.run_bulk_load",
    "state": "done",
    "site": None,
    "progress_done": 118,
    "progress_total": 118,
    "result": {
        "bulk_load": "0199a0c4-0000-7000-8000-000000000070",
        "created": 115,
        "changed": 0,
        "unchanged": 0,
        "refused": 3,
        "noted": 7,
    },
    "attempts": 1,
    "created_at": "2026-03-02T06:00:00Z",
    "started_at": "2026-03-02T06:00:01Z",
    "ended_at": "2026-03-02T06:00:03Z",
    "last_error": "",
    "version": 3,
}


class RunFilters(Filters):
    state = django_filters.ChoiceFilter(
        choices=BackgroundRun.State.choices, help_text="queued, running, done, failed or cancelled."
    )
    kind = django_filters.CharFilter(help_text="The kind of work.")

    class Meta:
        model = BackgroundRun
        fields: list[str] = []


def own_runs(by: Caller) -> QuerySet[BackgroundRun]:
    """Work that the caller asked for."""
    return BackgroundRun.objects.filter(requested_by_id=by.id)


class BackgroundRunsView(ListView):
    rows = RunRow
    filters = RunFilters
    order = ("-id",)

    def rows_for(self, request: Request) -> Any:
        return own_runs(caller_of(request))

    @describe(
        summary="List the work you asked for",
        tag=TAG,
        responses=page_of(RunRow),
        filters=RunFilters,
        example={"results": [EXAMPLE], "next": None, "previous": None},
        operation_id="background_runs_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


def _run(by: Caller, run_id: Any) -> dict[str, Any] | None:
    return RunRow.select(own_runs(by).filter(pk=run_id)).first()


class BackgroundRunView(APIView):
    @describe(summary="One run", tag=TAG, responses=RunRow, example=EXAMPLE, operation_id="background_runs_read")
    def get(self, request: Request, run: uuid.UUID) -> Response:
        return answer_one(request, _run(caller_of(request), run), "The run")


class CancelRunView(APIView):
    @describe(
        summary="Cancel a run",
        tag=TAG,
        request=NothingIn,
        responses=RunRow,
        description=(
            "What is waiting is not begun. A worker that is at it stops at its next report of progress and undoes all "
            "that this run did; result.left says so. progress_done stays where it was."
        ),
        example=EXAMPLE | {"state": "cancelled", "progress_done": 60, "result": {"left": NOTHING_LEFT}},
    )
    def post(self, request: Request, run: uuid.UUID) -> Response:
        read_body(request, NothingIn)

        def perform() -> Answer:
            cancel_run(by=caller_of(request), run_id=run)
            return changed(_run(caller_of(request), run) or {})

        return answer_write(request, perform)
