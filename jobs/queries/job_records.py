"""The record of a job: everything that is signed at its end, read from the tables that hold it.

It is read in the same way when it is signed and whenever it is verified. ``as_stood`` holds names and numbers that may
change later with good reason; they are signed, and not compared. A part of the record is one function in `SECTIONS`.
"""

import uuid
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from jobs.calculations.signed_content import signable
from jobs.models import FittedPart, Job, JobCharacteristic, JobStep, Measurement, Nonconformity, SignOff
from jobs.queries.execution_record import (
    attachments_recorded,
    extra_parts_taken,
    findings_recorded,
    offline_records_kept,
    returns_recorded,
    work_recorded,
)
from jobs.queries.record_rows import Rows, grouped, text, without_names
from kits.models import Movement

FORM = 1


def record_contents(job_ids: Sequence[uuid.UUID]) -> dict[uuid.UUID, dict[str, Any]]:
    """The record of each job as the tables have it, JSON-safe: decimals, times and ids as text. Two queries and one for
    each of the `SECTIONS`, however many jobs."""
    jobs = {
        one["id"]: one
        for one in Job.objects.filter(pk__in=job_ids).values(
            "id", "number", "pump_id", "site_id", "kit_id", "revision_id", "started_at", "finished_at",
            "revision__content_hash", "revision__revision", "revision__procedure__code", "pump__tag",
            "pump__serial_number", "site__code", "kit__item__number", "kit__item__revision",
        )
    }  # fmt: skip
    sections = {name: read(list(jobs)) for name, read in SECTIONS.items()}
    return {
        pk: {
            "form": FORM,
            "job": one["number"],
            "job_id": text(pk),
            "pump_id": text(one["pump_id"]),
            "site_id": text(one["site_id"]),
            "kit_id": text(one["kit_id"]),
            "procedure_revision_id": text(one["revision_id"]),
            "procedure_content": one["revision__content_hash"],
            "started_at": text(one["started_at"]),
            "finished_at": text(one["finished_at"]),
            **{name: rows.get(pk, []) for name, rows in sections.items()},
            "as_stood": {
                "site": one["site__code"],
                "pump_tag": one["pump__tag"],
                "serial_number": one["pump__serial_number"],
                "kit": f"{one['kit__item__number']} {one['kit__item__revision']}".strip(),
                "procedure": f"{one['revision__procedure__code']} {one['revision__revision']}",
                **_names(pk, sections),
            },
        }
        for pk, one in jobs.items()
    }


def compared(content: Mapping[str, Any]) -> dict[str, Any]:
    """A record without what may change later with good reason."""
    return {name: value for name, value in content.items() if name not in {"form", "as_stood", "signature"}}


def _names(job_id: uuid.UUID, sections: Mapping[str, Rows]) -> dict[str, dict[str, str]]:
    """Names of people, instruments and parts, taken off the rows that they were read with."""
    found: dict[str, dict[str, str]] = {"people": {}, "instruments": {}, "parts": {}}
    for rows in sections.values():
        for row in rows.get(job_id, []):
            for kind, known in found.items():
                known.update({key: name for key, name in row.pop(f"_{kind}", {}).items() if key and name})
    return found


def _steps(job_ids: Sequence[uuid.UUID]) -> Rows:
    rows = JobStep.objects.filter(job_id__in=job_ids).order_by("job_id", "number").values(
        "id", "job_id", "number", "section", "state", "why", "note", "advice", "step_id", "step__title", "done_by_id",
        "done_at", "released_by_id", "released_at", "moved_to_id", "done_under_id", "done_by__name",
        "released_by__name",
    )  # fmt: skip
    return grouped(
        rows,
        lambda one: {
            "id": text(one["id"]),
            "number": one["number"],
            "section": one["section"],
            "step_id": text(one["step_id"]),
            "title": one["step__title"],
            "state": one["state"],
            "why": one["why"],
            "note": one["note"],
            "advice": signable(one["advice"]),
            "done_by": text(one["done_by_id"]),
            "done_at": text(one["done_at"]),
            "released_by": text(one["released_by_id"]),
            "released_at": text(one["released_at"]),
            "moved_to": text(one["moved_to_id"]),
            "done_under": text(one["done_under_id"]),
            "_people": {
                text(one["done_by_id"]): one["done_by__name"],
                text(one["released_by_id"]): one["released_by__name"],
            },
        },
    )


