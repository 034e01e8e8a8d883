"""Doors for the worker: one id in, one operation called."""

import uuid
from collections.abc import Mapping
from typing import Any

from celery import shared_task

from jobs.operations.overhaul_forecasts import ask_nightly, forecast_overhauls
from jobs.operations.readiness import review_readiness
from jobs.queries.review import live_jobs_before_start
from services.identity.callers import Caller
from services.work.claiming import take_up
from services.work.models import BackgroundRun


@shared_task
def review_ready_jobs() -> None:
    """Look again at every job that has not started: a lot may have expired, a calibration run out."""
    for job_id in live_jobs_before_start():
        review_readiness(job_id=job_id)


@shared_task
def run_overhaul_forecast(run_id: str) -> None:
    """Work out which kits the pumps of a site are expected to need."""
    take_up(run_id, _forecast)


def _forecast(by: Caller | None, run: BackgroundRun) -> Mapping[str, Any]:
    return forecast_overhauls(by=by, site_id=uuid.UUID(str(run.site_id)))


@shared_task
def plan_nightly_overhaul_forecasts() -> None:
    """Ask for one run a site and night, an hour before its replenishment."""
    ask_nightly()
