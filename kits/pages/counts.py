"""Counting stock on a phone, and looking over what was counted. Everything works without scripts."""

import datetime
import uuid
from itertools import groupby
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from assets.access import has_role
from assets.calculations.written_numbers import plain
from assets.queries.sites import bin_codes, granted_sites
from kits.operations.count_entries import Counted, enter_counted
from kits.operations.count_posting import post_count
from kits.operations.counts import cancel_count, make_count, send_back_count, submit_count
from kits.pages.chosen_site import page_of_site, site_among
from kits.pages.forms import cure_date_of, decimal_of
from kits.queries.count_plan import count_plan
from kits.queries.counts import COUNTERS, REVIEWERS, book_is_shown, count_lines, count_of_page, open_counts, totals
from kits.queries.items import items_by_number
from services.api.refusals import InvalidValue
from services.identity.callers import Caller, caller_of
from services.web.forms import version_of
from services.web.pages import run_post, signed_in

# The page offers what is due within so many days.
AHEAD = datetime.timedelta(days=6)


@require_GET
@signed_in
def open_sheets(request: HttpRequest) -> HttpResponse:
    """Sheets to count and to look over at one granted site; ``?site=code`` chooses another. Stores make new ones."""
    return page_of_site(request, "kits/counts.html", _sheets_of)


def _sheets_of(by: Caller, site: dict[str, Any]) -> dict[str, Any]:
    now, sheets = timezone.now(), open_counts(by, site["id"])
    may_make = has_role(by, site["id"], *REVIEWERS)
    until = now.date() + AHEAD
    context: dict[str, Any] = {
        "until": until,
        "to_count": [one for one in sheets if one["state"] == "open"],
        "to_review": [one for one in sheets if one["state"] == "counted"],
        "may_count": has_role(by, site["id"], *COUNTERS),
        "may_make": may_make,
    }
    if may_make:
        context |= {"plan": count_plan(by, site["id"], now=now, until=until), "bins": bin_codes(site["id"])}
    return context


@require_POST
@signed_in
def make(request: HttpRequest) -> HttpResponse:
    """A sheet of what is due, of one bin, or of everything."""
    by, what = caller_of(request), request.POST.get("what", "")

    def perform() -> str:
        chosen: dict[str, Any] = {}
        if what == "due":
            chosen = {"planned_until": timezone.now().date() + AHEAD}
        elif what.startswith("bin "):
            chosen = {"bins": [what.removeprefix("bin ")]}
        elif what != "all":
            raise InvalidValue("The form does not say what to count.", remedy="Load the page again.")
        site = site_among(granted_sites(by), request.POST.get("site", ""))
        made = make_count(by=by, site_id=site["id"], **chosen)
        return f"Count {made.number} is ready to be counted."

    return run_post(request, perform, request.POST.get("back") or reverse("counts"))


@require_GET
@signed_in
def sheet(request: HttpRequest, count: uuid.UUID) -> HttpResponse:
    """The sheet to count on while it is open; afterwards what was counted, beside the book for who may see it."""
    by = caller_of(request)
    found = count_of_page(by, count)
    lines = count_lines(by, found)
    context: dict[str, Any] = {"count": found, "back": reverse("counts") + f"?site={found['site_code']}"}
    may_review = has_role(by, found["site"], *REVIEWERS)
    if found["state"] == "open":
        mine = [one for one in lines if _may_count(one, found, by)]
        context |= {
            "bins": [(code, list(rows)) for code, rows in groupby(mine, key=lambda one: one["bin_code"])],
            "others": [one for one in lines if one["state"] == "recount" and one["not_by"] == by.id],
            "left": sum(one["state"] != "counted" for one in lines),
            "total": len(lines),
            "may_count": has_role(by, found["site"], *COUNTERS),
            "may_review": may_review,
            "codes": bin_codes(found["site"]),
        }
        return render(request, "kits/count_sheet.html", context)
    differing = [one for one in lines if one["difference"]]
    context |= {
        "shown": book_is_shown(by, found),
        "lines": lines,
        "differing": sorted(differing, key=lambda one: (one["value"] is not None, -abs(one["value"] or 0))),
        "agreeing": [one for one in lines if not one["difference"]],
        "totals": totals(lines),
        "may_decide": may_review and found["state"] == "counted",
        "own": [one["line"] for one in differing if one["counted_by"] == by.id],
    }
    return render(request, "kits/count_review.html", context)


def _may_count(line: dict[str, Any], count: dict[str, Any], by: Caller) -> bool:
    """Whether the line is asked for in this round, of this person."""
    return bool(line["not_by"] != by.id and (line["state"] != "counted" or line["round"] == count["round"]))