def _limits(job_ids: Sequence[uuid.UUID]) -> Rows:
    rows = (
        JobCharacteristic.objects.filter(job_step__job_id__in=job_ids)
        .order_by("job_step__job_id", "job_step__number", "code")
        .values("id", "job_step__job_id", "job_step__number", "code", "lower", "upper", "unit", "words")
    )
    return grouped(
        rows,
        lambda one: {
            "id": text(one["id"]),
            "step": one["job_step__number"],
            "characteristic": one["code"],
            "lower": text(one["lower"]),
            "upper": text(one["upper"]),
            "unit": one["unit"],
            "words": one["words"],
        },
        "job_step__job_id",
    )


def _measurements(job_ids: Sequence[uuid.UUID]) -> Rows:
    rows = Measurement.objects.filter(job_id__in=job_ids).order_by("job_id", "recorded_at", "id").values(
        "id", "job_id", "job_characteristic__job_step__number", "job_characteristic__code", "attempt", "readings",
        "rule", "given", "results", "unit", "value", "value_si", "expanded_uncertainty", "coverage_factor",
        "degrees_of_freedom", "decision_rule", "lower", "upper", "limits_unit", "verdict", "room_left", "room_to_limit",
        "reasons", "budget", "instrument_id", "calibration_due", "second_instrument_id", "second_calibration_due",
        "occurred_at", "recorded_at", "by_id", "by__name", "instrument__number", "second_instrument__number",
    )  # fmt: skip
    exact = (
        "value", "value_si", "expanded_uncertainty", "coverage_factor", "degrees_of_freedom", "lower", "upper",
        "room_left", "room_to_limit", "calibration_due", "second_calibration_due", "occurred_at", "recorded_at",
    )  # fmt: skip
    return grouped(
        rows,
        lambda one: {
            "id": text(one["id"]),
            "step": one["job_characteristic__job_step__number"],
            "characteristic": one["job_characteristic__code"],
            "attempt": one["attempt"],
            "readings": signable(one["readings"]),
            "rule": one["rule"],
            "given": signable(one["given"]),
            "results": signable(one["results"]),
            "unit": one["unit"],
            "limits_unit": one["limits_unit"],
            "decision_rule": one["decision_rule"],
            "verdict": one["verdict"],
            "reasons": signable(one["reasons"]),
            "budget": signable(one["budget"]),
            "instrument": text(one["instrument_id"]),
            "second_instrument": text(one["second_instrument_id"]),
            "by": text(one["by_id"]),
            **{name: text(one[name]) for name in exact},
            "_people": {text(one["by_id"]): one["by__name"]},
            "_instruments": {
                text(one["instrument_id"]): one["instrument__number"],
                text(one["second_instrument_id"]): one["second_instrument__number"],
            },
        },
    )


def _nonconformities(job_ids: Sequence[uuid.UUID]) -> Rows:
    rows = Nonconformity.objects.filter(job_id__in=job_ids).order_by("job_id", "id").values(
        "id", "job_id", "measurement_id", "job_characteristic__code", "role", "description", "disposition", "state",
        "raised_by_id", "decided_by_id", "decided_at", "decision_reason", "extent", "closed_at", "created_at",
        "raised_by__name", "decided_by__name",
    )  # fmt: skip
    return grouped(rows, nonconformity_content)


def nonconformity_content(one: Mapping[str, Any]) -> dict[str, Any]:
    """A nonconformity as it stands in the record."""
    return {
        "id": text(one["id"]),
        "measurement": text(one["measurement_id"]),
        "characteristic": one["job_characteristic__code"] or "",
        "role": one["role"],
        "description": one["description"],
        "state": one["state"],
        "disposition": one["disposition"],
        "reason": one["decision_reason"],
        "extent": one["extent"],
        "raised_by": text(one["raised_by_id"]),
        "raised_at": text(one["created_at"]),
        "decided_by": text(one["decided_by_id"]),
        "decided_at": text(one["decided_at"]),
        "closed_at": text(one["closed_at"]),
        "_people": {
            text(one["raised_by_id"]): one["raised_by__name"],
            text(one["decided_by_id"]): one["decided_by__name"],
        },
    }


def _signatures(job_ids: Sequence[uuid.UUID]) -> Rows:
    """Those of hold points and concessions; that of completion is over the record itself."""
    rows = (
        SignOff.objects.filter(job_id__in=job_ids)
        .exclude(kind=SignOff.Kind.COMPLETION)
        .order_by("job_id", "at", "id")
        .values("id", "job_id", "kind", "step_number", "nonconformity_id", "by_id", "role", "at", "content_hash",
                "remark", "by__name")
    )  # fmt: skip
    return grouped(
        rows,
        lambda one: {
            "id": text(one["id"]),
            "kind": one["kind"],
            "step": one["step_number"],
            "nonconformity": text(one["nonconformity_id"]),
            "by": text(one["by_id"]),
            "role": one["role"],
            "at": text(one["at"]),
            "content_hash": one["content_hash"],
            "remark": one["remark"],
            "_people": {text(one["by_id"]): one["by__name"]},
        },
    )


