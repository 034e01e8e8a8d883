"""What there is to do for somebody: jobs at their sites, and what waits for a second person."""

import datetime
from typing import Any

from django.db.models import Count, Q

from assets.access import narrow
from jobs.models import Job, JobStep, Nonconformity, OfflineRecord
from jobs.queries.jobs import LIVE
from jobs.queries.offline_records import UNSETTLED
from services.api.rows import plain_rows
from services.identity.callers import Caller

# A page for a phone: what lies further ahead is asked for by other pages and the API.
MOST_JOBS, MOST_WAITING = 60, 60


def jobs_to_do(by: Caller, *, until: datetime.date) -> list[dict[str, Any]]:
    """Live jobs at the caller's sites that begin until a day or have begun, in the order of their days. Steps that
    apply are counted, done and all. One query."""
    rows = (
        narrow(Job.objects.filter(state__in=LIVE), by)
        .filter(Q(planned_start__lte=until) | ~Q(state__in=["planned", "ready"]))
        .annotate(
            applying=Count("steps", filter=~Q(steps__state__in=["not-applicable", "moved"])),
            done=Count("steps", filter=Q(steps__state="done")),
        )
        .order_by("planned_start", "number")
        .values(
            "id", "number", "state", "state_reasons", "planned_start", "planned_end", "assignee_id", "applying", "done",
            "pump__tag", "pump__criticality", "site__name", "assignee__name", "kit__item__number",
            "revision__procedure__title",
        )
    )[:MOST_JOBS]  # fmt: skip
    return plain_rows(rows)


def hold_points_waiting(by: Caller) -> list[dict[str, Any]]:
    """Hold points that the caller may release: done by somebody else, at sites where they are supervisor. One query."""
    rows = (
        narrow(JobStep.objects.filter(state="awaiting-release"), by, "supervisor", path="job__site_id")
        .exclude(done_by_id=by.id)
        .filter(job__state="in-progress")
        .order_by("done_at", "id")
        .values("job_id", "number", "step__title", "job__number", "job__pump__tag", "done_by__name", "done_at")
    )[:MOST_WAITING]
    return plain_rows(rows)


def undecided(by: Caller) -> list[dict[str, Any]]:
    """Nonconformities without a decision at sites where the caller is supervisor. One query."""
    rows = (
        narrow(Nonconformity.objects.filter(state="open"), by, "supervisor", path="job__site_id")
        .order_by("id")
        .values("id", "job_id", "description", "job__number", "job__pump__tag", "raised_by__name")
    )[:MOST_WAITING]
    return plain_rows(rows)


def came_late(by: Caller) -> list[dict[str, Any]]:
    """Jobs with unsettled offline records at sites where the caller is supervisor, and how many. One query."""
    rows = (
        narrow(OfflineRecord.objects.filter(state__in=UNSETTLED), by, "supervisor", path="job__site_id")
        .order_by("job__number")
        .values("job_id", "job__number", "job__pump__tag")
        .annotate(waiting=Count("id", filter=Q(state="waiting")), conflicts=Count("id", filter=Q(state="conflict")))
    )[:MOST_WAITING]
    return plain_rows(rows)


def open_nonconformities(job_id: Any) -> list[dict[str, Any]]:
    """What is not settled on a job. One query."""
    rows = (
        Nonconformity.objects.filter(job_id=job_id)
        .exclude(state="closed")
        .order_by("id")
        .values("id", "description", "state", "disposition", "decision_reason", "version", "raised_by_id",
                "raised_by__name", "decided_by__name")
    )  # fmt: skip
    return plain_rows(rows)