@require_POST
@signed_in
def enter(request: HttpRequest, count: uuid.UUID) -> HttpResponse:
    """Save what was written into the lines that changed; then hand the sheet in, where that button was used.

    What can be read is saved whatever else is wrong: nobody types a whole sheet twice.
    """
    by, back = caller_of(request), _address(count)
    entries, unread = _written(request)
    saved: list[int] = []

    def save() -> str:
        saved.append(enter_counted(by=by, count_id=count, entries=entries).version)
        return f"Saved {len(entries)} {'line' if len(entries) == 1 else 'lines'}."

    def submit() -> str:
        done = submit_count(by=by, count_id=count, expected_version=saved[0] if saved else version_of(request))
        if done.state == "open":
            return "Handed in. Some lines are counted once more by another person."
        return "Handed in. Stores looks it over now."

    if entries:
        run_post(request, save, back)
    if unread:
        messages.error(request, f"{', '.join(unread)} cannot be read. Write a number such as 2, or 0 for nothing.")
    elif request.POST.get("do") == "submit" and (saved or not entries):
        run_post(request, submit, back)
    elif not entries:
        messages.success(request, "Nothing changed.")
    return HttpResponseRedirect(back)


def _written(request: HttpRequest) -> tuple[list[Counted], list[str]]:
    """What the form holds of lines that changed, and the words that are no quantity."""
    entries, unread = [], []
    for name, given in request.POST.items():
        text = str(given)
        line = name.removeprefix("line-")
        if line == name or not line.isdecimal() or not text.strip() or text == request.POST.get(f"was-{line}"):
            continue
        try:
            entries.append(Counted(_not_negative(decimal_of(text, "It")), line=int(line)))
        except InvalidValue:
            unread.append(f"\N{LEFT DOUBLE QUOTATION MARK}{text[:20]}\N{RIGHT DOUBLE QUOTATION MARK}")
    return entries, unread


def _not_negative(quantity: Any) -> Any:
    if quantity < 0:
        raise InvalidValue("Less than nothing cannot lie there.", remedy="Write 0 where nothing lies.")
    return quantity


@require_POST
@signed_in
def found(request: HttpRequest, count: uuid.UUID) -> HttpResponse:
    """Something lies there that is not on the sheet."""
    by = caller_of(request)

    def perform() -> str:
        number, _, revision = request.POST.get("number", "").strip().partition(" ")
        asked = (number, revision.strip() or None)
        item = items_by_number([asked]).get(asked)
        if item is None:
            raise InvalidValue(
                f"There is no item {number} {revision}".strip() + ".", remedy="Write its number as on the label."
            )
        entry = Counted(
            _not_negative(decimal_of(request.POST.get("quantity", ""), "The quantity")),
            bin=request.POST.get("bin", ""),
            item_id=item,
            lot=request.POST.get("lot", "").strip()[:60],
            cure_date=cure_date_of(request.POST.get("cure_date", "")),
        )
        enter_counted(by=by, count_id=count, entries=[entry])
        return f"Saved what was found: {plain(entry.quantity)} of {number}, lot {entry.lot}."

    return run_post(request, perform, _address(count))


@require_POST
@signed_in
def post(request: HttpRequest, count: uuid.UUID) -> HttpResponse:
    """Post what was looked over."""

    def perform() -> str:
        done = post_count(
            by=caller_of(request),
            count_id=count,
            expected_version=version_of(request),
            reason=request.POST.get("reason", "").strip()[:300],
        )
        return f"Count {done.number} is posted."

    return run_post(request, perform, _address(count))


@require_POST
@signed_in
def send_back(request: HttpRequest, count: uuid.UUID) -> HttpResponse:
    """Have the ticked lines counted again."""

    def perform() -> str:
        lines = [int(one) for one in request.POST.getlist("again") if one.isdecimal()]
        if not lines:
            raise InvalidValue("No line is ticked.", remedy="Tick the lines to be counted again.")
        send_back_count(
            by=caller_of(request), count_id=count, expected_version=version_of(request), lines=lines,
            reason=_reason(request),
        )  # fmt: skip
        return f"{len(lines)} {'line is' if len(lines) == 1 else 'lines are'} counted again by another person."

    return run_post(request, perform, _address(count))


@require_POST
@signed_in
def cancel(request: HttpRequest, count: uuid.UUID) -> HttpResponse:
    """Nothing of it is posted."""

    def perform() -> str:
        done = cancel_count(
            by=caller_of(request), count_id=count, expected_version=version_of(request), reason=_reason(request)
        )
        return f"Count {done.number} is cancelled."

    return run_post(request, perform, _address(count))


def _reason(request: HttpRequest) -> str:
    reason = request.POST.get("reason", "").strip()
    if not reason:
        raise InvalidValue("A reason is needed.", remedy="Write why, in a few words.")
    return reason[:300]


def _address(count: uuid.UUID) -> str:
    return reverse("count", args=[count])
