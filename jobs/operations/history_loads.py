"""Past overhauls handed in as rows: closed jobs with their measurements, so that a pump's history begins before us."""

import datetime
import uuid
from collections.abc import Iterable, Sequence
from decimal import Decimal
from itertools import pairwise
from typing import Any

from django.db import transaction

from assets.access import has_role
from assets.queries.pumps import pumps_by_external_id
from jobs.calculations.limits import LimitUnresolvable, resolve
from jobs.calculations.readings import ReadingsUnusable, written, written_values
from jobs.models import (
    Characteristic,
    FittedPart,
    Instrument,
    Job,
    JobCharacteristic,
    JobStep,
    Measurement,
    ProcedureRevision,
    Step,
)
from jobs.queries.instruments import instruments
from jobs.queries.job_data import data_of_jobs
from jobs.queries.judging import Asked, judge_readings, tool_of
from jobs.queries.procedures import UNPUBLISHED
from kits.queries.kits import kit_lines_of, kits_by_number, lots_by_number
from services.api.identifiers import new_id
from services.api.loading import LoadRow, RowOutcome
from services.api.many_rows import update_many
from services.api.refusals import Refusal
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller
from services.identity.people import principals_by_login

LOADERS = ("integrator", "planner", "admin")


@transaction.atomic(savepoint=False)
def load_past_jobs(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Closed jobs keyed by number, with the kit's parts as fitted. A fixed number of queries for any number of rows."""
    pumps = pumps_by_external_id({str(row.values.get("pump")) for row in rows})
    revisions: dict[str, ProcedureRevision] = {}
    for one in (
        ProcedureRevision.objects.exclude(state__in=UNPUBLISHED).select_related("procedure").order_by("revision")
    ):
        revisions[one.procedure.code] = one
    kits = kits_by_number({str(row.values.get("kit")) for row in rows})
    lots = lots_by_number({str(row.values.get("lot")) for row in rows})
    people = principals_by_login({str(row.values.get(column)) for row in rows for column in ("fitter", "supervisor")})
    known = set(Job.objects.filter(number__in=[row.values["number"] for row in rows]).values_list("number", flat=True))
    outcomes, fresh, placed = [], [], []
    steps: list[JobStep] = []
    for row in rows:
        values, key = row.values, str(row.values["number"])
        if key in known:
            outcomes.append(RowOutcome(row.number, key, "unchanged"))
            continue
        pump = pumps.get(str(values.get("pump")))
        kit_id = kits.get((str(values.get("kit")), str(values.get("kit_revision") or "")))
        revision = revisions.get(str(values.get("procedure")))
        fitter, supervisor = people.get(str(values.get("fitter"))), people.get(str(values.get("supervisor")))
        refused = _refused(row, key, by, pump, kit_id, revision, fitter, supervisor)
        if refused is not None:
            outcomes.append(refused)
            continue
        assert pump is not None and revision is not None and kit_id is not None  # noqa: S101, PT018 - refused above
        job = Job(
            id=new_id(), number=key, pump_id=pump["id"], site_id=pump["site_id"], revision=revision, kit_id=kit_id,
            planned_start=values["started_at"].date(), planned_end=values["finished_at"].date(),
            assignee_id=fitter, state="closed", started_at=values["started_at"], finished_at=values["finished_at"],
            closed_at=values["finished_at"], planned_by_id=by.id,
            state_reasons=[{"code": "taken-over", "sentence": "Taken over from the records before.", "remedy": ""}],
        )  # fmt: skip
        fresh.append(job)
        placed.append((job, lots.get((kit_id, str(values.get("lot"))))))
        outcomes.append(RowOutcome(row.number, key, "created"))
    Job.objects.bulk_create(fresh)
    by_revision: dict[uuid.UUID, list[Step]] = {}
    for step in Step.objects.filter(revision_id__in={one.revision_id for one in fresh}).order_by("number"):
        by_revision.setdefault(step.revision_id, []).append(step)
    for job in fresh:
        steps.extend(
            JobStep(
                id=new_id(),
                job=job,
                step=step,
                number=step.number,
                section=step.section,
                state="done",
                done_by_id=job.assignee_id,
                done_at=job.finished_at,
                note="Taken over from the records before.",
            )
            for step in by_revision.get(job.revision_id, [])
        )
    JobStep.objects.bulk_create(steps)
    _place_parts(placed, by)
    record_changes(
        [
            Recorded("job.closed", "job", one.pk, 1, one.site_id, {"number": one.number, "taken_over": True})
            for one in fresh
        ],
        by=by,
    )
    return outcomes


def _refused(
    row: LoadRow, key: str, by: Caller, pump: Any, kit_id: Any, revision: Any, fitter: Any, supervisor: Any
) -> RowOutcome | None:
    values = row.values
    if pump is None or not has_role(by, pump["site_id"], *LOADERS):
        return RowOutcome.refused(row, key, "pump", "No such pump at a site granted to you.", "Load the pump first.")
    if kit_id is None:
        return RowOutcome.refused(row, key, "kit", "No such kit and revision.", "Load the kit first.")
    if revision is None:
        return RowOutcome.refused(row, key, "procedure", "No published procedure of this code.", "Publish it first.")
    if fitter is None:
        return RowOutcome.refused(row, key, "fitter", "Nobody has this login.", "Give the login of a person.")
    if supervisor is None:
        return RowOutcome.refused(row, key, "supervisor", "Nobody has this login.", "Give the login of a person.")
    if values.get("started_at") is None or values.get("finished_at") is None:
        return RowOutcome.refused(row, key, "finished_at", "A date is empty.", "Give both times.")
    if values["started_at"] > values["finished_at"]:
        return RowOutcome.refused(row, key, "finished_at", "It ends before it begins.", "Check both times.")
    return None


def _place_parts(placed: Sequence[tuple[Job, uuid.UUID | None]], by: Caller) -> None:
    """Parts of the kits as fitted. What sat in their positions, and they themselves, went out when the next job came,
    whichever file or job here brought it."""
    lines = kit_lines_of({job.kit_id for job, _ in placed})
    parts: list[FittedPart] = []
    for job, lot_id in placed:
        merged: dict[tuple[str, uuid.UUID], Decimal] = {}
        for line in lines.get(job.kit_id, []):
            place = (line["role"], line["part_id"])
            merged[place] = merged.get(place, Decimal(0)) + line["quantity"]
        for (role, part_id), quantity in merged.items():
            parts.append(
                FittedPart(
                    id=new_id(),
                    pump_id=job.pump_id,
                    role=role,
                    part_id=part_id,
                    quantity=quantity,
                    lot_id=lot_id,
                    job=job,
                    fitted_at=job.finished_at or job.planned_start,
                )
            )
    beside = list(
        FittedPart.objects.select_for_update(no_key=True)
        .filter(pump_id__in={one.pump_id for one in parts}, role__in={one.role for one in parts})
        .order_by("id")
    )
    ended = _ended([*parts, *beside])
    FittedPart.objects.bulk_create(parts)
    out = [one for one in beside if one.pk in ended]
    versions = update_many(out, ["removed_at", "removed_by_job"])
    sites = {job.pump_id: job.site_id for job, _ in placed}
    record_changes(
        [
            Recorded(
                "fitted-part.removed", "fitted-part", one.pk, versions[one.pk], sites[one.pump_id],
                {
                    "pump": one.pump_id, "role": one.role, "part": one.part_id, "job": one.removed_by_job_id,
                    "removed_condition": one.removed_condition,
                },
            )
            for one in out
        ],
        by=by,
    )  # fmt: skip


def _ended(parts: Iterable[FittedPart]) -> set[uuid.UUID]:
    """Mark parts as removed by the next job at their position, and say of which that is new. What went out before that
    stays as it is told."""
    places: dict[tuple[uuid.UUID, str], list[FittedPart]] = {}
    for one in parts:
        places.setdefault((one.pump_id, one.role), []).append(one)
    found: set[uuid.UUID] = set()
    for those in places.values():
        jobs = sorted({(one.fitted_at, one.job_id) for one in those})
        next_of = dict(pairwise(jobs))
        for one in those:
            later = next_of.get((one.fitted_at, one.job_id))
            if later is not None and (one.removed_at is None or later[0] < one.removed_at):
                one.removed_at, one.removed_by_job_id = later
                found.add(one.pk)
    return found


@transaction.atomic(savepoint=False)
def load_past_measurements(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Measurements of jobs taken over, judged by the same rule as new ones; keyed by job, characteristic and time.

    A job that was signed off here takes none: its record stands. A fixed number of queries for any number of rows.
    """
    jobs = {
        one.number: one
        for one in Job.objects.filter(
            number__in={str(row.values.get("job")) for row in rows}, state="closed", sign_offs=None
        )
    }
    tools = {
        one.number: one
        for one in instruments(by=by).filter(
            number__in={str(row.values.get(name)) for row in rows for name in ("instrument", "second_instrument")}
        )
    }
    places = _places(list(jobs.values()))
    known: set[tuple[str, str, datetime.datetime]] = set()
    attempts: dict[uuid.UUID, int] = {}
    for number, code, when, asked_id, attempt in Measurement.objects.filter(job__in=list(jobs.values())).values_list(
        "job__number", "job_characteristic__code", "occurred_at", "job_characteristic_id", "attempt"
    ):
        known.add((number, code, when))
        attempts[asked_id] = max(attempt, attempts.get(asked_id, 0))
    data = data_of_jobs({one.pk for one in jobs.values()})
    outcomes, fresh = [], []
    resolved: dict[tuple[uuid.UUID, str], JobCharacteristic] = {
        (one.job_step.job_id, one.code): one
        for one in JobCharacteristic.objects.filter(job_step__job__in=list(jobs.values())).select_related(
            "job_step", "characteristic"
        )
    }
    limits: list[JobCharacteristic] = []
    for row in sorted(rows, key=lambda one: (str(one.values.get("taken_at")), one.number)):
        values = row.values
        key = f"{values.get('job')} {values.get('characteristic')} {values.get('taken_at')}"
        job, instrument = jobs.get(str(values.get("job"))), tools.get(str(values.get("instrument")))
        code = str(values.get("characteristic"))
        place = places.get((job.pk, code)) if job else None
        if job is None or not has_role(by, job.site_id, *LOADERS):
            outcomes.append(RowOutcome.refused(row, key, "job", "No such past job.", "Load the job first."))
        elif place is None:
            outcomes.append(
                RowOutcome.refused(row, key, "characteristic", "The job's procedure asks for no such thing.", "See it.")
            )
        elif instrument is None:
            outcomes.append(RowOutcome.refused(row, key, "instrument", "No such instrument.", "Load it first."))
        elif values.get("second_instrument") and str(values["second_instrument"]) not in tools:
            outcomes.append(RowOutcome.refused(row, key, "second_instrument", "No such instrument.", "Load it first."))
        elif not isinstance(values.get("taken_at"), datetime.datetime):
            outcomes.append(RowOutcome.refused(row, key, "taken_at", "The time is empty.", "Give when it was taken."))
        elif (job.number, code, values["taken_at"]) in known:
            outcomes.append(RowOutcome(row.number, key, "unchanged"))
        else:
            try:
                asked = resolved.get((job.pk, code)) or _resolve(place, data[job.pk])
                if (job.pk, code) not in resolved:
                    resolved[(job.pk, code)] = asked
                    limits.append(asked)
                attempt = attempts.get(asked.pk, 0) + 1
                second = tools.get(str(values.get("second_instrument")))
                read_with = [instrument] if second is None else [instrument, second]
                fresh.append(_judged(job, asked, read_with, row, attempt, by))
                attempts[asked.pk] = attempt
                outcomes.append(RowOutcome(row.number, key, "created"))
            except (Refusal, LimitUnresolvable, ReadingsUnusable) as error:
                outcomes.append(RowOutcome.refused(row, key, "readings", str(error), "Correct the row."))
    JobCharacteristic.objects.bulk_create(limits)
    Measurement.objects.bulk_create(fresh)
    return sorted(outcomes, key=lambda one: one.number)


def _places(jobs: Sequence[Job]) -> dict[tuple[uuid.UUID, str], tuple[JobStep, Characteristic]]:
    steps = {(one.job_id, one.step_id): one for one in JobStep.objects.filter(job__in=jobs)}
    asked = list(Characteristic.objects.filter(step__revision__in={one.revision_id for one in jobs}))
    return {
        (job.pk, one.code): (steps[(job.pk, one.step_id)], one)
        for job in jobs
        for one in asked
        if (job.pk, one.step_id) in steps
    }


def _resolve(place: tuple[JobStep, Characteristic], data: dict[str, Any]) -> JobCharacteristic:
    step, characteristic = place
    found = resolve(characteristic.limits, data)
    return JobCharacteristic(
        id=new_id(),
        job_step=step,
        characteristic=characteristic,
        code=characteristic.code,
        lower=found.lower,
        upper=found.upper,
        unit=found.unit or characteristic.unit,
        words=found.words,
    )


def _judged(
    job: Job,
    asked: JobCharacteristic,
    tools: Sequence[Instrument],
    row: LoadRow,
    attempt: int,
    by: Caller,
) -> Measurement:
    values = row.values
    judged = judge_readings(
        Asked.of(asked),
        tools=[tool_of(one) for one in tools],
        overdue=(),
        readings=written(str(values["readings"])),
        unit=str(values["unit"]),
        given=written_values(str(values.get("given") or "")),
    )
    second = tools[1] if len(tools) > 1 else None
    return Measurement(
        id=new_id(),
        job=job,
        job_characteristic=asked,
        attempt=attempt,
        **judged.columns,
        instrument=tools[0],
        calibration_due=tools[0].calibration_due,
        second_instrument=second,
        second_calibration_due=second.calibration_due if second else None,
        occurred_at=values["taken_at"],
        by_id=job.assignee_id or by.id,
    )
