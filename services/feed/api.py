"""The change feed: what became different, told in a safe order; asked for again and again, or waited for."""

import time
from typing import Any

import django_filters
from django.db import connection
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.api.filters import Filters, check_parameters
from services.api.pagination import limit_of
from services.api.problems import near
from services.api.refusals import Malformed
from services.api.schema import describe
from services.changes.recording import KINDS
from services.feed.reading import Place, changes_after, cursor_of, epoch_now, place_of
from services.identity.callers import caller_of

LONGEST_WAIT = 25
LOOK_EVERY = 0.5


class ChangeShape(serializers.Serializer[Any]):
    kind = serializers.CharField(help_text="As in docs/changes.md, such as pump.changed.")
    type = serializers.CharField(help_text="The noun: pump, job, order.")
    id = serializers.UUIDField(help_text="The id of the thing that changed.")
    version = serializers.IntegerField(help_text="Its version after the change.")
    site = serializers.UUIDField(allow_null=True)
    at = serializers.DateTimeField()
    body = serializers.DictField(allow_null=True, help_text="Its shape at that moment.")
    by = serializers.UUIDField(allow_null=True)
    request_id = serializers.CharField()


class ChangesAnswer(serializers.Serializer[Any]):
    results = ChangeShape(many=True)
    next = serializers.CharField(help_text="Send it as after the next time; keep it with what you have applied.")
    more = serializers.BooleanField(help_text="Ask again at once.")


class ChangesParameters(Filters):
    after = django_filters.CharFilter(help_text="next of the last answer; now for the present end; left out: all.")
    kinds = django_filters.CharFilter(help_text="Only these kinds, separated by commas.")
    wait = django_filters.NumberFilter(help_text="Seconds to wait for something to happen, up to 25.")
    limit = django_filters.NumberFilter(help_text="Changes an answer, 1 to 200 (default 50).")


class ChangesView(APIView):
    @describe(
        summary="What changed since a place in the feed",
        tag="Changes",
        responses=ChangesAnswer,
        filters=ChangesParameters,
        description=(
            "Changes at your sites and in the catalogue, in an order in which none is missed. Apply one only if its "
            "version is newer than what you have. 410 means: read everything anew."
        ),
        operation_id="changes_list",
    )
    def get(self, request: Request) -> Response:
        check_parameters(request, ["after", "kinds", "wait", "limit"])
        limit, kinds, until = limit_of(request), _kinds(request), time.monotonic() + _wait(request)
        epoch, xmin = epoch_now()
        text = request.query_params.get("after")
        place = Place(xmin - 1, 2**63 - 1) if text == "now" else place_of(text, epoch)
        by = caller_of(request)
        while True:
            found, end, more = changes_after(by, place, kinds=kinds, limit=limit)
            left = until - time.monotonic()
            if found or left <= 0:
                break
            # Nothing is held while waiting: neither a connection nor a snapshot.
            connection.close()
            time.sleep(min(LOOK_EVERY, left))
        return Response(
            {"results": found, "next": cursor_of(end, epoch), "more": more},
            headers={"Cache-Control": "private, no-store"},
        )


def _kinds(request: Request) -> list[str] | None:
    text = request.query_params.get("kinds")
    if not text:
        return None
    wanted = [one.strip() for one in text.split(",") if one.strip()]
    for one in wanted:
        if one not in KINDS:
            raise Malformed(
                f"{one[:60]!r} is no kind of change.{near(one, KINDS)}",
                remedy="docs/changes.md lists them.",
                pointer="?kinds",
            )
    return wanted


def _wait(request: Request) -> float:
    text = request.query_params.get("wait", "0")
    if not text.isdecimal() or int(text) > LONGEST_WAIT:
        raise Malformed(
            f"wait={text[:20]!r} is not 0 to {LONGEST_WAIT} seconds.", remedy="Ask again after it.", pointer="?wait"
        )
    return float(text)
