"""The caller of an operation or a query: a principal with the scopes of this very request."""

import uuid
from dataclasses import dataclass, field
from typing import Any, cast

from django.http import HttpRequest
from rest_framework.request import Request

from services.identity.models import AVAILABILITY, SCOPES, AccessToken, Principal


@dataclass(frozen=True)
class Caller:
    """Passed as ``by`` to every query and operation. ``memo`` keeps what was looked up during this request."""

    id: uuid.UUID
    name: str
    scopes: frozenset[str]
    memo: dict[str, Any] = field(default_factory=dict, compare=False)

    @property
    def sees_availability(self) -> bool:
        """Whether free quantities of ungranted sites may be shown."""
        return AVAILABILITY in self.scopes


def scopes_of(principal: Principal, token: AccessToken | None) -> frozenset[str]:
    """What this request may do at most: a session has all scopes, a token its own; availability only if granted."""
    held = set(SCOPES if token is None else token.scopes)
    if not principal.sees_availability:
        held.discard(AVAILABILITY)
    return frozenset(held)


def as_caller(principal: Principal, token: AccessToken | None = None) -> Caller:
    """A caller for a principal; used by views, tasks and commands alike."""
    return Caller(id=principal.pk, name=principal.name, scopes=scopes_of(principal, token))


def caller_of(request: Request | HttpRequest) -> Caller:
    """The caller of a request, made once for each request."""
    plain = request._request if isinstance(request, Request) else request
    kept = getattr(plain, "caller", None)
    if isinstance(kept, Caller) and kept.id == request.user.pk:
        return kept
    token = getattr(request, "auth", None)
    caller = as_caller(cast("Principal", request.user), token if isinstance(token, AccessToken) else None)
    plain.caller = caller  # type: ignore[attr-defined]
    return caller


def caller_by_id(principal_id: uuid.UUID) -> Caller:
    """The caller behind recorded work, when a task takes it up. Raises `Principal.DoesNotExist`."""
    return as_caller(Principal.objects.get(pk=principal_id, is_active=True))
