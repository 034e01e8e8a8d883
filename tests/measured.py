"""Past overhauls with what was measured at them, put in as they would have come from earlier records."""

import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from assets.calculations.units import si_value
from assets.models import Pump, RunningHours
from jobs.models import FittedPart, Job, JobCharacteristic, JobStep, Measurement, ProcedureRevision, Step
from jobs.operations.procedures import draft_revision
from tests.overhauls import Workshop, procedure_document, release_procedure
from tests.world import Cast

TODAY = timezone.now().date()
MIDNIGHT = datetime.datetime.combine(TODAY, datetime.time(), datetime.UTC)
RING = "wear-ring-casing"
GAP = {
    "code": "wear-ring-gap",
    "name": "Gap at the wear ring",
    "quantity": "length",
    "unit": "mm",
    "readings": 1,
    "rule": "single",
    "limits": {"kind": "numbers", "upper": "0.30"},
    "instrument_type": "feeler-gauge",
}


def ago(days: float) -> datetime.datetime:
    return MIDNIGHT - datetime.timedelta(days=days)


def ring_procedure(cast: Cast) -> None:
    """A second revision of the short procedure, whose inspection and assembly measure the gap at the wear ring."""
    document: dict[str, Any] = procedure_document(revision=2)
    for number, section in ((35, 1), (55, 2)):
        document["sections"][section]["steps"].append(
            {
                "number": number, "title": f"Measure the gap ({number})", "instruction": "At four places.",
                "positions": [RING], "characteristics": [GAP],
            }
        )  # fmt: skip
        document["sections"][section]["steps"].sort(key=lambda one: one["number"])
    with transaction.atomic():
        revision_id, _ = draft_revision(by=cast.by("procedure-author"), document=document)
        release_procedure(cast, revision_id)


def run_evenly(pump: Pump, days: int, *, a_day: int = 20) -> None:
    """Readings of a meter that began with the pump so many days ago."""
    Pump.objects.filter(pk=pump.pk).update(installed_on=ago(days).date())
    for since in (days, 0):
        RunningHours.objects.create(pump=pump, read_at=ago(since), hours=Decimal(a_day * (days - since)))


def overhaul(cast: Cast, workshop: Workshop, pump: Pump, days: float, *, number: str = "") -> Job:
    """A job closed so many days ago, on the published procedure."""
    job = Job.objects.create(
        number=number or f"M-{pump.tag}-{days}", pump=pump, site_id=pump.site_id,
        revision=ProcedureRevision.objects.get(state="published"), kit_id=workshop.kit.pk,
        planned_start=ago(days).date(), planned_end=ago(days).date(), state="closed", started_at=ago(days),
        finished_at=ago(days), closed_at=ago(days), planned_by=cast.people["planner"],
    )  # fmt: skip
    Job.objects.filter(pk=job.pk).update(created_at=ago(days))
    return job


def measure(
    cast: Cast, workshop: Workshop, job: Job, value: str, *, step: int = 35, code: str = "wear-ring-gap",
    upper: str | None = "0.30", verdict: str = "accept", attempt: int = 1, unit: str = "mm",
) -> Measurement:  # fmt: skip
    """A value at a step of a job, on the day of the job."""
    asked = Step.objects.get(revision=job.revision, number=step)
    place, _ = JobStep.objects.get_or_create(
        job=job, step=asked, defaults={"number": step, "section": asked.section, "state": "done"}
    )
    limits, _ = JobCharacteristic.objects.get_or_create(
        job_step=place, characteristic=asked.characteristics.get(code=code),
        defaults={"code": code, "upper": upper and Decimal(upper), "unit": unit},
    )  # fmt: skip
    assert job.started_at is not None
    return Measurement.objects.create(
        job=job, job_characteristic=limits, attempt=attempt, readings=[value], unit=unit, value=Decimal(value),
        value_si=si_value(Decimal(value), unit), expanded_uncertainty=Decimal("0.01"), coverage_factor=2,
        decision_rule="guard-band", upper=upper and Decimal(upper), limits_unit=unit, verdict=verdict,
        instrument=workshop.instruments["dial"], calibration_due=TODAY,
        occurred_at=job.started_at + datetime.timedelta(minutes=attempt + step), by=cast.people["fitter"],
    )  # fmt: skip


def fit_ring(workshop: Workshop, job: Job, *, role: str = RING) -> FittedPart:
    """A new part in a position, the old one out."""
    FittedPart.objects.filter(pump=job.pump, role=role, removed_at=None).update(
        removed_at=job.finished_at, removed_by_job=job
    )
    assert job.finished_at is not None
    return FittedPart.objects.create(
        pump=job.pump, role=role, part=workshop.o_ring, quantity=1, job=job, fitted_at=job.finished_at
    )
