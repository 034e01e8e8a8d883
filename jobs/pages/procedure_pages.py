"""Procedures for their authors: what is new in a revision, what checks find, what was done with it, what is next."""

import uuid
from collections.abc import Callable
from itertools import groupby
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from assets.access import has_role
from jobs.calculations.procedure_rows import document_from
from jobs.operations.procedure_reviews import publish, review, send_back, submit
from jobs.operations.procedure_soundness import judged
from jobs.pages.kept_forms import needed_text, run_and_keep, text_of, written_on
from jobs.queries.procedure_pages import acts_listed, others_of, revisions_listed, what_is_new
from jobs.queries.procedures import AUTHOR, head_of, revision_for, step_rows
from services.identity.callers import Caller, caller_of
from services.web.forms import version_of
from services.web.pages import signed_in


@require_GET
@signed_in
def procedures(request: HttpRequest) -> HttpResponse:
    """All revisions that the caller sees: authors those being written, too."""
    by = caller_of(request)
    found = revisions_listed(by)
    waiting = [one for one in found if one["state"] in {"draft", "in-review", "reviewed"}]
    settled = [one for one in found if one not in waiting]
    groups = [("In hand", waiting), ("Published, superseded, withdrawn", settled)]
    return render(request, "jobs/procedures.html", {"groups": groups})


@require_GET
@signed_in
def procedure(request: HttpRequest, revision: uuid.UUID) -> HttpResponse:
    """One revision; ``?before=id`` holds it against another than the one before it."""
    by = caller_of(request)
    found = revision_for(by, revision)
    other = request.GET.get("before")
    steps = step_rows(found.pk)
    context: dict[str, Any] = {
        "revision": found,
        "author": has_role(by, None, AUTHOR),
        "steps": len(steps),
        "sections": [(name, list(rows)) for name, rows in groupby(steps, key=lambda one: one["section"])],
        "checked": judged(document_from(head_of(found), steps)),
        "acts": acts_listed(by, found),
        "others": others_of(by, found),
        "new": what_is_new(by, found, revision_for(by, other) if other else None),
        "written": written_on(request),
    }
    return render(request, "jobs/procedure.html", context)


Act = Callable[[HttpRequest, Caller, uuid.UUID, int], str]


def _submit(request: HttpRequest, by: Caller, revision: uuid.UUID, version: int) -> str:
    submit(by=by, revision_id=revision, expected_version=version, remarks=text_of(request, "remarks"))
    return "Handed in. Another author looks at it."


def _review(request: HttpRequest, by: Caller, revision: uuid.UUID, version: int) -> str:
    review(by=by, revision_id=revision, expected_version=version, remarks=text_of(request, "remarks"))
    return "Found good. It can be published."


def _send_back(request: HttpRequest, by: Caller, revision: uuid.UUID, version: int) -> str:
    remarks = needed_text(request, "mend", "What must be mended")
    send_back(by=by, revision_id=revision, expected_version=version, remarks=remarks)
    return "Sent back with your remarks."


def _publish(request: HttpRequest, by: Caller, revision: uuid.UUID, version: int) -> str:
    publish(by=by, revision_id=revision, expected_version=version)
    return "Published. Jobs that are under way stay on the revision they began with."


def _view(act: Act, name: str) -> Callable[..., HttpResponseBase]:
    @require_POST
    @signed_in
    def view(request: HttpRequest, revision: uuid.UUID) -> HttpResponse:
        back = reverse("procedure-page", args=[revision])
        return run_and_keep(
            request, lambda: act(request, caller_of(request), revision, version_of(request)), back, name
        )

    return view


hand_in, find_good, mend, publish_it = (
    _view(act, name)
    for act, name in ((_submit, "hand-in"), (_review, "find-good"), (_send_back, "mend"), (_publish, "publish"))
)
