"""Every endpoint needs a principal, and a token needs the scope for what it does."""

from typing import Any

from rest_framework import permissions
from rest_framework.request import Request

from services.api.refusals import ScopeMissing
from services.identity.callers import caller_of
from services.identity.models import READ, WRITE


class ScopePermission(permissions.BasePermission):
    """Reading needs the scope *read*, everything else *write*. Roles at sites are the operations' business."""

    def has_permission(self, request: Request, view: Any) -> bool:
        if request.user is None:
            return False
        needed = READ if request.method in permissions.SAFE_METHODS or getattr(view, "reads_only", False) else WRITE
        if needed not in caller_of(request).scopes:
            raise ScopeMissing(
                f"The token lacks the scope {needed!r}.",
                remedy="Use a token made with that scope.",
                required_scope=needed,
            )
        return True