def _fitted(job_ids: Sequence[uuid.UUID]) -> Rows:
    rows = FittedPart.objects.filter(job_id__in=job_ids).order_by("job_id", "role", "part_id", "id").values(
        "id", "job_id", "pump_id", "role", "part_id", "quantity", "lot_id", "fitted_at", "part__number", "lot__number"
    )  # fmt: skip
    return grouped(
        rows,
        lambda one: {
            "id": text(one["id"]),
            "pump": text(one["pump_id"]),
            "role": one["role"],
            "part": text(one["part_id"]),
            "quantity": text(one["quantity"]),
            "lot": text(one["lot_id"]),
            "lot_number": one["lot__number"] or "",
            "fitted_at": text(one["fitted_at"]),
            "_parts": {text(one["part_id"]): one["part__number"]},
        },
    )


def _moved(job_ids: Sequence[uuid.UUID]) -> Rows:
    """What was issued for the job and what came back. Later returns are not of the record: see `without_later`."""
    rows = Movement.objects.filter(job_id__in=job_ids).order_by("job_id", "id").values(
        "id", "job_id", "kind", "item_id", "lot__number", "condition", "quantity", "occurred_at", "reason", "by_id",
        "by__name", "item__number",
    )  # fmt: skip
    return grouped(
        rows,
        lambda one: {
            "id": text(one["id"]),
            "kind": one["kind"],
            "part": text(one["item_id"]),
            "lot": one["lot__number"],
            "condition": one["condition"],
            "quantity": text(one["quantity"]),
            "occurred_at": text(one["occurred_at"]),
            "reason": one["reason"],
            "by": text(one["by_id"]),
            "_people": {text(one["by_id"]): one["by__name"]},
            "_parts": {text(one["item_id"]): one["item__number"]},
        },
    )


def concession_content(job_id: uuid.UUID, nonconformity_id: uuid.UUID) -> dict[str, Any]:
    """What a concession is signed over: the nonconformity, the decision, and what was measured. Four queries."""
    job = Job.objects.values("number", "pump_id").get(pk=job_id)
    rows = _nonconformities([job_id]).get(job_id, [])
    found = next(one for one in rows if one["id"] == str(nonconformity_id))
    measured = [one for one in _measurements([job_id]).get(job_id, []) if one["id"] == found["measurement"]]
    return {
        "form": FORM,
        "job": job["number"],
        "pump_id": text(job["pump_id"]),
        "nonconformity": without_names(found),
        "measurements": [without_names(one) for one in measured],
    }


def step_content(job_id: uuid.UUID, number: int) -> dict[str, Any]:
    """What the release of a hold point is signed over: the step, its limits, what was measured at it, and what was
    conceded. Five queries."""
    job = Job.objects.values("number", "pump_id").get(pk=job_id)
    step = next(one for one in _steps([job_id])[job_id] if one["number"] == number)
    measured = [one for one in _measurements([job_id]).get(job_id, []) if one["step"] == number]
    ids = {one["id"] for one in measured}
    raised = [one for one in _nonconformities([job_id]).get(job_id, []) if one["measurement"] in ids]
    return {
        "form": FORM,
        "job": job["number"],
        "pump_id": text(job["pump_id"]),
        "step": without_names(step),
        "limits": [one for one in _limits([job_id]).get(job_id, []) if one["step"] == number],
        "measurements": [without_names(one) for one in measured],
        "nonconformities": [without_names(one) for one in raised],
    }


# What may still come once a job is signed off: parts that go back to the shelf, and what a device hands in late.
GROWING = ("moved", "offline_records")
SECTIONS: dict[str, Callable[[Sequence[uuid.UUID]], Rows]] = {
    "steps": _steps,
    "limits": _limits,
    "measurements": _measurements,
    "nonconformities": _nonconformities,
    "signatures": _signatures,
    "findings": findings_recorded,
    "extra_parts": extra_parts_taken,
    "returns": returns_recorded,
    "work": work_recorded,
    "attachments": attachments_recorded,
    "offline_records": offline_records_kept,
    "fitted": _fitted,
    "moved": _moved,
}


def without_later(now: Mapping[str, Any], signed: Mapping[str, Any]) -> dict[str, Any]:
    """A record without the rows that came after it was signed, of the kinds that may: see `GROWING`."""
    kept = dict(now)
    for name in GROWING:
        known = {one["id"] for one in signed.get(name, [])}
        kept[name] = [one for one in now.get(name, []) if one["id"] in known]
    return kept
