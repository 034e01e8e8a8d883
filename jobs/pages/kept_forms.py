"""Forms of the job sheet: each runs an operation, and one that was refused is shown again as it was written."""

import uuid
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.urls import reverse
from django.views.decorators.http import require_POST

from services.api.refusals import InvalidValue
from services.identity.callers import Caller, caller_of
from services.web.pages import Said, run_post, signed_in

WRITTEN, LONGEST, LONGEST_NUMBER = "written", 2000, 6
NEVER_KEPT = frozenset({"csrfmiddlewaretoken", "version", "seen", "id"})

Act = Callable[[HttpRequest, Caller, uuid.UUID], str | Said]


def sheet_address(job: uuid.UUID, step: str | int | None = None) -> str:
    """The page of a job, with another step than the next in full."""
    return reverse("job-sheet", args=[job]) + (f"?step={step}" if step else "")


def form_of_job(perform: Act, name: str) -> Callable[..., HttpResponseBase]:
    """A view for one form of a job's page: back to the sheet, and to the step that the form named."""

    @require_POST
    @signed_in
    def view(request: HttpRequest, job: uuid.UUID) -> HttpResponse:
        number = request.POST.get("step", "")
        back = sheet_address(job, number if number.isdecimal() and len(number) <= LONGEST_NUMBER else None)
        return run_and_keep(request, lambda: perform(request, caller_of(request), job), back, name)

    return view


def run_and_keep(request: HttpRequest, perform: Callable[[], str | Said], back: str, name: str) -> HttpResponse:
    """Run a form's operation. Where it is refused, what was written is kept until the page is shown again."""
    done: list[str | Said] = []

    def performed() -> str | Said:
        said = perform()
        done.append(said)
        return said

    answer = run_post(request, performed, back)
    if done:
        request.session.pop(WRITTEN, None)
    else:
        fields = {key: str(text)[:LONGEST] for key, text in request.POST.items() if key not in NEVER_KEPT}
        request.session[WRITTEN] = {"page": back.partition("?")[0], "form": name, "fields": fields}
    return answer


def written_on(request: HttpRequest) -> dict[str, str]:
    """What was written into a form of this page that was refused, by field, with its name under ``form``; once."""
    kept = request.session.get(WRITTEN)
    if not kept or kept["page"] != request.path:
        return {}
    del request.session[WRITTEN]
    return {name.replace("-", "_"): text for name, text in kept["fields"].items()} | {"form": kept["form"]}


def step_of(request: HttpRequest) -> int | None:
    """The step that a form was filled in on; None where it is of the job as a whole. Raises `InvalidValue`."""
    text = request.POST.get("step", "")
    if not text:
        return None
    if not text.isdecimal() or len(text) > LONGEST_NUMBER:
        raise InvalidValue("The form does not say on which step it was.", remedy="Load the page again.")
    return int(text)


def text_of(request: HttpRequest, name: str, most: int = 2000) -> str:
    """A text that may be left empty."""
    return request.POST.get(name, "").replace("\x00", "").strip()[:most]


def needed_text(request: HttpRequest, name: str, what: str, most: int = 2000) -> str:
    """A text that must be there. Raises `InvalidValue` with ``what`` in its sentence."""
    text = text_of(request, name, most)
    if not text:
        raise InvalidValue(f"{what} is missing.", remedy="Write it in a few words.")
    return text
