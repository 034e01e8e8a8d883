"""Doors for the worker: one id in, one operation called."""

from celery import shared_task

from jobs.operations.readiness import review_readiness
from jobs.queries.review import live_jobs_before_start


@shared_task
def review_ready_jobs() -> None:
    """Look again at every job that has not started: a lot may have expired, a calibration run out."""
    for job_id in live_jobs_before_start():
        review_readiness(job_id=job_id)
