"""The job sheet on a phone: the next step in full, and every other one with its caution."""

import uuid
from itertools import groupby
from typing import Any

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from assets.access import has_role
from jobs.calculations.safety_words import SAFETY
from jobs.operations.jobs import PLANNERS
from jobs.operations.steps import FITTERS
from jobs.pages.measuring_form import fields_of
from jobs.queries.instruments import usable_at
from jobs.queries.jobs import did_step, job_for, job_signatures, steps, types_of
from jobs.queries.work_list import open_nonconformities
from kits.queries.kits import kit_lines
from kits.queries.reservations import of_job
from services.api.identifiers import new_id
from services.identity.callers import caller_of
from services.web.pages import signed_in

LEFT_OUT = ("not-applicable", "moved")


@require_GET
@signed_in
def job_sheet(request: HttpRequest, job: uuid.UUID) -> HttpResponse:
    """One job; ``?step=number`` shows another step than the next in full."""
    by, today = caller_of(request), timezone.now().date()
    found = job_for(by, job)
    sheet = steps(found.pk)
    applying = [one for one in sheet if one["state"] not in LEFT_OUT]
    shown = _shown(applying, request.GET.get("step", ""))
    claims = of_job(found.pk)
    context: dict[str, Any] = {
        "job": found,
        "safety": SAFETY,
        "step": shown,
        "sections": [(name, list(rows)) for name, rows in groupby(applying, key=lambda one: one["section"])],
        "left_out": [one for one in sheet if one["state"] in LEFT_OUT],
        "done": sum(one["state"] == "done" for one in applying),
        "total": len(applying),
        "lots": [(claim, lot) for claim in claims if claim["state"] == "hard" for lot in claim["allocations"]],
        "kit_out": any(claim["state"] == "issued" or claim["issued"] for claim in claims),
        "nonconformities": open_nonconformities(found.pk),
        "may_plan": has_role(by, found.site_id, *PLANNERS, "stores"),
        "may_work": has_role(by, found.site_id, *FITTERS),
        "may_release": has_role(by, found.site_id, "supervisor"),
        "own_step": bool(shown and shown["state"] == "awaiting-release" and did_step(found.pk, shown["number"], by.id)),
        "me": by.id,
    }
    if shown and found.state == "in-progress" and context["may_work"]:
        tools = [_tool(one, today) for one in usable_at(found.site_id, types_of([shown]))]
        for asked in shown["characteristics"]:
            asked["form"] = _form(asked, tools, request.GET)
    if found.state == "awaiting-sign-off" and context["may_release"]:
        context["kit_lines"] = kit_lines(found.kit_id)
    if found.state in {"closed", "awaiting-sign-off"}:
        context["signatures"] = job_signatures(found.pk)
    return render(request, "jobs/job_sheet.html", context)


def _shown(applying: list[dict[str, Any]], wanted: str) -> dict[str, Any] | None:
    """The step asked for; else the first that is not done."""
    if wanted.isdecimal():
        for one in applying:
            if one["number"] == int(wanted):
                return one
    return next((one for one in applying if one["state"] in {"open", "awaiting-release"}), None)


def _form(asked: dict[str, Any], tools: list[dict[str, Any]], sent: QueryDict) -> dict[str, Any]:
    """What the form asks for; what was refused stands in it again."""
    kinds = (asked["instrument_type"], asked["second_instrument_type"])
    first, second = ([one for one in tools if one["type"] == kind] for kind in kinds)
    again = sent.get("of") == asked["code"]
    return fields_of(asked["asks"], sent if again else None) | {
        "id": new_id(),
        "unit": asked["asks"]["unit"],
        "tools": first,
        "second_tools": second,
        "missing": [kind for kind, found in zip(kinds, (first, second), strict=True) if kind and not found],
        "again": again,
    }


def _tool(instrument: dict[str, Any], today: Any) -> dict[str, Any]:
    return instrument | {"overdue": instrument["calibration_due"] < today}
