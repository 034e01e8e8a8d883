"""What a problem's code means: the address in its ``type``."""

import inspect

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from services.api.problems import STATUS, TITLES
from services.api.refusals import known_refusals


@require_GET
def problem_page(request: HttpRequest, code: str) -> HttpResponse:
    """One code: its title, what it means and what would help."""
    refusal = known_refusals().get(code)
    if refusal is not None:
        words = " ".join((inspect.getdoc(refusal) or "").split())
        shown = {"code": code, "title": refusal.title, "status": STATUS[refusal.kind], "words": words}
        return render(request, "web/problem.html", shown)
    for status, (known, title) in TITLES.items():
        if known == code:
            return render(request, "web/problem.html", {"code": code, "title": title, "status": status, "words": ""})
    raise Http404(code)
