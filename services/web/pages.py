"""What every page shares: the shell's context, the sign-in gate, and posts that run an operation."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Any
from urllib.parse import urlencode

import structlog
from django.contrib import messages
from django.db import DatabaseError, transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils.http import url_has_allowed_host_and_scheme

from services.api.problems import STATUS, refusal_of
from services.api.refusals import Refusal
from services.identity.models import Principal


@dataclass(frozen=True)
class Said:
    """What a form's operation came to, where it was done and is no good news all the same."""

    sentence: str


View = Callable[..., HttpResponseBase]
log = structlog.get_logger(__name__)


def shell(request: HttpRequest) -> dict[str, Any]:
    """Context of the base template."""
    return {"principal": getattr(request, "user", None)}


def signed_in(view: View) -> View:
    """Only for people who are signed in; others are asked to, and come back to where they wanted to go."""

    @wraps(view)
    def gate(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not isinstance(request.user, Principal):
            back = request.get_full_path() if request.method == "GET" else "/"
            return HttpResponseRedirect(f"/sign-in?{urlencode({'next': back})}")
        try:
            response = view(request, *args, **kwargs)
        except Refusal as refusal:
            return refused(request, refusal)
        response.headers.setdefault("Cache-Control", "private, no-store")
        return response

    return gate


def refused(request: HttpRequest, refusal: Refusal) -> HttpResponse:
    """A page that says why not, and what would help."""
    return render(request, "web/refused.html", {"refusal": refusal}, status=STATUS[refusal.kind])


def run_post(request: HttpRequest, perform: Callable[[], str | Said], back: str) -> HttpResponse:
    """Run an operation for a form in one durable transaction, say how it went, and go back to the page.

    ``perform`` returns the sentence to show, as `Said` where it is a warning. A refusal is shown with its remedy;
    nothing of it was done.
    """
    try:
        with transaction.atomic(durable=True):
            said = perform()
    except (Refusal, DatabaseError) as error:
        refusal = refusal_of(error)
        if refusal is None:
            raise
        messages.error(request, f"{refusal.detail} {refusal.remedy}")
    else:
        if isinstance(said, Said):
            messages.warning(request, said.sentence)
        else:
            messages.success(request, said)
    return HttpResponseRedirect(safe_next(request, back))


def safe_next(request: HttpRequest, address: str, otherwise: str = "/") -> str:
    """An address of this very service, whatever was asked for."""
    inside = url_has_allowed_host_and_scheme(address, {request.get_host()}, require_https=request.is_secure())
    return address if inside else otherwise
