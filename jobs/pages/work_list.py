"""What there is to do, for a fitter on a phone and for a supervisor."""

import datetime
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from jobs.queries.work_list import came_late, hold_points_waiting, jobs_to_do, undecided
from services.identity.callers import caller_of
from services.web.pages import signed_in

AHEAD = datetime.timedelta(days=28)


@require_GET
@signed_in
def work_list(request: HttpRequest) -> HttpResponse:
    """Jobs of the next four weeks, one's own first, and what waits for a supervisor's eyes."""
    by, today = caller_of(request), timezone.now().date()
    jobs = jobs_to_do(by, until=today + AHEAD)
    return render(
        request,
        "jobs/work_list.html",
        {
            "today": today,
            "groups": _grouped(jobs, by.id),
            "hold_points": hold_points_waiting(by),
            "undecided": undecided(by),
            "came_late": came_late(by),
        },
    )


def _grouped(jobs: list[dict[str, Any]], who: Any) -> list[tuple[str, list[dict[str, Any]]]]:
    mine = [one for one in jobs if one["assignee_id"] == who and one["state"] != "awaiting-sign-off"]
    others = [one for one in jobs if one["assignee_id"] != who and one["state"] != "awaiting-sign-off"]
    return [
        ("Yours", mine),
        ("To be signed off", [one for one in jobs if one["state"] == "awaiting-sign-off"]),
        ("Of others, and not handed out yet", others),
    ]
