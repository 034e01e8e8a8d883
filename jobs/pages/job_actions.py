"""What is done to a job as a whole: begin, hold, take its kit, finish, sign, and plan anew."""

import datetime
import uuid
from typing import Any

from django.http import HttpRequest

from jobs.operations.closing import finish_job, sign_off, take_kit
from jobs.operations.jobs import hold_job, reserve_kit, resume_job
from jobs.operations.rescheduling import hand_over_job, reschedule_job
from jobs.operations.starting import start_job
from jobs.pages.kept_forms import form_of_job, needed_text, text_of
from jobs.pages.measuring_form import number_of
from services.api.refusals import InvalidValue
from services.identity.callers import Caller
from services.web.forms import id_of, reason_of, version_of


def _reserve(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    done = reserve_kit(by=by, job_id=job)
    return f"The kit is held for {done.number}. The job is {done.state.replace('-', ' ')} now."


def _start(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    return f"{start_job(by=by, job_id=job, expected_version=version_of(request)).number} has begun. Make it safe first."


def _take(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    lots = len(take_kit(by=by, job_id=job))
    return f"Taken off the shelf, from {'one lot' if lots == 1 else f'{lots} lots'}."


def _hold(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    done = hold_job(by=by, job_id=job, expected_version=version_of(request), reason=reason_of(request))
    return f"{done.number} is on hold."


def _resume(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    done = resume_job(by=by, job_id=job, expected_version=version_of(request))
    return f"{done.number} goes on: it is {done.state.replace('-', ' ')} now."


def _finish(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    return f"{finish_job(by=by, job_id=job, expected_version=version_of(request)).number} waits for its sign-off."


def _sign(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    """What is signed is what was shown: the form carries the hash of the record that the page was made from."""
    done, signature = sign_off(
        by=by,
        job_id=job,
        expected_version=version_of(request),
        returned=_returned(request),
        remark=text_of(request, "remark"),
        seen=needed_text(request, "seen", "The hash of the record that was shown", 80),
    )
    return f"{done.number} is closed, signed over {signature.content_hash[:23]}."


def _returned(request: HttpRequest) -> list[dict[str, Any]]:
    """Parts that came back unused; lines left empty did not."""
    back = []
    for name, given in request.POST.items():
        part = name.removeprefix("back-")
        text = str(given).strip()
        if part == name or not text:
            continue
        quantity = number_of(text, "What came back")
        if quantity < 0:
            raise InvalidValue("Less than nothing cannot come back.", remedy="Leave it empty where nothing came back.")
        if quantity:
            back.append({"part": _part(part), "quantity": quantity, "reason": "not used"})
    return back


def _part(text: str) -> uuid.UUID:
    try:
        return uuid.UUID(text)
    except ValueError as error:
        raise InvalidValue("A part that came back is not known.", remedy="Load the page again.") from error


def _hand_over(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    to = id_of(request, "to", "Who takes it over") if request.POST.get("to") != "nobody" else None
    done = hand_over_job(
        by=by, job_id=job, expected_version=version_of(request), to=to, note=text_of(request, "handing-note")
    )
    return f"{done.number} is handed over." if to else f"{done.number} is nobody's for now."


def _reschedule(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    done = reschedule_job(
        by=by,
        job_id=job,
        expected_version=version_of(request),
        planned_start=_day(request, "first-day", "The first day"),
        planned_end=_day(request, "last-day", "The last day") if request.POST.get("last-day") else None,
        reason=needed_text(request, "moving-reason", "Why it is moved", 300),
    )
    return f"{done.number} is planned for {done.planned_start:%-d %B %Y} now. It is {done.state.replace('-', ' ')}."


def _day(request: HttpRequest, name: str, what: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(request.POST.get(name, ""))
    except ValueError as error:
        raise InvalidValue(f"{what} is not a day.", remedy="Choose it, or write it as 2027-01-31.") from error


reserve, start, take, hold, resume, finish, sign, hand_over, reschedule = (
    form_of_job(act, name)
    for act, name in (
        (_reserve, "reserve"),
        (_start, "start"),
        (_take, "take"),
        (_hold, "hold"),
        (_resume, "resume"),
        (_finish, "finish"),
        (_sign, "sign"),
        (_hand_over, "hand-over"),
        (_reschedule, "reschedule"),
    )
)
