"""Jobs brought to their end through the operations, for tests of what stays of them."""

import uuid
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django.db import transaction

from jobs.models import Job, JobStep, Nonconformity
from jobs.operations.closing import finish_job, sign_off, take_kit
from jobs.operations.jobs import plan_job, reserve_kit
from jobs.operations.measurements import record_measurement
from jobs.operations.nonconformities import decide
from jobs.operations.starting import start_job
from jobs.operations.steps import confirm_step, release_hold_point
from tests.overhauls import TODAY, Workshop
from tests.shelves import put_on_shelf
from tests.world import Cast

STRAIGHT = ("0", "0.01", "0.02", "0")
BENT = ("0", "0.04", "0.09", "0.03")


def started_job(cast: Cast, workshop: Workshop) -> Job:
    """In progress, make-safe not yet confirmed. Its kit is put on the shelf first."""
    put_on_shelf(cast.by("stores"), cast.north, workshop.kit, 1, lot="L-1")
    with transaction.atomic():
        job = plan_job(by=cast.by("planner"), pump_id=workshop.pump.pk, kit_id=workshop.kit.pk, planned_start=TODAY)
        reserve_kit(by=cast.by("planner"), job_id=job.pk)
        job.refresh_from_db()
        return start_job(by=cast.by("fitter"), job_id=job.pk, expected_version=job.version)


def measure(
    cast: Cast, workshop: Workshop, job: Job, step: int, what: str, readings: Any, *, by: str = "fitter"
) -> Any:
    """One record of a characteristic of the short procedure."""
    tool, unit = {
        "shaft-run-out": ("dial", "mm"),
        "seat-diameter": ("micrometer", "mm"),
        "room-temperature": ("thermometer", "degC"),
    }[what]
    with transaction.atomic():
        return record_measurement(
            by=cast.by(by),
            job_id=job.pk,
            step=step,
            characteristic=what,
            readings=[Decimal(one) for one in readings],
            unit=unit,
            instrument_id=workshop.instruments[tool].pk,
        )


def confirm(cast: Cast, job: Job, number: int, note: str = "") -> JobStep:
    with transaction.atomic():
        return confirm_step(by=cast.by("fitter"), job_id=job.pk, number=number, note=note)


def concede(cast: Cast, found: Nonconformity, *, by: str = "supervisor", **changes: Any) -> Nonconformity:
    found.refresh_from_db()
    words = {"disposition": "use-as-is", "reason": "Runs slowly.", "extent": "This shaft, until its next overhaul."}
    with transaction.atomic():
        return decide(by=cast.by(by), nonconformity_id=found.pk, expected_version=found.version, **{**words, **changes})


def finished_job(
    cast: Cast, workshop: Workshop, *, bent: bool = False, meanwhile: Callable[[Job], None] | None = None
) -> Job:
    """Waiting for its sign-off. ``bent``: the shaft runs out too far and that was conceded. ``meanwhile``: what is done
    once the pump is safe."""
    job = started_job(cast, workshop)
    confirm(cast, job, 10)
    if meanwhile is not None:
        meanwhile(job)
    measure(cast, workshop, job, 20, "shaft-run-out", BENT if bent else STRAIGHT)
    if bent:
        concede(cast, Nonconformity.objects.get(job=job))
    confirm(cast, job, 20, note="Turned by hand.")
    measure(cast, workshop, job, 30, "seat-diameter", ["40.008"] * 3)
    measure(cast, workshop, job, 30, "room-temperature", ["18"])
    step = confirm(cast, job, 30)
    with transaction.atomic():
        release_hold_point(
            by=cast.by("supervisor"), job_id=job.pk, number=30, expected_version=step.version, remark="looked at it"
        )
        take_kit(by=cast.by("fitter"), job_id=job.pk)
    for number in (40, 50):
        confirm(cast, job, number)
    job.refresh_from_db()
    with transaction.atomic():
        return finish_job(by=cast.by("fitter"), job_id=job.pk, expected_version=job.version)


def signed_off(cast: Cast, job: Job, **more: Any) -> Job:
    with transaction.atomic():
        closed, _ = sign_off(by=cast.by("supervisor"), job_id=job.pk, expected_version=job.version, **more)
    return closed


def closed_job(cast: Cast, workshop: Workshop, *, bent: bool = False, returned: tuple[uuid.UUID, ...] = ()) -> Job:
    """Signed off and in the chain."""
    back = [{"part": one, "quantity": Decimal(1), "reason": "not needed"} for one in returned]
    return signed_off(cast, finished_job(cast, workshop, bent=bent), returned=back, remark="Quiet and tight.")
