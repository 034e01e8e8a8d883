"""The page that a telephone opens when a label is scanned."""

import uuid

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.calculations.label_codes import CodeUnreadable, grouped, read_code
from jobs.queries.scanned_labels import scanned
from jobs.refusals import CodeNotRead
from services.api.refusals import NotThere
from services.identity.callers import caller_of
from services.web.pages import signed_in


@require_safe
@signed_in
def scanned_label(request: HttpRequest, code: str) -> HttpResponse:
    """What was scanned, what must be said first, and what is needed next."""
    try:
        read = read_code(code)
    except CodeUnreadable as error:
        raise CodeNotRead(str(error), remedy="Scan it again, or type the ten characters beneath the symbol.") from error
    found = scanned(by=caller_of(request), code=read, on=timezone.now().date(), site_id=_site(request))
    return render(request, "jobs/scanned_label.html", found | {"printed_code": grouped(read)})


def _site(request: HttpRequest) -> uuid.UUID | None:
    text = request.GET.get("site")
    if not text:
        return None
    try:
        return uuid.UUID(text)
    except ValueError as error:
        raise NotThere("There is no such site.", remedy="Leave site out of the address.") from error
