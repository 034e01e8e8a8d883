"""One address for people and programs."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils.cache import patch_vary_headers

View = Callable[..., HttpResponseBase]


def by_media_type(*, page: View, api: View) -> View:
    """A view that answers with the page for a browser, with the API for a program.

    Whoever prefers HTML gets the page; where nothing is preferred a caller with a token gets the API.
    """

    def chosen(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        offered = ["text/html", "application/json"]
        if "Authorization" in request.headers:
            offered.reverse()
        view = page if request.get_preferred_type(offered) == "text/html" else api
        response = view(request, *args, **kwargs)
        patch_vary_headers(response, ["Accept", "Authorization"])
        return response

    return chosen
