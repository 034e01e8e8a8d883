"""Requests that change something: one durable transaction, with the retry key inside it.

The key's row and the effect live or die together, so a retry after a lost answer finds either the stored answer or
nothing at all. A simultaneous twin waits on the key's unique index and then gets the stored answer.
"""

import hashlib
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, TypeVar

import orjson
import structlog
from django.core.files.uploadedfile import UploadedFile
from django.db import OperationalError, connection, transaction
from django.utils.crypto import salted_hmac
from rest_framework.request import Request
from rest_framework.response import Response

from services.api.models import IdempotencyKey
from services.api.refusals import KeyMissing, KeyReused, KeyRunning, Malformed
from services.api.rendering import to_json
from services.api.versions import etag

T = TypeVar("T")
log = structlog.get_logger(__name__)

MOST_ATTEMPTS = 4
# Deadlock, and a transaction that could not be put in order with others.
UNDONE_FOR_OTHERS = {"40P01", "40001"}


@dataclass
class Answer:
    """What a write answers: status, JSON-safe body, headers worth keeping for a replay.

    Fields of the body named in ``told_once`` are never kept, so a replay lacks them.
    """

    body: Any = None
    status: int = 200
    headers: dict[str, str] = field(default_factory=dict)
    told_once: tuple[str, ...] = ()

    def kept_body(self) -> Any:
        """What a replay answers."""
        if not self.told_once:
            return self.body
        return {name: value for name, value in self.body.items() if name not in self.told_once}


def created(body: dict[str, Any], location: str, *, told_once: tuple[str, ...] = ()) -> Answer:
    """201 with the new thing, its address and its tag. Secrets are named in ``told_once``: see `Answer`."""
    headers = {"Location": location}
    if "version" in body:
        headers["ETag"] = etag(body["version"])
    return Answer(body, 201, headers, told_once)


def changed(body: dict[str, Any]) -> Answer:
    """200 with the thing as it is now, and its tag."""
    return Answer(body, 200, {"ETag": etag(body["version"])} if "version" in body else {})


def answer_write(request: Request, perform: Callable[[], Answer], *, key_required: bool = False) -> Response:
    """Run ``perform`` in a durable transaction and answer what it answers; replay where the key is known.

    What the database undid to let another transaction pass is done again, a few times, since nothing of it stayed:
    ``perform`` must bear being called twice. Raises `KeyMissing`, `KeyReused`, `KeyRunning`. Whatever ``perform``
    raises else undoes all of it, the key included.
    """
    key = _key_of(request, key_required)
    return _again_where_undone(request, lambda: _answer_once(request, perform, key))


def write_durably(request: Request, perform: Callable[[], T]) -> T:
    """Run ``perform`` in a durable transaction of its own, again where the database undid it for another one: for
    requests that write in several pieces, each of which knows its own retries."""

    def once() -> T:
        with transaction.atomic(durable=True):
            return perform()

    return _again_where_undone(request, once)


def _again_where_undone(request: Request, once: Callable[[], T]) -> T:
    for attempt in range(MOST_ATTEMPTS):
        try:
            return once()
        except OperationalError as error:
            if attempt + 1 == MOST_ATTEMPTS or getattr(error.__cause__, "sqlstate", None) not in UNDONE_FOR_OTHERS:
                raise
            log.info("a write was undone for another one and is done again", attempt=attempt + 1)
            _forget_what_was_looked_up(request)
            time.sleep(0.02 * (attempt + 1))
    raise AssertionError("the last attempt answers or raises")


def _answer_once(request: Request, perform: Callable[[], Answer], key: str | None) -> Response:
    if key is None:
        with transaction.atomic(durable=True):
            answer = perform()
        return _respond(answer)
    fingerprint = _fingerprint(request)
    try:
        with transaction.atomic(durable=True):
            fresh = _claim_and_perform(request, key, fingerprint, perform)
            if fresh is not None:
                return _respond(fresh)
    except OperationalError as error:
        if getattr(error.__cause__, "sqlstate", None) == "55P03" and not _stored(request, key):
            raise KeyRunning(
                "The first request with this Idempotency-Key has not ended.",
                remedy="Wait a second, then repeat it unchanged.",
                retry_after=1,
            ) from error
        raise
    return _replay(request, key, fingerprint)


def _forget_what_was_looked_up(request: Request) -> None:
    caller = getattr(request._request, "caller", None)
    if caller is not None:
        caller.memo.clear()


def _key_of(request: Request, required: bool) -> str | None:
    key = request.headers.get("Idempotency-Key", "").strip().strip('"')
    if not key:
        if required:
            raise KeyMissing(
                "This request creates or moves something, so a retry must be recognisable.",
                remedy="Send an Idempotency-Key header, a fresh UUID for each new request.",
                pointer="Idempotency-Key",
            )
        return None
    if len(key) > 200 or not key.isprintable():
        raise Malformed(
            "The Idempotency-Key is longer than 200 characters or not printable.",
            remedy="Use a UUID.",
            pointer="Idempotency-Key",
        )
    return key


def _fingerprint(request: Request) -> bytes:
    data = request.data
    raw = orjson.dumps(data, option=orjson.OPT_SORT_KEYS, default=_as_text) if not isinstance(data, bytes) else data
    wanted = request.headers.get("If-Match", "").encode()
    whole = b"\n".join([(request.method or "").encode(), request.get_full_path().encode(), wanted, raw])
    # Keyed, since a body may hold a password.
    return salted_hmac("retry-key", whole, algorithm="sha256").digest()


def _as_text(value: Any) -> str:
    """What JSON does not know, so that another value gives another text; a file is told by its content."""
    if not isinstance(value, UploadedFile):
        return str(value)
    value.seek(0)
    digest = hashlib.file_digest(value, "sha256").hexdigest()
    value.seek(0)
    return f"{value.name} {digest}"


def _where(request: Request, key: str) -> dict[str, Any]:
    return {
        "principal_id": request.user.pk,
        "method": request.method or "",
        "path": request.path[:300],
        "key": key,
    }


def _claim_and_perform(request: Request, key: str, fingerprint: bytes, perform: Callable[[], Answer]) -> Answer | None:
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO api_idempotencykey (principal_id, method, path, key, fingerprint, headers) "
            "VALUES (%(principal_id)s, %(method)s, %(path)s, %(key)s, %(fingerprint)s, '{}') "
            "ON CONFLICT DO NOTHING RETURNING id",
            {**_where(request, key), "fingerprint": fingerprint},
        )
        row = cursor.fetchone()
    if row is None:
        return None
    answer = perform()
    IdempotencyKey.objects.filter(id=row[0]).update(
        status=answer.status, headers=answer.headers, body=to_json(answer.kept_body())
    )
    return answer


def _stored(request: Request, key: str) -> bool:
    return IdempotencyKey.objects.filter(**_where(request, key)).exists()


def _replay(request: Request, key: str, fingerprint: bytes) -> Response:
    kept = IdempotencyKey.objects.get(**_where(request, key))
    if bytes(kept.fingerprint) != fingerprint:
        raise KeyReused(
            "This Idempotency-Key was used before with another body or address.",
            remedy="Use a fresh key for a new request; repeat an old one unchanged.",
            pointer="Idempotency-Key",
        )
    body = orjson.loads(bytes(kept.body)) if kept.body else None
    return _respond(Answer(body, kept.status or 200, {**kept.headers, "Idempotency-Replayed": "true"}))


def _respond(answer: Answer) -> Response:
    return Response(answer.body, status=answer.status, headers=answer.headers)


__all__ = ["Answer", "answer_write", "changed", "created", "write_durably"]
