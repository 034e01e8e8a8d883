"""What a fitter records beside measurements: findings in words and codes, photos and documents, time."""

import uuid

from django.http import HttpRequest

from assets.calculations.position_words import position_words
from jobs.operations.attachments import attach_file
from jobs.operations.findings import record_finding
from jobs.operations.work_bookings import book_work
from jobs.pages.kept_forms import form_of_job, needed_text, step_of, text_of
from services.api.refusals import InvalidValue
from services.identity.callers import Caller
from services.web.forms import id_of


def _find(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    found = record_finding(
        by=by,
        job_id=job,
        role=needed_text(request, "role", "The position", 40),
        observed=needed_text(request, "observed", "What was seen"),
        mode=needed_text(request, "mode", "How it showed", 3),
        mechanism=text_of(request, "mechanism", 3),
        bearing_damage=text_of(request, "bearing-damage", 7),
        cause=text_of(request, "cause"),
        replacement_reason=text_of(request, "replacement-reason", 12),
        step=step_of(request),
        needs_decision="needs-decision" in request.POST,
        finding_id=id_of(request, "id", "The id of the finding"),
    )
    said = f"Kept: what was found at the {position_words(found.role)}."
    return f"{said} A supervisor decides what becomes of it." if found.nonconformity_id else said


def _attach(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    sent = request.FILES.get("file")
    if sent is None:
        raise InvalidValue("There is no file.", remedy="Take the photo or choose a file, then press the button.")
    made = attach_file(
        by=by,
        job_id=job,
        content=sent.read(),
        name=sent.name or "photo",
        caption=text_of(request, "caption", 300),
        step=step_of(request),
        attachment_id=id_of(request, "id", "The id of the photo"),
    )
    return f"Attached: {made.caption or made.name}."


def _book(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    minutes = text_of(request, "minutes", 6)
    if not minutes.isdecimal():
        raise InvalidValue("Minutes are a whole number.", remedy="Write how many minutes it took, such as 45.")
    made = book_work(
        by=by,
        job_id=job,
        minutes=int(minutes),
        step=step_of(request),
        note=text_of(request, "time-note", 300),
        booking_id=id_of(request, "id", "The id of the booking"),
    )
    return f"Booked: {made.minutes} minutes."


find = form_of_job(_find, "finding")
attach = form_of_job(_attach, "photo")
book = form_of_job(_book, "time")
