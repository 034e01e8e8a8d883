"""Figures for Prometheus: requests by route, method and status; how much recorded work waits and for how long."""

import logging
import os
import time
from collections.abc import Callable

import structlog
from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.views.decorators.http import require_GET
from prometheus_client import (
    CONTENT_TYPE_LATEST,
    REGISTRY,
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    generate_latest,
    multiprocess,
)

log = structlog.get_logger(__name__)

REQUESTS = Counter("backpull_requests_total", "Requests answered.", ["route", "method", "status"])
SECONDS = Histogram(
    "backpull_request_seconds",
    "How long answering took.",
    ["route", "method"],
    buckets=(0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10),
)
READING = {"GET", "HEAD", "OPTIONS"}
SLOW_SECONDS = 1.0
WAITING = """
SELECT count(*), greatest(0, coalesce(extract(epoch FROM clock_timestamp() - min(due_at)), 0))
FROM work_backgroundrun WHERE state IN ('queued', 'running')
"""


class MetricsMiddleware:
    """Counts and times every request under its route's pattern, never under its path.

    What changed something, was refused or took long also leaves a line in the log, under the request's id.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        begun = time.perf_counter()
        response = self.get_response(request)
        match = request.resolver_match
        route = match.route if match is not None else "none"
        method = request.method if request.method in {"GET", "POST", "PATCH", "DELETE", "HEAD", "OPTIONS"} else "other"
        took = time.perf_counter() - begun
        REQUESTS.labels(route, method, str(response.status_code)).inc()
        SECONDS.labels(route, method).observe(took)
        if response.status_code >= 400 or method not in READING or took > SLOW_SECONDS:
            log.log(
                logging.ERROR if response.status_code >= 500 else logging.INFO,
                "answered",
                method=method,
                path=request.path,
                status=response.status_code,
                seconds=round(took, 3),
            )
            # Django's own line for refusals comes too late to carry the request's id.
            response._has_been_logged = True  # type: ignore[attr-defined]
        return response


@require_GET
def metrics(request: HttpRequest) -> HttpResponse:
    """All figures, of every process where there are several; meant for the inside of the network."""
    registry = REGISTRY
    if os.environ.get("PROMETHEUS_MULTIPROC_DIR"):
        registry = CollectorRegistry()
        multiprocess.MultiProcessCollector(registry)
    return HttpResponse(generate_latest(registry) + generate_latest(_work()), content_type=CONTENT_TYPE_LATEST)


def _work() -> CollectorRegistry:
    registry = CollectorRegistry()
    waiting = Gauge("backpull_runs_waiting", "Recorded work not done yet.", registry=registry)
    oldest = Gauge("backpull_runs_oldest_seconds", "Age of the oldest of it.", registry=registry)
    try:
        with connection.cursor() as cursor:
            cursor.execute(WAITING)
            count, age = cursor.fetchone()
    except DatabaseError:
        return CollectorRegistry()
    waiting.set(count)
    oldest.set(float(age))
    return registry
