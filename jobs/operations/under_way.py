"""A job that takes records, whether a fitter works on it at the moment or not."""

import datetime
import uuid

from django.utils import timezone

from jobs.calculations.step_order import MAKE_SAFE, not_made_safe, steps_in_words
from jobs.models import Job, JobStep
from jobs.operations.jobs import locked_job, wrong_state
from jobs.refusals import MakeSafeFirst
from services.api.refusals import InvalidValue, NotThere
from services.identity.callers import Caller

UNDER_WAY = ("in-progress", "on-hold", "awaiting-sign-off")
LONGEST_AGO = datetime.timedelta(days=90)
CLOCKS_APART = datetime.timedelta(days=1)


def job_under_way(by: Caller, job_id: uuid.UUID, what: str, *roles: str) -> Job:
    """The job, locked, from its start until it is signed off. Raises `WrongJobState`."""
    job = locked_job(by, job_id, *roles)
    if job.state not in UNDER_WAY:
        raise wrong_state(job, what, "under way")
    return job


def step_reached(job: Job, number: int) -> JobStep:
    """The step, once making safe is confirmed or where it is part of it. Raises `NotThere`, `MakeSafeFirst`."""
    steps = {one.number: one for one in JobStep.objects.filter(job=job)}
    if number not in steps:
        raise NotThere(f"Job {job.number} has no step {number}.", remedy="Read the job's steps.")
    unsafe = not_made_safe((one.number, one.section, one.state) for one in steps.values())
    if steps[number].section != MAKE_SAFE and unsafe:
        raise MakeSafeFirst(
            f"Make-safe {steps_in_words(unsafe)} not confirmed.",
            remedy="Confirm them on site first: isolated, locked and tagged, proved dead, drained, cool.",
            unconfirmed=list(unsafe),
        )
    return steps[number]


def happened_at(
    occurred_at: datetime.datetime | None,
    pointer: str = "#/occurred_at",
    *,
    started: datetime.datetime | None = None,
) -> datetime.datetime:
    """When it happened: now where nothing is said. ``started``: the start of the job that it belongs to, if to one.

    Raises `InvalidValue` for the future, for long ago, and for before the job began.
    """
    now = timezone.now()
    when = occurred_at or now
    if when > now + datetime.timedelta(minutes=5):
        raise InvalidValue("It would be in the future.", remedy="Check the device's clock.", pointer=pointer)
    if when < now - LONGEST_AGO:
        raise InvalidValue(
            "It is more than 90 days ago.", remedy="Check the device's clock, or note it in words.", pointer=pointer
        )
    if started is not None and before_start(when, started):
        raise InvalidValue(
            "The job was started more than a day later.",
            remedy="Check the device's clock. What was done or measured before the job began is done anew.",
            pointer=pointer,
        )
    return when


def before_start(when: datetime.datetime, started: datetime.datetime) -> bool:
    """Whether a moment lies further before a job's start than a clock set to another zone explains."""
    return when < started - CLOCKS_APART
