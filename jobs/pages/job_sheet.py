"""The job sheet on a phone: the next step in full, and every other one with its caution."""

import uuid
from itertools import groupby
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from assets.access import has_role
from jobs.calculations.safety_words import SAFETY
from jobs.operations.extra_parts import ASKERS, BEFORE_THE_END
from jobs.operations.job_returns import TAKEN_BACK
from jobs.operations.jobs import PLANNERS
from jobs.operations.readiness import readiness_of
from jobs.operations.steps import FITTERS
from jobs.operations.under_way import UNDER_WAY
from jobs.pages.kept_forms import written_on
from jobs.pages.sheet_forms import (
    finding_form,
    fitters_of,
    may_come_back,
    photos_of,
    positions_of,
    reading_form,
    tool_shown,
)
from jobs.queries.instruments import usable_at
from jobs.queries.job_record_views import record_of
from jobs.queries.jobs import LIVE, did_step, job_for, job_signatures, steps, types_of
from jobs.queries.sheet_parts import (
    attached_to,
    extra_parts_of,
    findings_in_words,
    returned_of,
    settled_of,
    unsettled_records,
    worked_on,
)
from jobs.queries.work_bookings import totals_of
from jobs.queries.work_list import open_nonconformities
from kits.queries.kits import kit_lines
from kits.queries.reservations import of_job
from services.api.identifiers import new_id
from services.identity.callers import Caller, caller_of
from services.web.pages import signed_in

LEFT_OUT = ("not-applicable", "moved")
AFTER = ("awaiting-sign-off", "closed")


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
    of_kit = [one for one in claims if one["item"] == found.kit_id]
    context: dict[str, Any] = {
        "job": found,
        "safety": SAFETY,
        "step": shown,
        "sections": [(name, list(rows)) for name, rows in groupby(applying, key=lambda one: one["section"])],
        "left_out": [one for one in sheet if one["state"] in LEFT_OUT],
        "done": sum(one["state"] == "done" for one in applying),
        "total": len(applying),
        "lots": _held(of_kit),
        "lots_beside": _held([one for one in claims if one not in of_kit]),
        "kit_out": any(one["state"] == "issued" or one["issued"] for one in of_kit),
        "nonconformities": open_nonconformities(found.pk),
        "may_plan": has_role(by, found.site_id, *PLANNERS, "stores"),
        "may_work": has_role(by, found.site_id, *FITTERS),
        "may_release": has_role(by, found.site_id, "supervisor"),
        "own_step": bool(shown and shown["state"] == "awaiting-release" and did_step(found.pk, shown["number"], by.id)),
        "me": by.id,
        "written": written_on(request),
    }
    context |= _recorded(by, found)
    context |= _offered(by, found, shown, context)
    _keep_written(context)
    if shown:
        context["photos"] = photos_of(shown, context["attached"])
        context["time_here"] = next(
            (t["minutes"] for t in context["time"]["by_step"] if t["step"] == shown["number"]), 0
        )
    if shown and found.state == "in-progress" and context["may_work"]:
        tools = [tool_shown(one, today) for one in usable_at(found.site_id, types_of([shown]))]
        for asked in shown["characteristics"]:
            asked["form"] = reading_form(asked, tools, request.GET)
    if found.state in AFTER:
        context |= _record(by, found, applying, context)
    return render(request, "jobs/job_sheet.html", context)


def _held(claims: list[dict[str, Any]]) -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """Claims with the lots that they hold."""
    return [(claim, lot) for claim in claims if claim["state"] == "hard" for lot in claim["allocations"]]


def _recorded(by: Caller, job: Any) -> dict[str, Any]:
    """What stands on the sheet beside its steps."""
    return {
        "findings": findings_in_words(job.pk),
        "attached": attached_to(job.pk),
        "extra": extra_parts_of(by, job.pk),
        "returned": returned_of(job.pk),
        "time": totals_of(job.pk),
        "offline": unsettled_records(job.pk),
        "needed": readiness_of(by=by, job_id=job.pk)["requirements"] if job.state in {"planned", "ready"} else [],
    }


def _offered(by: Caller, job: Any, step: dict[str, Any] | None, known: dict[str, Any]) -> dict[str, Any]:
    """What this person may do about it now, and what the forms for it offer."""
    recording = known["may_work"] and job.state in UNDER_WAY
    asking = has_role(by, job.site_id, *ASKERS) and job.state in BEFORE_THE_END
    taken = known["kit_out"] or any(one["state"] == "taken" for one in known["extra"])
    giving = taken and job.state in TAKEN_BACK and has_role(by, job.site_id, *FITTERS, "stores")
    positions = positions_of(job.pump.pump_model_id) if recording or asking else []
    return {
        "may_record": recording,
        "may_ask": asking,
        "may_take": job.state == "in-progress" and has_role(by, job.site_id, *FITTERS, "stores"),
        "may_concede": known["may_release"] and not worked_on(job.pk, by.id),
        "may_move": has_role(by, job.site_id, *PLANNERS) and job.state in {"planned", "ready"},
        "fitters": fitters_of(job) if job.state in LIVE and has_role(by, job.site_id, *PLANNERS, *FITTERS) else [],
        "find": finding_form(step, positions) if recording else None,
        "positions": positions,
        "lines": kit_lines(job.kit_id) if asking else [],
        "give_back": may_come_back(job, known["extra"], kit_out=known["kit_out"]) if giving else [],
        "new_ids": {name: new_id() for name in ("photo", "time", "part")},
    }


def _keep_written(context: dict[str, Any]) -> None:
    """What was refused stands again in that one form of several alike."""
    written = context["written"]
    for kind, rows in (("decide", context["nonconformities"]), ("offline", context["offline"])):
        for one in rows:
            one["again"] = written if written.get("form") == f"{kind}-{one['id']}" else {}


def _record(by: Caller, job: Any, applying: list[dict[str, Any]], known: dict[str, Any]) -> dict[str, Any]:
    """The record to be signed, or that was: every measurement, the signatures, the hash over all of it."""
    record = record_of(by=by, job_id=job.pk)
    return {
        "record": record,
        "digest": record["content_hash"].removeprefix("sha256:"),
        "measured": [(one, asked) for one in applying for asked in one["characteristics"] if asked["measurements"]],
        "settled": settled_of(job.pk),
        "signatures": job_signatures(job.pk),
        "may_sign": not worked_on(job.pk, by.id),
        "kit_lines": [one | {"again": known["written"].get(_field(one), "")} for one in kit_lines(job.kit_id)]
        if known["kit_out"]
        else [],
    }


def _field(line: dict[str, Any]) -> str:
    """The field in which what came back of a line was written."""
    return f"back-{line['part_id']}".replace("-", "_")


def _shown(applying: list[dict[str, Any]], wanted: str) -> dict[str, Any] | None:
    """The step asked for; else the first that is not done."""
    for one in applying:
        if str(one["number"]) == wanted:
            return one
    return next((one for one in applying if one["state"] in {"open", "awaiting-release"}), None)
