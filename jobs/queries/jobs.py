"""Reading jobs: every path from an outside id to a row passes the gate here."""

import uuid
from collections.abc import Iterable
from typing import Any

from django.db.models import QuerySet

from assets.access import narrow, require_role
from jobs.calculations.evaluation_rules import asked_of
from jobs.calculations.verdict import guard_factor
from jobs.models import (
    FittedPart,
    Job,
    JobCharacteristic,
    JobEvent,
    JobStep,
    Measurement,
    Nonconformity,
    SignOff,
)
from services.api.models import as_uuid
from services.api.refusals import NotThere
from services.api.rows import plain_rows
from services.identity.callers import Caller

LIVE = ("planned", "ready", "in-progress", "awaiting-sign-off", "on-hold")


def jobs(*, by: Caller) -> QuerySet[Job]:
    """Jobs at granted sites."""
    return narrow(Job.objects.all(), by)


def job_for(by: Caller, job_id: Any, *roles: str) -> Job:
    """The job behind an outside id, if the caller has one of the roles at its site (any role if none is named).

    Raises `NotThere`, `NotAllowed`.
    """
    job = (
        narrow(Job.objects.select_related("site", "pump", "revision", "kit", "assignee"), by)
        .filter(pk=as_uuid(job_id))
        .first()
    )
    if job is None:
        raise NotThere("The job is not here.", remedy="Check the id, or ask for a role at its site.")
    if roles:
        require_role(by, job.site_id, *roles, what="The job")
    return job


def steps(job_id: uuid.UUID) -> list[dict[str, Any]]:
    """A job's steps as a fitter needs them: instruction, caution, limits, measurements, advice. Three queries."""
    return steps_of([job_id]).get(job_id, [])


def steps_of(job_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[dict[str, Any]]]:
    """The steps of several jobs. Three queries, however many."""
    ids = list(job_ids)
    limits: dict[uuid.UUID, list[dict[str, Any]]] = {}
    by_id: dict[uuid.UUID, dict[str, Any]] = {}
    for one in plain_rows(
        JobCharacteristic.objects.filter(job_step__job_id__in=ids)
        .order_by("code")
        .values(
            "id", "job_step_id", "code", "lower", "upper", "unit", "words", "characteristic__name",
            "characteristic__readings", "characteristic__rule", "characteristic__set_up",
            "characteristic__instrument_type", "characteristic__second_instrument_type",
            "characteristic__decision_rule",
        )
    ):  # fmt: skip
        shaped: dict[str, Any] = {
            key.removeprefix("characteristic__"): value for key, value in one.items() if key != "job_step_id"
        }
        shaped["asks"] = asked_of(shaped["rule"], shaped["readings"], shaped["set_up"], shaped["unit"])
        shaped["guard_factor"] = guard_factor(shaped["decision_rule"])
        shaped["measurements"] = []
        by_id[one["id"]] = shaped
        limits.setdefault(one["job_step_id"], []).append(shaped)
    for measured in _measurement_rows(ids):
        by_id[measured.pop("job_characteristic")]["measurements"].append(measured)
    found: dict[uuid.UUID, list[dict[str, Any]]] = {}
    for row in plain_rows(
        JobStep.objects.filter(job_id__in=ids)
        .order_by("job_id", "number")
        .values(
            "id", "job_id", "number", "section", "state", "why", "advice", "note", "done_at", "released_at", "version",
            "moved_to", "moved_to__number", "done_under__number",
            "step__title", "step__instruction", "step__signal_word", "step__caution", "step__tools",
            "step__consumables", "step__positions", "step__hold_point", "step__look_at", "step__photos",
            "done_by__name", "released_by__name",
        )
    ):  # fmt: skip
        found.setdefault(row.pop("job_id"), []).append(_step_shape(row, limits.get(row["id"], [])))
    return found


def types_of(rows: list[dict[str, Any]]) -> set[str]:
    """The types of instrument that steps ask for."""
    asked = [one for row in rows for one in row["characteristics"]]
    return {one[name] for one in asked for name in ("instrument_type", "second_instrument_type") if one[name]}


def _step_shape(row: dict[str, Any], characteristics: list[dict[str, Any]]) -> dict[str, Any]:
    shaped = {key.removeprefix("step__"): value for key, value in row.items() if key not in {"id", "released_by__name"}}
    shaped["done_by"] = shaped.pop("done_by__name")
    shaped["released_by"] = row["released_by__name"]
    shaped["moved_to_number"] = shaped.pop("moved_to__number")
    shaped["done_under"] = shaped.pop("done_under__number")
    shaped["characteristics"] = characteristics
    return shaped


def _measurement_rows(job_ids: list[uuid.UUID]) -> list[dict[str, Any]]:
    """Measurements of jobs in the order recorded. One query."""
    rows = Measurement.objects.filter(job_id__in=job_ids).order_by("recorded_at", "id").values(*MEASUREMENT_COLUMNS)
    return [shape_measurement(row) for row in plain_rows(rows)]


MEASUREMENT_COLUMNS = (
    "id", "job_characteristic", "job_characteristic__code", "job_characteristic__job_step__number", "attempt",
    "readings", "rule", "given", "results", "unit", "value", "value_si", "expanded_uncertainty", "coverage_factor",
    "degrees_of_freedom", "decision_rule", "lower", "upper", "limits_unit", "verdict", "room_to_limit", "room_left",
    "reasons", "budget", "instrument__number", "calibration_due", "second_instrument__number",
    "second_calibration_due", "occurred_at", "recorded_at", "by__name",
)  # fmt: skip


def shape_measurement(row: dict[str, Any]) -> dict[str, Any]:
    """Column names as the API says them."""
    row["characteristic"] = row.pop("job_characteristic__code")
    row["step"] = row.pop("job_characteristic__job_step__number")
    row["instrument"] = row.pop("instrument__number")
    row["second_instrument"] = row.pop("second_instrument__number")
    row["by"] = row.pop("by__name")
    return row


def measurements(*, by: Caller) -> QuerySet[Measurement]:
    """Measurements at granted sites."""
    return narrow(Measurement.objects.all(), by, path="job__site_id")


def nonconformities(*, by: Caller) -> QuerySet[Nonconformity]:
    """Nonconformities at granted sites."""
    return narrow(Nonconformity.objects.all(), by, path="job__site_id")


def sign_offs(*, by: Caller) -> QuerySet[SignOff]:
    """Signatures at granted sites."""
    return narrow(SignOff.objects.all(), by, path="job__site_id")


def did_step(job_id: uuid.UUID, number: int, who: uuid.UUID) -> bool:
    """Whether a person did a step of a job. One query."""
    return JobStep.objects.filter(job_id=job_id, number=number, done_by_id=who).exists()


def job_signatures(job_id: uuid.UUID) -> list[dict[str, Any]]:
    """Who signed what of a job, in order. One query."""
    return plain_rows(
        SignOff.objects.filter(job_id=job_id)
        .order_by("at", "id")
        .values("kind", "step_number", "role", "content_hash", "remark", "at", "by__name")
    )


def fitted_parts(*, by: Caller) -> QuerySet[FittedPart]:
    """What sits, or sat, in the pumps at granted sites."""
    return narrow(FittedPart.objects.all(), by, path="pump__site_id")


def job_events(*, by: Caller) -> QuerySet[JobEvent]:
    """What became of jobs at granted sites."""
    return narrow(JobEvent.objects.all(), by, path="job__site_id")
