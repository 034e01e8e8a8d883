"""The smallest WSGI application that gives a projection or a promise: no framework, no token, no log, no gate but the
queries' own; the same queries, the same calculation, JSON."""

import datetime
import os
import uuid
from collections.abc import Callable
from decimal import Decimal

import django

django.setup()

from django.utils import timezone  # noqa: E402 - once Django is set up

from kits.queries.stock_projection import picture_of, projection, promises  # noqa: E402
from services.api.rendering import to_json  # noqa: E402
from services.identity.callers import as_caller  # noqa: E402
from services.identity.models import Principal  # noqa: E402

principal: list[Principal] = []


def application(environ: dict[str, str], start: Callable[[str, list[tuple[str, str]]], object]) -> list[bytes]:
    """``/api/v1/sites/{site}/items/{item}/projection`` or ``promise``."""
    *_, site, _, item, answer = environ["PATH_INFO"].split("/")
    if not principal:
        principal.append(Principal.objects.get(pk=uuid.UUID(os.environ["BENCH_PRINCIPAL"])))
    today = timezone.now().date()
    picture = picture_of(as_caller(principal[0]), site_id=site, item_id=item, on=today)
    if answer == "projection":
        found = projection(picture, today + datetime.timedelta(days=365))
    else:
        found = promises(picture, quantity=Decimal(1), earliest=today)
    body = to_json(found)
    start("200 OK", [("Content-Type", "application/json"), ("Content-Length", str(len(body)))])
    return [body]
