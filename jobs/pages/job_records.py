"""What people do on the job sheet. Each form runs the same operation as the API."""

import uuid
from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.urls import reverse
from django.views.decorators.http import require_POST

from jobs.operations.closing import finish_job, sign_off, take_kit
from jobs.operations.jobs import hold_job, reserve_kit, resume_job
from jobs.operations.measurements import record_measurement
from jobs.operations.nonconformities import decide, raise_nonconformity
from jobs.operations.starting import start_job
from jobs.operations.steps import confirm_step, release_hold_point
from jobs.pages.measuring_form import given_in, number_of, readings_in, written_in
from services.api.refusals import InvalidValue
from services.identity.callers import Caller, caller_of
from services.web.forms import id_of, reason_of, version_of
from services.web.pages import Said, run_post, signed_in


def _address(job: uuid.UUID, step: int | None = None) -> str:
    return reverse("job-sheet", args=[job]) + (f"?step={step}" if step else "")


def _act(perform: Callable[[HttpRequest, Caller, uuid.UUID], str]) -> Callable[..., HttpResponseBase]:
    """A form of the job as a whole, back to its sheet."""

    @require_POST
    @signed_in
    def view(request: HttpRequest, job: uuid.UUID) -> HttpResponse:
        return run_post(request, lambda: perform(request, caller_of(request), job), _address(job))

    return view


def _reserve(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    done = reserve_kit(by=by, job_id=job)
    return f"The kit is held for {done.number}. The job is {done.state} now."


def _start(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    return f"{start_job(by=by, job_id=job, expected_version=version_of(request)).number} has begun. Make it safe first."


def _take(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    return f"Taken off the shelf: {len(take_kit(by=by, job_id=job))} lots."


def _hold(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    done = hold_job(by=by, job_id=job, expected_version=version_of(request), reason=reason_of(request))
    return f"{done.number} is on hold."


def _resume(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    done = resume_job(by=by, job_id=job, expected_version=version_of(request))
    return f"{done.number} goes on: it is {done.state.replace('-', ' ')} now."


def _finish(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    return f"{finish_job(by=by, job_id=job, expected_version=version_of(request)).number} waits for its sign-off."


def _report(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    raise_nonconformity(by=by, job_id=job, description=reason_of(request, "description"))
    return "Kept. A supervisor decides what becomes of it."


def _sign(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    done, signature = sign_off(
        by=by,
        job_id=job,
        expected_version=version_of(request),
        returned=_returned(request),
        remark=request.POST.get("remark", "").strip()[:2000],
    )
    return f"{done.number} is closed, signed over {signature.content_hash[:23]}."


reserve, start, take, hold, resume, finish, report, sign = (
    _act(one) for one in (_reserve, _start, _take, _hold, _resume, _finish, _report, _sign)
)


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
        words = f"{VERDICTS[made.verdict]}: {made.value.normalize():f} {made.limits_unit}. {sentences}"
        return words if made.verdict == "accept" else Said(words)

    answer = run_post(request, perform, _address(job, number))
    if not recorded:
        written = [("of", request.POST.get("characteristic", "")), *written_in(request)]
        answer["Location"] = f"{_address(job, number)}&{urlencode(written)}"
    return answer


VERDICTS = {"accept": "Accepted", "reject": "Rejected", "not-proved": "Not proved"}


@require_POST
@signed_in
def confirm(request: HttpRequest, job: uuid.UUID, number: int) -> HttpResponse:
    """The step is done; back to the next one."""
    confirmed: list[str] = []

    def perform() -> str:
        step = confirm_step(
            by=caller_of(request), job_id=job, number=number, note=request.POST.get("note", "").strip()[:2000]
        )
        confirmed.append(step.state)
        if step.state == "awaiting-release":
            return f"Step {number} is done and waits until another person has looked."
        return f"Step {number} is done."

    answer = run_post(request, perform, _address(job))
    if not confirmed:
        answer["Location"] = _address(job, number)
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
            remark=request.POST.get("remark", "").strip()[:2000],
        )
        return f"Hold point {number} is released."

    return run_post(request, perform, _address(job))


@require_POST
@signed_in
def settle(request: HttpRequest, job: uuid.UUID, nonconformity: uuid.UUID) -> HttpResponse:
    """Decide what becomes of something that is not as it must be."""

    def perform() -> str:
        disposition = request.POST.get("disposition", "")
        if disposition not in DISPOSITIONS:
            raise InvalidValue("Nothing is chosen.", remedy="Choose rework, replace or use as it is.")
        decide(
            by=caller_of(request),
            nonconformity_id=nonconformity,
            expected_version=version_of(request),
            disposition=disposition,
            reason=reason_of(request),
        )
        return f"Decided: {disposition.replace('-', ' ')}."

    return run_post(request, perform, _address(job))


DISPOSITIONS = ("rework", "replace", "use-as-is")


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
            back.append({"part": uuid.UUID(part), "quantity": quantity, "reason": "not used"})
    return back
