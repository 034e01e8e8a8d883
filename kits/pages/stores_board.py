"""The stores board: kits of a site that are short or expiring, proposals to decide, orders to receive."""

import uuid
from collections.abc import Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from assets.access import has_role
from assets.calculations.written_numbers import plain
from kits.operations.late_orders import record_chase
from kits.operations.network_sites import PLANNERS
from kits.operations.orders import BUYERS, RECEIVERS, Arrived, receive_order
from kits.pages.chosen_site import page_of_site
from kits.pages.forms import cure_date_of, date_of, decimal_of
from kits.queries.stores_board import EXPIRING_DAYS, kit_stock, orders_to_come, proposals_to_decide, proposals_waiting
from services.api.refusals import InvalidValue
from services.identity.callers import Caller, caller_of
from services.web.forms import version_of
from services.web.pages import run_post, signed_in


@require_GET
@signed_in
def stores_board(request: HttpRequest) -> HttpResponse:
    """One granted site at a glance; ``?site=code`` chooses another."""
    today = timezone.now().date()

    def add_waiting(by: Caller, sites: Sequence[dict[str, Any]]) -> None:
        counts = proposals_waiting(by, on=today)
        for one in sites:
            one["waiting"] = counts.get(one["id"], 0)

    def shown(by: Caller, site: dict[str, Any]) -> dict[str, Any]:
        return {
            "today": today,
            "kits": kit_stock(site["id"], on=today),
            "expiring_days": EXPIRING_DAYS,
            "proposals": proposals_to_decide(by, site["id"], on=today),
            "orders": orders_to_come(site["id"]),
            "may_decide": has_role(by, site["id"], *BUYERS),
            "may_plan": has_role(by, site["id"], *PLANNERS),
            "may_receive": has_role(by, site["id"], *RECEIVERS),
        }

    return page_of_site(request, "kits/stores_board.html", shown, add_waiting=add_waiting)


@require_POST
@signed_in
def receive(request: HttpRequest, order: uuid.UUID) -> HttpResponse:
    """Receive one line, whole or in part."""

    def perform() -> str:
        quantity = decimal_of(request.POST.get("quantity", ""), "The quantity")
        line, lot = request.POST.get("line", ""), request.POST.get("lot", "").strip()
        if not line.isdecimal():
            raise InvalidValue("The line is missing.", remedy="Load the page again.")
        if not lot:
            raise InvalidValue("The lot is missing.", remedy="Write the lot's number from the label.")
        arrived = Arrived(int(line), quantity, lot[:60], cure_date_of(request.POST.get("cure_date", "")))
        done = receive_order(
            by=caller_of(request), order_id=order, expected_version=version_of(request), arrived=[arrived]
        )
        return f"Received {plain(quantity)} on order {done.number}: it is {done.state.replace('-', ' ')} now."

    return run_post(request, perform, _back(request))


@require_POST
@signed_in
def chase(request: HttpRequest, order: uuid.UUID) -> HttpResponse:
    """Keep what the supplier said about a late line, and the day it promised."""

    def perform() -> str:
        said, line = request.POST.get("said", "").strip(), request.POST.get("line", "")
        if not line.isdecimal():
            raise InvalidValue("The line is missing.", remedy="Load the page again.")
        if not said:
            raise InvalidValue("What the supplier said is missing.", remedy="Write it in a few words.")
        promised = date_of(request.POST.get("promised_on", ""), "The promised day")
        record_chase(
            by=caller_of(request), order_id=order, expected_version=version_of(request), line=int(line),
            said=said[:500], promised_on=promised,
        )  # fmt: skip
        return "Kept what the supplier said." + (
            f" It is counted on for {promised.day} {promised:%B %Y}." if promised else ""
        )

    return run_post(request, perform, _back(request))


def _back(request: HttpRequest) -> str:
    return request.POST.get("back") or "/"
