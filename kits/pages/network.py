"""How much to keep at the central store and its sites, and what to move between them. Everything works without
scripts; nothing is stored but a transfer that somebody agrees on."""

import uuid
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from assets.calculations.written_numbers import plain
from kits.calculations.curve_chart import curve_chart
from kits.operations.network_asked import TargetAsked
from kits.operations.network_sites import Money, NetworkSite, sites_of_network
from kits.operations.network_targets import network_target
from kits.operations.transfer_plans import LEFT_ALONE_DAYS, MovesAsked, transfer_plan
from kits.operations.transfers import Wanted, approve_transfer
from kits.pages.forms import decimal_of
from kits.queries.network_sites import currencies
from services.api.identifiers import new_id
from services.api.models import as_uuid
from services.api.refusals import InvalidValue, Refusal
from services.identity.callers import Caller, caller_of
from services.web.pages import run_post, signed_in


@require_GET
@signed_in
def network(request: HttpRequest) -> HttpResponse:
    """The stock that a budget buys or that reaches an availability, over all sites where the caller plans. Without a
    figure it is what the stock of today is worth."""
    by, asked = caller_of(request), request.GET
    sites = sites_of_network(by, None)
    known = currencies()
    context: dict[str, Any] = {
        "sites": list(sites.values()),
        "central": asked.get("central") or next((one.code for one in sites.values() if one.is_central_store), ""),
        "goal": "availability" if asked.get("goal") == "availability" else "budget",
        "budget": asked.get("budget", "").strip(),
        "availability": asked.get("availability", "").strip(),
        "waiting": asked.get("waiting", "").strip(),
        "currencies": known,
        "currency": asked.get("currency") or next(iter(known), ""),
        "left_alone_days": LEFT_ALONE_DAYS,
        "back": request.get_full_path(),
    }
    _add(context, "target", lambda: _target(by, context, sites))
    if context["waiting"]:
        _add(context, "plan", lambda: _plan(by, context))
    return render(request, "kits/network.html", context)


def _add(context: dict[str, Any], name: str, work_out: Callable[[], dict[str, Any]]) -> None:
    """What was worked out, or why it was not: one part of the page does not take the other with it."""
    try:
        context[name] = work_out()
    except Refusal as refusal:
        context[f"{name}_refused"] = refusal


def _target(by: Caller, form: dict[str, Any], sites: Mapping[uuid.UUID, NetworkSite]) -> dict[str, Any]:
    today = timezone.now().date()
    central = next((one.id for one in sites.values() if one.code == form["central"]), None)

    def ask(**goal: Any) -> dict[str, Any]:
        return network_target(by=by, asked=TargetAsked(central_store=central, **goal), today=today)

    if form["goal"] == "availability":
        percent = _above_nought(form["availability"], "The availability")
        if percent >= 100:
            raise InvalidValue("An availability is less than 100 %.", remedy="Write a figure such as 98.")
        found = ask(availability=percent / 100)
    else:
        if form["budget"]:
            amount = _above_nought(form["budget"], "The budget")
        else:
            amount = ask(budget=Money(Decimal(0), form["currency"]))["now"]["cost"]
            form["budget"] = plain(amount)
        found = ask(budget=Money(amount, form["currency"]))
    if found["curve"]:
        found["chart"] = curve_chart(
            [(float(one["cost"]), float(one["backorders"])) for one in found["curve"]],
            plan=(float(found["cost"]), float(found["backorders"])),
            now=(float(found["now"]["cost"]), float(found["now"]["backorders"])),
        )
    for place, site in enumerate(found["sites"]):
        rows = [{**one, **one["stock"][place]} for one in found["items"]]
        site["rows"] = [one for one in rows if one["level"] or one["level_now"] or one["demand_a_month"]]
    return found


def _plan(by: Caller, form: dict[str, Any]) -> dict[str, Any]:
    cost = Money(_above_nought(form["waiting"], "What waiting costs"), form["currency"])
    found = transfer_plan(by=by, asked=MovesAsked(waiting_cost=cost), today=timezone.now().date())
    for one in found["transfers"]:
        # Whoever presses the button twice agrees on one transfer.
        one["id"] = new_id()
    return found


def _above_nought(text: str, what: str) -> Decimal:
    figure = decimal_of(text, what)
    if figure <= 0:
        raise InvalidValue(f"{what} is above nought.", remedy="Write a number such as 400.")
    return figure


@require_POST
@signed_in
def agree(request: HttpRequest) -> HttpResponse:
    """Agree on a transfer of the plan, as it was shown."""
    form = request.POST

    def perform() -> str:
        ids = [as_uuid(form.get(name, "")) for name in ("id", "from_site", "to_site")]
        items, amounts = [as_uuid(one) for one in form.getlist("item")], form.getlist("quantity")
        if None in ids or None in items or not items or len(items) != len(amounts):
            raise InvalidValue("The form does not say what to move.", remedy="Load the page again.")
        made = approve_transfer(
            by=caller_of(request),
            transfer_id=ids[0],
            from_site=ids[1],
            to_site=ids[2],
            lines=[
                Wanted(item, decimal_of(amount, "The quantity")) for item, amount in zip(items, amounts, strict=True)
            ],
        )
        return f"Agreed on: {made.number}. Stores of the lender sends it."

    return run_post(request, perform, form.get("back") or reverse("network"))
