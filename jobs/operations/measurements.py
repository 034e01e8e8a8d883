"""Recording what was measured, judged as it is recorded."""

import datetime
import uuid
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from assets.calculations.units import UnitMismatch, UnknownUnit, convert, si_value
from assets.calculations.written_numbers import plain
from jobs.calculations.readings import ReadingsUnusable, value_of
from jobs.calculations.uncertainty import instrument_budget
from jobs.calculations.verdict import judge
from jobs.models import Instrument, Job, JobCharacteristic, JobStep, Measurement
from jobs.operations.advice import advice_for
from jobs.operations.nonconformities import raise_for_rejection, settle_by_measurement
from jobs.operations.steps import FITTERS, open_step, running_job
from jobs.queries.instruments import instruments, overdue_on
from jobs.queries.job_data import job_data
from jobs.refusals import AlreadyMeasured, InstrumentUnfit, ReadingUnusable
from services.api.identifiers import new_id
from services.api.refusals import InvalidValue
from services.changes.recording import record_change
from services.identity.callers import Caller

LONGEST_AGO = datetime.timedelta(days=90)
MICRO = Decimal("0.000001")


@transaction.atomic(savepoint=False)
def record_measurement(
    *,
    by: Caller,
    job_id: uuid.UUID,
    step: int,
    characteristic: str,
    readings: Sequence[Decimal],
    unit: str,
    instrument_id: uuid.UUID,
    occurred_at: datetime.datetime | None = None,
    measurement_id: uuid.UUID | None = None,
) -> Measurement:
    """Record readings of a characteristic and judge them against the limits as they stand.

    1. Gate, job in progress, step open. 2. Readings become a value in the characteristic's unit. 3. The instrument's
    certificate, resolution and the spread of the readings become an expanded uncertainty. 4. The decision rule gives
    accept, reject or not proved; an instrument overdue on the day cannot accept. 5. A rejection raises a
    nonconformity; an acceptance settles one. The same id again returns the first record.

    Raises `ReadingUnusable`, `InstrumentUnfit`, `AlreadyMeasured`, and what `open_step` raises.
    """
    job = running_job(by, job_id, *FITTERS)
    when = _checked_time(occurred_at)
    if measurement_id is not None:
        known = Measurement.objects.filter(pk=measurement_id).select_related("job_characteristic").first()
        if known is not None:
            return _same_or_refused(known, job, characteristic, readings, unit)
    place = open_step(job, step)
    asked = _asked(place, characteristic)
    instrument = _suitable(by, job, asked, instrument_id)
    measured = judged_readings(
        asked,
        instrument,
        readings,
        unit,
        overdue=overdue_on(instrument, when.date()),
        id=measurement_id or new_id(),
        job=job,
        attempt=asked.measurements.count() + 1,
        occurred_at=when,
        by_id=by.id,
    )
    measured.save(force_insert=True)
    _tell(job, measured, characteristic, step, by)
    if measured.verdict == "reject":
        raise_for_rejection(by=by, job=job, measured=measured, asked=asked)
    elif measured.verdict == "accept":
        settle_by_measurement(by=by, job=job, asked=asked)
        _renew_advice(job)
    return measured


def judged_readings(
    asked: JobCharacteristic,
    instrument: Instrument,
    readings: Sequence[Decimal],
    unit: str,
    *,
    overdue: bool,
    **record: Any,
) -> Measurement:
    """A measurement with its value, uncertainty and verdict, not saved yet; ``record`` are its other columns. Raises
    `ReadingUnusable`."""
    value, uncertainty, si, budget = evaluate_readings(asked, instrument, readings, unit)
    verdict = judge(
        value=value,
        expanded_uncertainty=uncertainty,
        lower=asked.lower,
        upper=asked.upper,
        decision_rule=asked.characteristic.decision_rule,
        instrument_overdue=overdue,
    )
    return Measurement(
        job_characteristic=asked,
        readings=[str(one) for one in readings],
        unit=unit,
        value=value,
        value_si=si,
        expanded_uncertainty=uncertainty,
        coverage_factor=Decimal(2),
        decision_rule=asked.characteristic.decision_rule,
        lower=asked.lower,
        upper=asked.upper,
        limits_unit=asked.unit,
        verdict=verdict.result,
        room_left=None if verdict.room_left is None else Decimal(verdict.room_left).quantize(MICRO),
        reasons=[{"code": one.code, "sentence": one.sentence} for one in verdict.reasons],
        budget=budget,
        instrument=instrument,
        calibration_due=instrument.calibration_due,
        **record,
    )


def _checked_time(occurred_at: datetime.datetime | None) -> datetime.datetime:
    now = timezone.now()
    when = occurred_at or now
    if when > now + datetime.timedelta(minutes=5):
        raise InvalidValue(
            "The measurement would be in the future.", remedy="Check the device's clock.", pointer="#/occurred_at"
        )
    if when < now - LONGEST_AGO:
        raise InvalidValue(
            "The measurement is more than 90 days old.", remedy="Check the date.", pointer="#/occurred_at"
        )
    return when


