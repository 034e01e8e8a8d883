"""Recording what was measured, judged as it is recorded."""

import datetime
import uuid
from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.db import transaction

from jobs.models import Instrument, Job, JobCharacteristic, JobStep, Measurement
from jobs.operations.advice import advice_for
from jobs.operations.nonconformities import raise_for_rejection, settle_by_measurement
from jobs.operations.steps import FITTERS, open_step, running_job
from jobs.operations.under_way import happened_at
from jobs.queries.instruments import instruments, overdue_on
from jobs.queries.job_data import data_of_jobs
from jobs.queries.judging import Asked, Judged, judge_readings, same_as_kept, tool_of
from jobs.refusals import AlreadyMeasured, InstrumentUnfit, ReadingDoubtful
from services.api.identifiers import new_id
from services.api.many_rows import update_many
from services.api.refusals import FieldProblem, InvalidValue
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller


@transaction.atomic(savepoint=False)
def record_measurement(
    *,
    by: Caller,
    job_id: uuid.UUID,
    step: int,
    characteristic: str,
    readings: Any,
    unit: str,
    instrument_id: uuid.UUID,
    second_instrument_id: uuid.UUID | None = None,
    given: Mapping[str, Any] | None = None,
    as_read: bool = False,
    occurred_at: datetime.datetime | None = None,
    measurement_id: uuid.UUID | None = None,
) -> Measurement:
    """Record readings of a characteristic and judge them against the limits as they stand.

    1. Gate, job in progress, step open. 2. Readings become a value in the characteristic's unit, by its rule. 3. The
    instruments' certificates and steps, the spread of the readings, temperatures and geometry become an expanded
    uncertainty. 4. The decision rule gives accept, reject or not proved; an instrument overdue on the day cannot
    accept. 5. A rejection raises a nonconformity; an acceptance settles one. The same id again returns the first
    record.

    ``readings``: Decimals in a list, or by name as the rule asks for them; ``given``: what else the rule asks for.
    ``as_read``: somebody looked again, so that readings which look like another unit's are taken as they are.

    Raises `ReadingUnusable`, `ReadingDoubtful`, `InstrumentUnfit`, `AlreadyMeasured`, and what `open_step` raises.
    """
    job = running_job(by, job_id, *FITTERS)
    when, sent = happened_at(occurred_at), given or {}
    if measurement_id is not None:
        known = (
            Measurement.objects.filter(pk=measurement_id).select_related("job_characteristic__characteristic").first()
        )
        if known is not None:
            return _same_or_refused(known, job, characteristic, readings, unit, sent)
    place = open_step(job, step)
    asked = _asked(place, characteristic)
    tools = _suitable(by, job, asked, instrument_id, second_instrument_id)
    judged = judge_readings(
        Asked.of(asked),
        tools=[tool_of(one) for one in tools],
        overdue=[one.number for one in tools if overdue_on(one, when.date())],
        readings=readings,
        unit=unit,
        given=sent,
    )
    _ask_again(judged, as_read)
    second = tools[1] if len(tools) > 1 else None
    attempt = asked.measurements.count() + 1
    measured = Measurement.objects.create(
        id=measurement_id or new_id(),
        job=job,
        job_characteristic=asked,
        attempt=attempt,
        **judged.columns,
        instrument=tools[0],
        calibration_due=tools[0].calibration_due,
        second_instrument=second,
        second_calibration_due=second.calibration_due if second else None,
        occurred_at=when,
        by_id=by.id,
    )
    record_changes([measurement_change(job, measured.pk, judged, characteristic, step)], by=by)
    if measured.verdict == "reject":
        raise_for_rejection(by=by, job=job, measured=measured, asked=asked)
    elif measured.verdict == "accept":
        settle_by_measurement(by=by, job=job, asked=asked, when=when)
        renew_advice([job])
    return measured


def _ask_again(judged: Judged, as_read: bool) -> None:
    """Readings that look like another unit's are asked about once; what was confirmed is kept with the reasons."""
    if not judged.doubts:
        return
    if not as_read:
        raise ReadingDoubtful(
            judged.doubts[0].sentence,
            remedy="Look again. Send it corrected, or with as_read true where it is right.",
            problems=[
                FieldProblem(f"#/readings{one.place}", "reading-doubtful", one.sentence) for one in judged.doubts
            ],
        )
    judged.columns["reasons"] += [{"code": "confirmed-as-read", "sentence": one.sentence} for one in judged.doubts]


