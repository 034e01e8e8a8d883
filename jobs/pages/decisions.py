"""What is not as it must be: reported by whoever sees it, decided by a supervisor."""

import uuid

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_POST

from jobs.operations.nonconformities import decide, raise_nonconformity
from jobs.operations.offline_records import settle_record
from jobs.pages.kept_forms import form_of_job, needed_text, run_and_keep, sheet_address, text_of
from services.api.refusals import InvalidValue
from services.identity.callers import Caller, caller_of
from services.web.forms import reason_of, version_of
from services.web.pages import signed_in

DISPOSITIONS = ("rework", "replace", "use-as-is")


def _report(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    description = needed_text(request, "description", "What was found", 500)
    raise_nonconformity(by=by, job_id=job, description=description)
    return "Kept. A supervisor decides what becomes of it."


report = form_of_job(_report, "report")


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
            extent=text_of(request, "extent", 500) if disposition == "use-as-is" else "",
        )
        return f"Decided: {disposition.replace('-', ' ')}."

    return run_and_keep(request, perform, sheet_address(job), f"decide-{nonconformity}")


@require_POST
@signed_in
def settle_offline(request: HttpRequest, job: uuid.UUID, record: uuid.UUID) -> HttpResponse:
    """Apply a record that came late, or set it aside; both stay readable."""

    def perform() -> str:
        decision = request.POST.get("decision", "")
        if decision not in {"apply", "set-aside"}:
            raise InvalidValue("Nothing is chosen.", remedy="Apply the record, or set it aside.")
        settle_record(
            by=caller_of(request),
            record_id=record,
            expected_version=version_of(request),
            decision=decision,
            reason=reason_of(request),
        )
        return "The record is applied." if decision == "apply" else "The record is set aside. It stays readable."

    return run_and_keep(request, perform, sheet_address(job), f"offline-{record}")
