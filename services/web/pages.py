"""What every page shares: the shell's context, the sign-in gate, and posts that run an operation."""

from typing import Any

from django.http import HttpRequest


def shell(request: HttpRequest) -> dict[str, Any]:
    """Context of the base template."""
    return {"principal": getattr(request, "user", None)}
