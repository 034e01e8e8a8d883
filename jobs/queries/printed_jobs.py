"""What stands on a job's papers, gathered; how it is set is jobs/calculations' work."""

import uuid
from typing import Any

from django.db.models import Q

from jobs.models import FittedPart, Job, Measurement, Nonconformity, RecordLink, SignOff
from jobs.queries.jobs import job_for, steps
from jobs.queries.printed_execution import execution_of
from kits.queries.kits import kit_lines
from kits.queries.reservations import issued_lots, of_job
from services.api.rows import plain_rows
from services.identity.callers import Caller

HEADING = (
    "id", "number", "state", "planned_start", "planned_end", "assignee__name", "started_at", "finished_at", "closed_at",
    "updated_at", "site__code", "site__name", "site__time_zone", "pump_id", "pump__tag", "pump__serial_number",
    "pump__variant", "pump__criticality", "pump__temperature_min_c", "pump__temperature_max_c", "pump__fluid__name",
    "pump__fluid__hazard", "pump__pump_model__maker__name", "pump__pump_model__series",
    "pump__pump_model__designation", "pump__pump_model__configuration", "pump__pump_model__rated_speed_rpm",
    "pump__pump_model__rated_power_kw", "pump__pump_model__shaft_diameter_at_seal_mm", "kit_id", "kit__item__number",
    "kit__item__revision", "kit__item__name", "revision__revision", "revision__content_hash",
    "revision__procedure__code", "revision__procedure__title",
)  # fmt: skip
MOST_POINTS = 12


def heading(job_id: uuid.UUID) -> dict[str, Any]:
    """Job, pump, model, kit and procedure. One query."""
    row = Job.objects.filter(pk=job_id).values(*HEADING).get()
    shorter = ("pump__pump_model__maker__", "pump__pump_model__", "revision__procedure__", "kit__item__")
    names = {"pump__pump_model__maker__name": "maker", "pump__fluid__name": "fluid", "pump__fluid__hazard": "hazard"}
    found = {}
    for key, value in row.items():
        name = names.get(key, key)
        for prefix, short in zip(shorter, ("maker_", "model_", "procedure_", "kit_"), strict=True):
            if name.startswith(prefix):
                name = short + name.removeprefix(prefix)
        found[name.replace("__", "_")] = value
    return found


def kit_of(job: dict[str, Any]) -> dict[str, Any]:
    """The kit's lines, and the lots held or taken for the job. Four queries."""
    held = [
        {"lot": lot["lot"], "bin": lot["bin"], "expires_on": lot["expires_on"], "quantity": lot["quantity"]}
        for claim in of_job(job["id"])
        if claim["state"] in {"hard", "issued"}
        for lot in claim["allocations"]
    ]
    return {"lines": kit_lines(job["kit_id"]), "held": held, "issued": issued_lots(job["id"])}


def record_data(*, by: Caller, job_id: uuid.UUID) -> dict[str, Any]:
    """Everything of the overhaul record. Some 20 queries. Raises `NotThere`."""
    job = heading(job_for(by, job_id).pk)
    signed = list(
        SignOff.objects.filter(job_id=job["id"])
        .order_by("at", "id")
        .values("kind", "step_number", "nonconformity_id", "by__name", "role", "at", "content_hash", "remark")
    )
    return {
        "job": job,
        "steps": steps(job["id"]),
        "kit": kit_of(job),
        "fitted": list(
            FittedPart.objects.filter(job_id=job["id"])
            .order_by("role", "part__number", "id")
            .values("role", "part__number", "part__name", "quantity", "lot__number")
        ),
        "removed": list(
            FittedPart.objects.filter(removed_by_job_id=job["id"])
            .order_by("role", "part__number", "id")
            .values("role", "part__number", "quantity", "fitted_at", "removed_condition", "job__number")
        ),
        "nonconformities": list(
            Nonconformity.objects.filter(job_id=job["id"])
            .order_by("created_at", "id")
            .values(
                "id", "description", "role", "disposition", "state", "decision_reason", "extent", "raised_by__name",
                "decided_by__name", "decided_at", "job_characteristic__job_step__number", "measurement_id",
            )
        ),
        "signatures": signed,
        "link": RecordLink.objects.filter(job_id=job["id"]).values("number", "mac", "key_id", "content_hash").first(),
        "earlier": earlier_values(job),
        **execution_of(job),
    }  # fmt: skip


def earlier_values(job: dict[str, Any]) -> list[dict[str, Any]]:
    """The last value of each characteristic in each overhaul of the pump so far, this one's too, the oldest first; for
    what was measured in at least two of them. One query."""
    until = Q(job__closed_at__isnull=False) | Q(job_id=job["id"])
    if job["closed_at"]:
        until &= Q(job__closed_at__lte=job["closed_at"])
    rows = (
        Measurement.objects.filter(until, job__pump_id=job["pump_id"])
        .order_by("job_characteristic__code", "limits_unit", "job_id", "-attempt", "-id")
        .distinct("job_characteristic__code", "limits_unit", "job_id")
        .values(
            "job_characteristic__code", "job_characteristic__characteristic__name", "job_id", "value",
            "expanded_uncertainty", "lower", "upper", "limits_unit", "occurred_at",
        )
    )  # fmt: skip
    series: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for one in plain_rows(rows):
        series.setdefault((one["job_characteristic__code"], one["limits_unit"]), []).append(one)
    found = []
    for (_, unit), points in sorted(series.items()):
        points.sort(key=lambda one: one["occurred_at"])
        now = [one for one in points if one["job_id"] == job["id"]]
        if len(points) > 1 and now:
            found.append(
                {
                    "name": now[0]["job_characteristic__characteristic__name"],
                    "unit": unit,
                    "lower": now[0]["lower"],
                    "upper": now[0]["upper"],
                    "points": points[-MOST_POINTS:],
                }
            )
    return found
