"""The signed-in principal of a page's request."""

from collections.abc import Callable

from django.contrib.auth import get_user
from django.http import HttpRequest
from django.http.response import HttpResponseBase

from services.identity.models import Principal


class PrincipalMiddleware:
    """Sets ``request.user`` to the session's principal, or None where nobody is signed in.

    Requests with an Authorization header never touch the session.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if "Authorization" in request.headers or not request.COOKIES:
            request.user = None  # type: ignore[assignment]
        else:
            user = get_user(request)
            request.user = user if isinstance(user, Principal) else None  # type: ignore[assignment]
        return self.get_response(request)
