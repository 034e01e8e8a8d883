"""Everything an app needs of its jobs to go on without a connection, in one piece with a version."""

import hashlib
import uuid
from collections.abc import Iterable
from typing import Any

from django.db.models import QuerySet

from assets.access import narrow, roles_at
from assets.queries.pump_models import role_codes
from jobs.calculations.failure_codes import REPLACEMENT_REASONS, all_codes
from jobs.calculations.safety_words import SAFETY
from jobs.models import ExtraPart, Instrument, Job, Nonconformity
from jobs.queries.instruments import USABLE_COLUMNS
from jobs.queries.jobs import LIVE, steps_of
from kits.queries.kits import kit_lines_of
from kits.queries.reservations import of_jobs
from services.api.rendering import to_json
from services.api.rows import plain_rows
from services.identity.callers import Caller

MOST_JOBS = 100


def live_jobs(by: Caller, *, site_id: uuid.UUID | None = None, of_everybody: bool = False) -> QuerySet[Job]:
    """Live jobs of the caller, or of everybody at the sites where they hold a role, those that begin first in front."""
    found = narrow(Job.objects.filter(state__in=LIVE), by)
    if site_id is not None:
        found = found.filter(site_id=site_id)
    if not of_everybody:
        found = found.filter(assignee_id=by.id)
    return found.order_by("planned_start", "number")


def bundle_of(by: Caller, jobs: list[dict[str, Any]]) -> dict[str, Any]:
    """Jobs with what belongs to them, at most 100. ``version`` names exactly this content: it is the same as long as
    nothing changed. Eleven statements, however many jobs."""
    more, jobs = len(jobs) > MOST_JOBS, jobs[:MOST_JOBS]
    ids = [one["id"] for one in jobs]
    steps, claims, open_ones = steps_of(ids), of_jobs(ids), _open_nonconformities(ids)
    lines, extra = kit_lines_of({one["kit"] for one in jobs}), _extra_parts(ids)
    for one in jobs:
        one["kit_lines"] = lines.get(one["kit"], [])
        one["extra_parts"] = extra.get(one["id"], [])
        one["reservations"] = claims.get(one["id"], [])
        one["nonconformities"] = open_ones.get(one["id"], [])
        one["steps"] = steps.get(one["id"], [])
    sites = sorted({one["site"] for one in jobs}, key=str)
    tools = _instruments(sites)
    content = {
        "safety": SAFETY,
        "positions": sorted(role_codes()),
        "codes": [one.__dict__ for one in all_codes()],
        "replacement_reasons": [{"code": code, "words": words} for code, words in REPLACEMENT_REASONS.items()],
        "jobs": jobs,
        "more": more,
        "sites": [{"site": site, "roles": roles_at(by, site), "instruments": tools.get(site, [])} for site in sites],
    }
    return {"version": hashlib.sha256(to_json(content)).hexdigest()[:32]} | content


def _extra_parts(job_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[dict[str, Any]]]:
    found: dict[uuid.UUID, list[dict[str, Any]]] = {}
    rows = ExtraPart.objects.filter(job_id__in=list(job_ids)).exclude(state="withdrawn").order_by("id")
    for row in plain_rows(
        rows.values("job_id", "id", "part_id", "part__number", "part__name", "quantity", "role", "reason", "state")
    ):
        number, name = row.pop("part__number"), row.pop("part__name")
        found.setdefault(row.pop("job_id"), []).append(row | {"number": number, "name": name})
    return found


def _open_nonconformities(job_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[dict[str, Any]]]:
    found: dict[uuid.UUID, list[dict[str, Any]]] = {}
    rows = Nonconformity.objects.filter(job_id__in=list(job_ids)).exclude(state="closed").order_by("id")
    for row in plain_rows(
        rows.values("job_id", "id", "role", "description", "disposition", "state", "decision_reason", "version")
    ):
        found.setdefault(row.pop("job_id"), []).append(row)
    return found


def _instruments(site_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[dict[str, Any]]]:
    found: dict[uuid.UUID, list[dict[str, Any]]] = {}
    rows = Instrument.objects.filter(site_id__in=list(site_ids)).order_by("type", "-calibration_due", "number")
    for row in plain_rows(rows.values("site_id", *USABLE_COLUMNS)):
        found.setdefault(row.pop("site_id"), []).append(row)
    return found
