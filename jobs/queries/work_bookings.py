"""Reading the time spent on jobs."""

import uuid
from typing import Any

from django.db.models import QuerySet

from assets.access import narrow
from jobs.calculations.work_totals import work_totals
from jobs.models import WorkBooking
from services.identity.callers import Caller


def work_bookings(*, by: Caller) -> QuerySet[WorkBooking]:
    """Bookings on jobs at granted sites, corrected ones included."""
    return narrow(WorkBooking.objects.all(), by, path="job__site_id")


def totals_of(job_id: uuid.UUID) -> dict[str, Any]:
    """Minutes booked on a job in all, by section, step and person; corrected bookings do not count. One query."""
    rows = WorkBooking.objects.filter(job_id=job_id, corrected_by=None).order_by("id")
    found = work_totals(rows.values_list("section", "step_number", "person__name", "minutes"))
    return {
        "job": job_id,
        "minutes": found.minutes,
        "by_section": [{"section": name, "minutes": minutes} for name, minutes in found.by_section.items()],
        "by_step": [{"step": number, "minutes": minutes} for number, minutes in found.by_step.items()],
        "by_person": [{"person": name, "minutes": minutes} for name, minutes in found.by_person.items()],
    }
