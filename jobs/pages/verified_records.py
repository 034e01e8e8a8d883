"""The page that a telephone opens when the code on an overhaul record is scanned."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from jobs.queries.job_record_views import record_by_hash, whole_hash
from services.identity.callers import caller_of
from services.web.pages import signed_in


@require_safe
@signed_in
def verified_record(request: HttpRequest, digest: str) -> HttpResponse:
    """Whether the record of a hash is the one that was signed."""
    found = record_by_hash(by=caller_of(request), content_hash=whole_hash(digest))
    shown = {"job": {"id": found["job"]}, "digest": found["content_hash"].removeprefix("sha256:")}
    return render(request, "jobs/verified_record.html", found | shown)
