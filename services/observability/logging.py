"""Structured logs."""

from typing import Any


def configure(*, development: bool) -> dict[str, Any]:
    """Django's LOGGING."""
    return {"version": 1, "disable_existing_loggers": False}
