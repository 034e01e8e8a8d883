"""The only place where a refusal becomes a status code: RFC 9457 problem details for everything under /api/."""

import difflib
from collections.abc import Callable, Iterable, Mapping
from typing import Any

import structlog
from django.core.exceptions import PermissionDenied, RequestDataTooBig, SuspiciousOperation
from django.db import DataError, IntegrityError, InterfaceError, OperationalError
from django.db.models import ProtectedError
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from rest_framework import exceptions
from rest_framework.response import Response

from services.api.refusals import (
    AlreadyThere,
    Busy,
    FieldProblem,
    InvalidValue,
    Kind,
    Malformed,
    NotThere,
    Refusal,
    RuleBroken,
    StillNeeded,
)
from services.api.rendering import to_json
from services.api.request_context import request_id

log = structlog.get_logger(__name__)

MEDIA_TYPE = "application/problem+json"
STATUS = {
    Kind.MALFORMED: 400,
    Kind.UNAUTHENTICATED: 401,
    Kind.FORBIDDEN: 403,
    Kind.ABSENT: 404,
    Kind.CONFLICT: 409,
    Kind.GONE: 410,
    Kind.VERSION_CHANGED: 412,
    Kind.VERSION_MISSING: 428,
    Kind.TOO_LARGE: 413,
    Kind.UNSUPPORTED: 415,
    Kind.INVALID: 422,
    Kind.TOO_MANY: 429,
    Kind.UNAVAILABLE: 503,
}
TITLES = {
    400: ("malformed", "The request could not be read"),
    401: ("not-signed-in", "Sign in, or send a valid token"),
    403: ("not-allowed", "Your roles do not allow this"),
    404: ("not-found", "Not found"),
    405: ("method-not-allowed", "This method is not offered here"),
    406: ("not-acceptable", "None of the media types asked for is offered"),
    413: ("too-large", "The body is too large"),
    415: ("unsupported-media-type", "The body's media type is not taken here"),
    422: ("invalid-value", "A value is not acceptable"),
    429: ("too-many-requests", "Too many requests"),
    500: ("unexpected", "Something went wrong here"),
    503: ("unavailable", "Not available for the moment"),
}

_constraints: dict[str, Callable[[], Refusal]] = {}


def when_broken(constraint: str, refusal: Callable[[], Refusal]) -> None:
    """Name the refusal that a violated database constraint stands for."""
    _constraints[constraint] = refusal


