"""Booking the time that work took. Nothing is overwritten: a correction takes the place of what it names."""

import datetime
import uuid

from django.db import transaction

from assets.access import require_role
from jobs.models import WorkBooking
from jobs.operations.job_changes import record_changed
from jobs.operations.jobs import must_work_there
from jobs.operations.steps import FITTERS
from jobs.operations.under_way import happened_at, job_under_way, step_reached
from jobs.queries.work_bookings import work_bookings
from jobs.refusals import AlreadyCorrected
from services.api.identifiers import new_id
from services.api.refusals import InvalidValue, NotThere
from services.changes.recording import record_change
from services.identity.callers import Caller

A_DAY = 24 * 60


@transaction.atomic(savepoint=False)
def book_work(
    *,
    by: Caller,
    job_id: uuid.UUID,
    minutes: int | None = None,
    started_at: datetime.datetime | None = None,
    ended_at: datetime.datetime | None = None,
    step: int | None = None,
    person_id: uuid.UUID | None = None,
    note: str = "",
    corrects: uuid.UUID | None = None,
    booking_id: uuid.UUID | None = None,
) -> WorkBooking:
    """Book minutes, or a beginning and an end, on a step or on the job as a whole, at most a day at once.

    One books one's own time; a supervisor also that of others. A correction of 0 minutes takes a booking back. The same
    id sent again returns the first record.
    Raises `InvalidValue`, `MakeSafeFirst`, `AlreadyCorrected`, `NotAllowed`, `WrongJobState`.
    """
    job = job_under_way(by, job_id, "have time booked on it", *FITTERS)
    person = person_id or by.id
    if person != by.id:
        require_role(by, job.site_id, "supervisor", what="The job")
        must_work_there(person, job.site_id, "#/person")
    spent = _minutes(minutes, started_at, ended_at, may_be_none=corrects is not None)
    sent_before = (
        None
        if booking_id is None
        else WorkBooking.objects.filter(
            pk=booking_id, job=job, by_id=by.id, person_id=person, minutes=spent, step_number=step
        ).first()
    )
    if sent_before is not None:
        return sent_before
    section = step_reached(job, step).section if step is not None else ""
    if corrects is not None:
        _correctable(by, job.pk, corrects)
    made = WorkBooking.objects.create(
        id=booking_id or new_id(),
        job=job,
        step_number=step,
        section=section,
        person_id=person,
        minutes=spent,
        started_at=started_at,
        ended_at=ended_at,
        note=note,
        corrects_id=corrects,
        by_id=by.id,
    )
    record_change(
        "work.booked",
        noun="work-booking",
        noun_id=made.pk,
        site_id=job.site_id,
        by=by,
        body={
            "job": job.pk,
            "job_number": job.number,
            "step": step,
            "person": person,
            "minutes": spent,
            "corrects": corrects,
        },
    )
    record_changed(job, by)
    return made


def _correctable(by: Caller, job_id: uuid.UUID, booking_id: uuid.UUID) -> None:
    earlier = work_bookings(by=by).filter(pk=booking_id, job_id=job_id).first()
    if earlier is None:
        raise NotThere("The job has no such booking.", remedy="GET /jobs/{id}/work lists them.")
    if by.id not in {earlier.by_id, earlier.person_id}:
        require_role(by, earlier.job.site_id, "supervisor", what="The booking")
    if WorkBooking.objects.filter(corrects=earlier).exists():
        raise AlreadyCorrected(
            "This booking was corrected before.", remedy="Read the bookings again and correct the last one."
        )


def _minutes(
    minutes: int | None,
    started_at: datetime.datetime | None,
    ended_at: datetime.datetime | None,
    *,
    may_be_none: bool,
) -> int:
    if (started_at is None) != (ended_at is None) or (minutes is None) == (started_at is None):
        raise InvalidValue(
            "Say either how many minutes, or when it began and when it ended.",
            remedy="Send minutes, or started_at and ended_at.",
            pointer="#/minutes",
        )
    if started_at is not None and ended_at is not None:
        happened_at(started_at, "#/started_at")
        happened_at(ended_at, "#/ended_at")
        minutes = round((ended_at - started_at).total_seconds() / 60)
        if ended_at <= started_at or minutes < 1:
            raise InvalidValue("It ends before a minute has passed.", remedy="Check both times.", pointer="#/ended_at")
    spent = minutes or 0
    if spent > A_DAY or (spent == 0 and not may_be_none):
        raise InvalidValue(
            f"{spent} minutes is not between one minute and one day.",
            remedy="Book each day for itself; 0 only to take a booking back.",
            pointer="#/minutes",
        )
    return spent
