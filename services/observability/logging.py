"""Structured logs: one JSON object a line in production, readable lines in development; each with its request id."""

from typing import Any

import structlog

from services.api.request_context import request_id

SECRET_NAMES = ("password", "token", "secret", "authorization", "cookie")


def add_request_id(logger: Any, method: str, event: dict[str, Any]) -> dict[str, Any]:
    """The id of the request or task being served, where there is one."""
    current = request_id.get()
    if current:
        event.setdefault("request_id", current)
    return event


def hide_secrets(logger: Any, method: str, event: dict[str, Any]) -> dict[str, Any]:
    """Values under telling names are never written."""
    for name in event:
        if any(one in name.lower() for one in SECRET_NAMES):
            event[name] = "…"
    return event


SHARED: list[Any] = [
    structlog.stdlib.add_log_level,
    structlog.stdlib.add_logger_name,
    add_request_id,
    hide_secrets,
    structlog.processors.TimeStamper(fmt="iso", utc=True),
]


def configure(*, development: bool) -> dict[str, Any]:
    """Set structlog up and return Django's LOGGING, so that both kinds of logger end in the same lines."""
    structlog.configure(
        processors=[*SHARED, structlog.stdlib.ProcessorFormatter.wrap_for_formatter],
        logger_factory=structlog.stdlib.LoggerFactory(),
        wrapper_class=structlog.stdlib.BoundLogger,
        cache_logger_on_first_use=True,
    )
    renderer: Any = (
        structlog.dev.ConsoleRenderer(colors=False) if development else structlog.processors.JSONRenderer(default=str)
    )
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "lines": {
                "()": structlog.stdlib.ProcessorFormatter,
                "foreign_pre_chain": SHARED,
                "processors": [
                    structlog.stdlib.ProcessorFormatter.remove_processors_meta,
                    structlog.processors.format_exc_info,
                    renderer,
                ],
            }
        },
        "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "lines"}},
        "root": {"handlers": ["stderr"], "level": "INFO"},
        "loggers": {
            "django.server": {"handlers": ["stderr"], "level": "WARNING", "propagate": False},
            "celery.app.trace": {"level": "WARNING"},
            "kombu": {"level": "WARNING"},
        },
    }
