"""The id of the request, or of the task, that is being served; every log line and recorded change carries it."""

from contextvars import ContextVar

request_id: ContextVar[str] = ContextVar("request_id", default="")
