"""Looking at what replenishment proposes, and deciding. Everything works without scripts."""

import datetime
import uuid

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from assets.access import has_role
from assets.calculations.written_numbers import plain
from kits.operations.orders import BUYERS
from kits.operations.proposals import approve_proposal, edit_proposal, reject_proposal, snooze_proposal
from kits.pages.chosen_site import page_of_site
from kits.pages.forms import date_of, decimal_of
from kits.queries.proposal_pages import proposal_page, proposals_by_supplier
from services.api.refusals import InvalidValue
from services.identity.callers import caller_of
from services.web.forms import version_of
from services.web.pages import run_post, signed_in


@require_GET
@signed_in
def proposals(request: HttpRequest) -> HttpResponse:
    """Proposals of one granted site by supplier; ``?site=code`` chooses another."""
    today = timezone.now().date()
    return page_of_site(
        request, "kits/proposals.html", lambda by, site: proposals_by_supplier(by, site["id"], on=today)
    )


@require_GET
@signed_in
def proposal(request: HttpRequest, proposal: uuid.UUID) -> HttpResponse:
    """One proposal with its working."""
    by, today = caller_of(request), timezone.now().date()
    context = proposal_page(by, proposal, on=today)
    found = context["proposal"]
    return render(
        request,
        "kits/proposal.html",
        {
            **context,
            "back": reverse("proposals") + f"?site={found['site_code']}",
            "may_decide": found["undecided"] and has_role(by, found["site_id"], *BUYERS),
            "tomorrow": today + datetime.timedelta(days=1),
        },
    )


@require_POST
@signed_in
def approve(request: HttpRequest, proposal: uuid.UUID) -> HttpResponse:
    """Approve what was seen, with the quantity in the form."""

    def perform() -> str:
        done = approve_proposal(
            by=caller_of(request),
            proposal_id=proposal,
            expected_version=version_of(request),
            quantity=decimal_of(request.POST.get("quantity", ""), "The quantity"),
            override_reason=request.POST.get("override_reason", "").strip()[:300],
        )
        where = f"transfer {done.transfer.number}" if done.transfer else ""
        if done.order_line:
            where = f"order {done.order_line.order.number}"
        return f"Approved: {plain(done.quantity)} on {where}."

    return run_post(request, perform, _back(request))


@require_POST
@signed_in
def edit(request: HttpRequest, proposal: uuid.UUID) -> HttpResponse:
    """Propose the quantity in the form, and leave the decision for later."""

    def perform() -> str:
        done = edit_proposal(
            by=caller_of(request),
            proposal_id=proposal,
            expected_version=version_of(request),
            quantity=decimal_of(request.POST.get("quantity", ""), "The quantity"),
        )
        return f"The quantity is {plain(done.quantity)} now; it stands until somebody decides."

    return run_post(request, perform, _back(request))


@require_POST
@signed_in
def reject(request: HttpRequest, proposal: uuid.UUID) -> HttpResponse:
    """Reject it with a reason, and a day before which it is not proposed again where one is given."""

    def perform() -> str:
        reason = request.POST.get("reason", "").strip()
        if not reason:
            raise InvalidValue("A rejection needs a reason.", remedy="Write why, in a few words.")
        done = reject_proposal(
            by=caller_of(request),
            proposal_id=proposal,
            expected_version=version_of(request),
            reason=reason[:300],
            until=date_of(request.POST.get("until", ""), "The day"),
        )
        day = _day(done.holds_until) if done.holds_until else "a month from now"
        return f"Rejected. It is not proposed again before {day} unless a job would go short."

    return run_post(request, perform, _back(request))


@require_POST
@signed_in
def snooze(request: HttpRequest, proposal: uuid.UUID) -> HttpResponse:
    """Put it off until a day."""

    def perform() -> str:
        until = date_of(request.POST.get("until", ""), "The day")
        if until is None:
            raise InvalidValue("The day is missing.", remedy="Give the day on which it is shown again.")
        snooze_proposal(by=caller_of(request), proposal_id=proposal, expected_version=version_of(request), until=until)
        return f"Put off. It is shown again on {_day(until)}."

    return run_post(request, perform, _back(request))


def _day(day: datetime.date) -> str:
    return f"{day.day} {day:%B %Y}"


def _back(request: HttpRequest) -> str:
    return request.POST.get("back") or reverse("proposals")
