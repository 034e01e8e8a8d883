"""The smallest WSGI application that gives a projection, a promise, a trend or a job's sheet: no framework, no token,
no log, no gate but the queries' own; the same queries, the same calculation, JSON."""

import datetime
import os
import uuid
from collections.abc import Callable
from decimal import Decimal

import django

django.setup()

from django.utils import timezone  # noqa: E402 - once Django is set up

from jobs.calculations.safety_words import SAFETY  # noqa: E402
from jobs.queries.instruments import usable_at  # noqa: E402
from jobs.queries.jobs import job_for, steps, types_of  # noqa: E402
from jobs.queries.pump_trends import pump_trends  # noqa: E402
from kits.queries.stock_projection import picture_of, projection, promises  # noqa: E402
from services.api.rendering import to_json  # noqa: E402
from services.identity.callers import Caller, as_caller  # noqa: E402
from services.identity.models import Principal  # noqa: E402

principal: list[Principal] = []


def application(environ: dict[str, str], start: Callable[[str, list[tuple[str, str]]], object]) -> list[bytes]:
    """``/api/v1/sites/{site}/items/{item}/projection`` or ``promise``, ``/api/v1/pumps/{pump}/trends/{code}``,
    ``/api/v1/jobs/{job}/steps``."""
    if not principal:
        principal.append(Principal.objects.get(pk=uuid.UUID(os.environ["BENCH_PRINCIPAL"])))
    body = to_json(_answer(environ["PATH_INFO"].split("/"), timezone.now().date()))
    start("200 OK", [("Content-Type", "application/json"), ("Content-Length", str(len(body)))])
    return [body]


def _answer(path: list[str], today: datetime.date) -> object:
    by = as_caller(principal[0])
    if path[3] == "pumps":
        return pump_trends(by=by, pump_id=uuid.UUID(path[4]), today=today, code=path[6])
    if path[3] == "jobs":
        return _sheet(by, uuid.UUID(path[4]))
    *_, site, _, item, answer = path
    picture = picture_of(by, site_id=site, item_id=item, on=today)
    if answer == "projection":
        return projection(picture, today + datetime.timedelta(days=365))
    return promises(picture, quantity=Decimal(1), earliest=today)


def _sheet(by: Caller, job: uuid.UUID) -> dict[str, object]:
    found, rows = job_for(by, job), steps(job)
    return {
        "job": found.pk,
        "number": found.number,
        "state": found.state,
        "safety": SAFETY,
        "steps": rows,
        "instruments": usable_at(found.site_id, types_of(rows)),
    }
