"""Every request has an id: the caller's own, where it is a sane one, or a fresh one. It is answered, logged, written
beside what the request changed, and travels with the work it asks for."""

import re
from collections.abc import Callable
from typing import Any

from celery.signals import before_task_publish, task_postrun, task_prerun
from django.http import HttpRequest
from django.http.response import HttpResponseBase

from services.api.identifiers import new_id
from services.api.request_context import request_id

HEADER = "X-Request-ID"
TASK_HEADER = "backpull_request_id"
SANE = re.compile(r"[A-Za-z0-9._:-]{8,64}")


class RequestIdMiddleware:
    """Sets the id while a request is served."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        asked = request.headers.get(HEADER, "")
        mark = request_id.set(asked if SANE.fullmatch(asked) else str(new_id()))
        try:
            response = self.get_response(request)
            response[HEADER] = request_id.get()
            return response
        finally:
            request_id.reset(mark)


@before_task_publish.connect(weak=False)
def send_along(headers: dict[str, Any] | None = None, **_: Any) -> None:
    """A task carries the id of the request that kicked it."""
    if headers is not None and request_id.get():
        headers[TASK_HEADER] = request_id.get()


@task_prerun.connect(weak=False)
def take_on(task: Any = None, task_id: str = "", **_: Any) -> None:
    """A worker logs under that id; a task of the clock under its own."""
    carried = getattr(getattr(task, "request", None), TASK_HEADER, None)
    request_id.set(carried or f"task-{task_id}"[:64])


@task_postrun.connect(weak=False)
def put_off(**_: Any) -> None:
    """What follows in the worker is not this task's."""
    request_id.set("")
