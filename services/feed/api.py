"""The change feed: what became different, told in a safe order; asked for again and again, or waited for."""

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import django_filters
from django.conf import settings
from django.db import connection
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.api.filters import Filters, check_parameters
from services.api.pagination import limit_of
from services.api.problems import near
from services.api.refusals import Busy, Malformed
from services.api.schema import describe
from services.changes.recording import KINDS
from services.feed.reading import changes_after, cursor_of, end_of_feed, life_and_end, place_of
from services.identity.callers import caller_of

LONGEST_WAIT = 25
LOOK_EVERY = 0.5
_lock = threading.Lock()
_waiting: set[object] = set()


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


EXAMPLE = {
    "results": [
        {
            "kind": "pump.changed",
            "type": "pump",
            "id": "0199a0c4-0000-7000-8000-000000000004",
            "version": 4,
            "site": "0199a0c4-0000-7000-8000-000000000001",
            "at": "2026-03-02T06:00:00Z",
            "body": {"tag": "P-101", "state": "in-service"},
            "by": "0199a0c4-0000-7000-8000-000000000002",
            "request_id": "erp-4711",
        }
    ],
    "next": "eyJsIjoiNWY…",
    "more": False,
}


class ChangesParameters(Filters):
    after = django_filters.CharFilter(help_text="next of the last answer; now for the present end; left out: all.")
    kinds = django_filters.CharFilter(help_text="Only these kinds, separated by commas.")
    wait = django_filters.NumberFilter(
        help_text="Seconds to wait for something to happen, up to 25; 503 where too many wait."
    )
    limit = django_filters.NumberFilter(help_text="Changes an answer, 1 to 200 (default 50).")


class ChangesView(APIView):
    @describe(
        summary="What changed since a place in the feed",
        tag="Changes",
        responses=ChangesAnswer,
        filters=ChangesParameters,
        example=EXAMPLE,
        description=(
            "Changes at your sites and in the catalogue, in an order in which none is missed. Apply one only if its "
            "version is newer than what you have. 410 means: read everything anew."
        ),
        operation_id="changes_list",
    )
    def get(self, request: Request) -> Response:
        check_parameters(request, ["after", "kinds", "wait", "limit"])
        limit, kinds, until = limit_of(request), _kinds(request), time.monotonic() + _wait(request)
        life, end = life_and_end()
        text = request.query_params.get("after")
        place = end_of_feed(end) if text == "now" else place_of(text, life)
        by = caller_of(request)
        found, place, more = changes_after(by, place, end=end, kinds=kinds, limit=limit)
        if not found and time.monotonic() < until:
            with _seat():
                while not found and (left := until - time.monotonic()) > 0:
                    # Nothing is held while waiting: neither a connection nor a snapshot.
                    connection.close()
                    time.sleep(min(LOOK_EVERY, left))
                    _, end = life_and_end()
                    found, place, more = changes_after(by, place, end=end, kinds=kinds, limit=limit)
        return Response(
            {"results": found, "next": cursor_of(place, life), "more": more},
            headers={"Cache-Control": "private, no-store"},
        )


@contextmanager
def _seat() -> Iterator[None]:
    """A seat to wait in. There are fewer than a process has threads, so that waiting never stops other work."""
    with _lock:
        if len(_waiting) >= settings.FEED_WAITERS:
            raise Busy(
                "Others are waiting for changes already, as many as may.",
                remedy="Ask without wait, or again after the pause named.",
                retry_after=5,
            )
        seat = object()
        _waiting.add(seat)
    try:
        yield
    finally:
        with _lock:
            _waiting.discard(seat)


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
    if not text.isdecimal() or len(text) > 2 or int(text) > LONGEST_WAIT:
        raise Malformed(
            f"wait={text[:20]!r} is not 0 to {LONGEST_WAIT} seconds.", remedy="Ask again after it.", pointer="?wait"
        )
    return float(text)