def _same_or_refused(
    known: Measurement, job: Job, characteristic: str, readings: Sequence[Decimal], unit: str
) -> Measurement:
    same = (
        known.job_id == job.pk
        and known.job_characteristic.code == characteristic
        and [Decimal(one) for one in known.readings] == list(readings)
        and known.unit == unit
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


def _suitable(by: Caller, job: Job, asked: JobCharacteristic, instrument_id: uuid.UUID) -> Instrument:
    found = instruments(by=by).filter(pk=instrument_id, site_id=job.site_id).first()
    if found is None:
        raise InstrumentUnfit(
            "There is no such instrument at this site.",
            remedy="Choose one from GET /instruments.",
            pointer="#/instrument",
        )
    wanted = asked.characteristic.instrument_type
    if found.type != wanted:
        raise InstrumentUnfit(
            f"{asked.characteristic.name} is measured with {wanted}; {found.number} is {found.type}.",
            remedy=f"Choose an instrument of the type {wanted}.",
            pointer="#/instrument",
        )
    return found


def evaluate_readings(
    asked: JobCharacteristic, instrument: Instrument, readings: Sequence[Decimal], unit: str
) -> tuple[Decimal, Decimal, Decimal, list[dict[str, str]]]:
    """(value, expanded uncertainty, value in SI units, parts of the uncertainty) of readings, in the asked unit.

    Raises `ReadingUnusable`, `InstrumentUnfit`.
    """
    characteristic = asked.characteristic
    if len(readings) != characteristic.readings:
        raise ReadingUnusable(
            f"{characteristic.name} takes {characteristic.readings} readings; {len(readings)} came.",
            remedy="Send all of them in one record.",
            pointer="#/readings",
        )
    try:
        low = convert(instrument.range_from, instrument.unit, unit)
        high = convert(instrument.range_to, instrument.unit, unit)
        in_unit = [convert(one, unit, asked.unit) for one in readings]
        resolution = _width(instrument.resolution, instrument.unit, asked.unit)
        certificate = _width(instrument.expanded_uncertainty, instrument.unit, asked.unit)
    except (UnknownUnit, UnitMismatch) as error:
        raise ReadingUnusable(
            str(error), remedy=f"Send the readings in {asked.unit} or a unit of the same kind.", pointer="#/unit"
        ) from error
    for index, one in enumerate(readings):
        if not low <= one <= high:
            raise InstrumentUnfit(
                f"Reading {one} {unit} is outside the range of {instrument.number}, {plain(low)} to "
                f"{plain(high)} {unit}.",
                remedy="Check the reading, or choose an instrument with that range.",
                pointer=f"#/readings/{index}",
            )
    try:
        value = value_of(in_unit, characteristic.rule)
    except ReadingsUnusable as error:
        raise ReadingUnusable(str(error), remedy="Read again.", pointer="#/readings") from error
    budget = instrument_budget(
        expanded_uncertainty_certificate=certificate,
        resolution=resolution,
        readings=in_unit if characteristic.rule == "mean" else [],
    )
    parts = [{"name": one.name, "standard_uncertainty": str(one.standard), "unit": asked.unit} for one in budget.parts]
    value = value.quantize(MICRO)
    return (
        value,
        Decimal(budget.expanded).quantize(MICRO),
        si_value(value, asked.unit).quantize(Decimal("1e-12")),
        parts,
    )


def _width(amount: Decimal, from_unit: str, to_unit: str) -> Decimal:
    """A difference in another unit: the offset of temperature scales does not belong to it."""
    return convert(amount, from_unit, to_unit) - convert(Decimal(0), from_unit, to_unit)


def _renew_advice(job: Job) -> None:
    waiting = JobStep.objects.select_related("step").filter(job=job, step__computes__isnull=False)
    heating = [one for one in waiting if (one.step.computes or {}).get("kind") == "bearing-heating"]
    if not heating:
        return
    data, measured = job_data(job.pk), accepted_values(job.pk)
    for one in heating:
        if one.state == "open":
            JobStep.objects.filter(pk=one.pk).update(advice=advice_for(one.step.computes, data, measured))


def accepted_values(job_id: uuid.UUID) -> dict[str, Decimal]:
    """The latest accepted value of each characteristic of a job, by code, in the characteristic's unit."""
    found = Measurement.objects.filter(job_id=job_id, verdict="accept").order_by("recorded_at", "attempt")
    return dict(found.values_list("job_characteristic__code", "value"))


def _tell(job: Job, measured: Measurement, characteristic: str, step: int, by: Caller) -> None:
    body: dict[str, Any] = {
        "job": job.pk,
        "step": step,
        "characteristic": characteristic,
        "value": measured.value,
        "unit": measured.limits_unit,
        "verdict": measured.verdict,
    }
    record_change(
        "measurement.recorded", noun="measurement", noun_id=measured.pk, site_id=job.site_id, by=by, body=body
    )
