"""What is recorded at a step: measurements, that it is done, and that another person has looked."""

import uuid
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_POST

from assets.calculations.written_numbers import plain
from jobs.calculations.verdict import verdict_words
from jobs.operations.measurements import record_measurement
from jobs.operations.steps import confirm_step, release_hold_point
from jobs.pages.kept_forms import run_and_keep, sheet_address, text_of
from jobs.pages.measuring_form import given_in, readings_in, written_in
from services.identity.callers import caller_of
from services.web.forms import id_of, version_of
from services.web.pages import Said, run_post, signed_in


@require_POST
@signed_in
def measure(request: HttpRequest, job: uuid.UUID, number: int) -> HttpResponse:
    """Record readings of one characteristic; the answer says the verdict and why. What was refused stays written."""
    recorded: list[str] = []

    def perform() -> str | Said:
        asks_two = "second-instrument" in request.POST
        second = id_of(request, "second-instrument", "The second instrument") if asks_two else None
        made = record_measurement(
            by=caller_of(request),
            job_id=job,
            step=number,
            characteristic=request.POST.get("characteristic", ""),
            readings=readings_in(request),
            given=given_in(request),
            unit=request.POST.get("unit", ""),
            instrument_id=id_of(request, "instrument", "The instrument"),
            second_instrument_id=second,
            as_read="as-read" in request.POST,
            measurement_id=id_of(request, "id", "The id of the measurement"),
        )
        recorded.append(made.verdict)
        sentences = " ".join(one["sentence"] for one in made.reasons)
        verdict = verdict_words(made.verdict, made.lower, made.upper).capitalize()
        words = f"{verdict}: {plain(made.value)} {made.limits_unit}. {sentences}"
        return words if made.verdict == "accept" else Said(words)

    answer = run_post(request, perform, sheet_address(job, number))
    if not recorded:
        written = [("of", request.POST.get("characteristic", "")), *written_in(request)]
        answer["Location"] = f"{sheet_address(job, number)}&{urlencode(written)}"
    return answer


@require_POST
@signed_in
def confirm(request: HttpRequest, job: uuid.UUID, number: int) -> HttpResponse:
    """The step is done; back to the next one."""
    confirmed: list[str] = []

    def perform() -> str:
        step = confirm_step(by=caller_of(request), job_id=job, number=number, note=text_of(request, "note"))
        confirmed.append(step.state)
        if step.state == "awaiting-release":
            return f"Step {number} is done and waits until another person has looked."
        return f"Step {number} is done."

    answer = run_and_keep(request, perform, sheet_address(job), f"confirm-{number}")
    if not confirmed:
        answer["Location"] = sheet_address(job, number)
    return answer


@require_POST
@signed_in
def release(request: HttpRequest, job: uuid.UUID, number: int) -> HttpResponse:
    """Another person has looked at a hold point."""

    def perform() -> str:
        release_hold_point(
            by=caller_of(request),
            job_id=job,
            number=number,
            expected_version=version_of(request),
            remark=text_of(request, "release-remark"),
        )
        return f"Hold point {number} is released."

    return run_and_keep(request, perform, sheet_address(job), f"release-{number}")