def problem(
    *,
    status: int,
    code: str,
    title: str,
    detail: str,
    remedy: str = "",
    problems: Iterable[FieldProblem] = (),
    facts: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """The body of a problem answer."""
    body: dict[str, Any] = {
        "type": f"/problems/{code}",
        "title": title,
        "status": status,
        "detail": detail,
        "instance": f"urn:request:{request_id.get()}",
        "code": code,
    }
    if remedy:
        body["remedy"] = remedy
    errors = [{"pointer": one.pointer, "code": one.code, "detail": one.detail} for one in problems]
    if errors:
        body["errors"] = errors
    for name, value in (facts or {}).items():
        body.setdefault(name, value)
    body["request_id"] = request_id.get()
    return body


def body_of(refusal: Refusal) -> dict[str, Any]:
    """A refusal as a problem body."""
    return problem(
        status=STATUS[refusal.kind],
        code=refusal.code,
        title=refusal.title,
        detail=refusal.detail,
        remedy=refusal.remedy,
        problems=refusal.problems,
        facts=refusal.facts,
    )


def refusal_of(error: Exception) -> Refusal | None:
    """The refusal that a database error stands for, or None where it is a fault of ours."""
    if isinstance(error, Refusal):
        return error
    if isinstance(error, ProtectedError):
        return StillNeeded("Other records refer to it.", remedy="Withdraw it instead of removing it.")
    if isinstance(error, IntegrityError):
        return _broken_constraint(error)
    if isinstance(error, DataError):
        return InvalidValue(
            "A value is outside what can be stored.", remedy="Check sizes of numbers and lengths of texts."
        )
    if isinstance(error, (OperationalError, InterfaceError)):
        state = getattr(error.__cause__, "sqlstate", None)
        if state in {"55P03", "40P01", "40001", "57014"}:
            return Busy("Other work holds the same rows.", remedy="Repeat the request unchanged.", retry_after=1)
        return Busy("The database cannot be reached.", remedy="Repeat the request later.", retry_after=5)
    return None


def _broken_constraint(error: IntegrityError) -> Refusal:
    cause = error.__cause__
    name = getattr(getattr(cause, "diag", None), "constraint_name", None) or ""
    state = getattr(cause, "sqlstate", "")
    if name in _constraints:
        return _constraints[name]()
    words = name.replace("_", " ")
    if state == "23505":
        return AlreadyThere(f"It exists already ({words}).", remedy="Change the existing one.", constraint=name)
    if state == "23503":
        return InvalidValue(f"It refers to something that is not there ({words}).", remedy="Check the ids.")
    return RuleBroken(f"The rule '{words}' would be broken.", remedy="Correct the values.", constraint=name)


def handle_exception(error: Exception, context: Mapping[str, Any]) -> Response | None:
    """DRF's exception handler: every error becomes a problem; what is our own fault is left to the middleware."""
    headers: dict[str, str] = {}
    refusal = refusal_of(error)
    if refusal is not None:
        body = body_of(refusal)
        if "retry_after" in refusal.facts:
            headers["Retry-After"] = str(refusal.facts["retry_after"])
        if "etag" in refusal.facts:
            headers["ETag"] = str(refusal.facts["etag"])
    elif isinstance(error, exceptions.ValidationError):
        body = _validation(error)
    elif isinstance(error, (Http404, exceptions.NotFound)):
        body = body_of(NotThere("There is no such thing here.", remedy="Check the address and the id."))
    elif isinstance(error, (PermissionDenied, exceptions.PermissionDenied)):
        body = _plain(403, str(getattr(error, "detail", "") or "Not allowed."))
    elif isinstance(error, exceptions.APIException):
        body = _plain(error.status_code, str(error.detail))
        if isinstance(error, exceptions.Throttled):
            headers["Retry-After"] = str(int(getattr(error, "wait", None) or 1))
        if error.status_code == 401:
            headers["WWW-Authenticate"] = 'Bearer realm="backpull"'
    elif isinstance(error, RequestDataTooBig):
        body = _plain(413, "The body is larger than this service takes.")
    else:
        return None
    return Response(body, status=body["status"], headers=headers, content_type=MEDIA_TYPE)


def _plain(status: int, detail: str) -> dict[str, Any]:
    code, title = TITLES.get(status, ("refused", "The request was refused"))
    return problem(status=status, code=code, title=title, detail=detail)


def _validation(error: exceptions.ValidationError) -> dict[str, Any]:
    found = list(_flatten(error.get_full_details(), "#"))
    names = ", ".join(one.pointer for one in found[:5])
    code, title = TITLES[422]
    return problem(
        status=422,
        code=code,
        title=title,
        detail=f"{len(found)} value{'s' if len(found) != 1 else ''} cannot be taken: {names}.",
        remedy="Correct the fields named in errors and send the request again.",
        problems=found,
    )


def _flatten(details: Any, pointer: str) -> Iterable[FieldProblem]:
    if isinstance(details, Mapping) and set(details) == {"message", "code"} and isinstance(details["code"], str):
        yield FieldProblem(pointer, details["code"], str(details["message"]))
    elif isinstance(details, Mapping):
        for name, value in details.items():
            inner = pointer if name == "non_field_errors" else f"{pointer}/{_escape(str(name))}"
            yield from _flatten(value, inner)
    elif isinstance(details, list):
        leaves = all(isinstance(one, Mapping) and set(one) == {"message", "code"} for one in details)
        for index, value in enumerate(details):
            yield from _flatten(value, pointer if leaves else f"{pointer}/{index}")


def _escape(name: str) -> str:
    return name.replace("~", "~0").replace("/", "~1")


def near(name: str, known: Iterable[str]) -> str:
    """Words that name the nearest known name, for a misspelt one."""
    close = difflib.get_close_matches(name, list(known), n=1)
    return f" Did you mean {close[0]!r}?" if close else ""


def answer(refusal: Refusal) -> HttpResponse:
    """A refusal as a plain Django answer, for views outside DRF."""
    body = body_of(refusal)
    return HttpResponse(to_json(body), status=body["status"], content_type=MEDIA_TYPE)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form or a session request without its token."""
    refusal = Malformed("The form's security token is missing or stale.", remedy="Load the page again and resend.")
    body = body_of(refusal) | {"status": 403, "code": "csrf", "type": "/problems/malformed"}
    return HttpResponse(to_json(body), status=403, content_type=MEDIA_TYPE)


class ProblemMiddleware:
    """Nothing under /api/ answers an error as HTML: routes that do not exist, bodies too large, faults of ours."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if response.status_code < 400 or not request.path.startswith("/api/"):
            return response
        if response.headers.get("Content-Type", "").startswith(MEDIA_TYPE):
            return response
        status = response.status_code
        details = {
            404: "There is nothing at this address; the reference at /api/docs/ lists what there is.",
            405: "The method is not offered at this address.",
            500: "The fault is ours and has been logged under the request id. Nothing was half done.",
        }
        if status == 400 and _too_large(request):
            status = 413
        body = _plain(status, details.get(status, "The request could not be handled."))
        replacement = HttpResponse(to_json(body), status=status, content_type=MEDIA_TYPE)
        for name in ("Allow", "Retry-After", "WWW-Authenticate"):
            if name in response.headers:
                replacement[name] = response.headers[name]
        return replacement

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        if not request.path.startswith("/api/"):
            return None
        refusal = refusal_of(error)
        if refusal is not None:
            return answer(refusal)
        if isinstance(error, (RequestDataTooBig, SuspiciousOperation)):
            return None
        log.error("unexpected fault", path=request.path, exc_info=error)
        return None


def _too_large(request: HttpRequest) -> bool:
    try:
        request.body  # noqa: B018 - reading is what tells
    except RequestDataTooBig:
        return True
    except Exception:  # noqa: BLE001 - whatever else is wrong with the body, it is not its size
        return False
    return False