def _same_or_refused(
    known: Measurement, job: Job, characteristic: str, readings: Any, unit: str, given: Mapping[str, Any]
) -> Measurement:
    same = (
        known.job_id == job.pk
        and known.job_characteristic.code == characteristic
        and known.unit == unit
        and same_as_kept(Asked.of(known.job_characteristic), known.readings, known.given, readings, given)
    )
    if not same:
        raise AlreadyMeasured(
            "This id belongs to another measurement.", remedy="Use a fresh id for a new one.", pointer="#/id"
        )
    return known


def _asked(step: JobStep, code: str) -> JobCharacteristic:
    found = JobCharacteristic.objects.select_related("characteristic").filter(job_step=step, code=code).first()
    if found is None:
        codes = list(JobCharacteristic.objects.filter(job_step=step).values_list("code", flat=True))
        raise InvalidValue(
            f"Step {step.number} asks for no characteristic {code!r}.",
            remedy=f"It asks for: {', '.join(codes) or 'none'}.",
            pointer="#/characteristic",
        )
    return found


def _suitable(
    by: Caller, job: Job, asked: JobCharacteristic, first_id: uuid.UUID, second_id: uuid.UUID | None
) -> list[Instrument]:
    """The instrument, and the second one where the characteristic reads with two. Raises `InstrumentUnfit`."""
    wanted = asked.characteristic
    found = [_suitable_one(by, job, wanted.name, wanted.instrument_type, first_id, "instrument")]
    if wanted.second_instrument_type:
        if second_id is None:
            raise InstrumentUnfit(
                f"{wanted.name} is measured with {wanted.instrument_type} and {wanted.second_instrument_type}.",
                remedy="Name the second one too.",
                pointer="#/second_instrument",
            )
        second = wanted.second_instrument_type
        found.append(_suitable_one(by, job, wanted.name, second, second_id, "second_instrument"))
    elif second_id is not None:
        raise InstrumentUnfit(
            f"{wanted.name} is measured with one instrument.", remedy="Leave it out.", pointer="#/second_instrument"
        )
    return found


def _suitable_one(by: Caller, job: Job, name: str, wanted: str, instrument_id: uuid.UUID, field: str) -> Instrument:
    found = instruments(by=by).filter(pk=instrument_id, site_id=job.site_id).first()
    if found is None:
        raise InstrumentUnfit(
            "There is no such instrument at this site.",
            remedy="Choose one from GET /instruments.",
            pointer=f"#/{field}",
        )
    if found.type != wanted:
        raise InstrumentUnfit(
            f"{name} is measured with {wanted}; {found.number} is {found.type}.",
            remedy=f"Choose an instrument of the type {wanted}.",
            pointer=f"#/{field}",
        )
    return found


def renew_advice(jobs: Sequence[Job]) -> None:
    """Work the heating of bearings out anew, where its step is still to come. Five statements, however many jobs."""
    heating = JobStep.objects.select_related("step").filter(
        job__in=jobs, state="open", step__computes__kind="bearing-heating"
    )
    waiting = list(heating) if jobs else []
    if not waiting:
        return
    ids = {one.job_id for one in waiting}
    data, measured = data_of_jobs(ids), accepted_values(ids)
    for one in waiting:
        one.advice = advice_for(one.step.computes, data[one.job_id], measured.get(one.job_id, {}))
    update_many(waiting, ["advice"])


def accepted_values(job_ids: Collection[uuid.UUID]) -> dict[uuid.UUID, dict[str, Decimal]]:
    """The latest accepted value of each characteristic by job and code, in the characteristic's unit. One query."""
    rows = Measurement.objects.filter(job_id__in=job_ids, verdict="accept").order_by("occurred_at", "attempt")
    found: dict[uuid.UUID, dict[str, Decimal]] = {}
    for job_id, code, value in rows.values_list("job_id", "job_characteristic__code", "value"):
        found.setdefault(job_id, {})[code] = value
    return found


def measurement_change(job: Job, pk: uuid.UUID, judged: Judged, characteristic: str, step: int) -> Recorded:
    """What is told of a measurement."""
    body: dict[str, Any] = {
        "job": job.pk,
        "step": step,
        "characteristic": characteristic,
        "value": judged.columns["value"],
        "unit": judged.columns["limits_unit"],
        "verdict": judged.columns["verdict"],
    }
    return Recorded("measurement.recorded", "measurement", pk, 1, job.site_id, body)
