"""Two fitters reach for the same extra part, and two supervisors for the same step: one gets it, the other is told."""

import datetime
from decimal import Decimal

import pytest
from django.db import transaction

from jobs.models import ExtraPart, Job, JobStep
from jobs.operations.extra_parts import ask_for_part, take_extra_part
from jobs.operations.jobs import plan_job, reserve_kit
from jobs.operations.splitting import split_job
from jobs.operations.starting import start_job
from jobs.operations.steps import confirm_step
from jobs.refusals import CannotBeSplit, WrongExtraPartState
from kits.models import Balance
from kits.queries.movements import ledger_differences
from kits.refusals import InsufficientStock
from tests.overhauls import TODAY, open_workshop
from tests.races.waiting import side_by_side
from tests.shelves import make_part, put_on_shelf
from tests.world import gather_cast

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def cast():
    return gather_cast()


@pytest.fixture
def workshop(cast):
    return open_workshop(cast)


@pytest.fixture
def running(cast, workshop):
    """A job made safe, of which the rest is still to be done."""
    with transaction.atomic():
        job = plan_job(by=cast.by("planner"), pump_id=workshop.pump.pk, kit_id=workshop.kit.pk, planned_start=TODAY)
        reserve_kit(by=cast.by("planner"), job_id=job.pk)
        job.refresh_from_db()
        start_job(by=cast.by("fitter"), job_id=job.pk, expected_version=job.version)
        confirm_step(by=cast.by("fitter"), job_id=job.pk, number=10)
    return Job.objects.get(pk=job.pk)


def ask(cast, job, part):
    return ask_for_part(
        by=cast.by("fitter"), job_id=job.pk, part_id=part.pk, quantity=Decimal(1), role="bearing-de", reason="scored"
    )


def test_an_extra_part_is_taken_once(cast, running):
    sleeve = make_part("SLV-43")
    put_on_shelf(cast.by("stores"), cast.north, sleeve, 2, lot="S-1", cured=None)
    with transaction.atomic():
        extra = ask(cast, running, sleeve)

    def take(who):
        return lambda: take_extra_part(by=cast.by(who), extra_part_id=extra.pk)

    outcomes = side_by_side(take("fitter"), take("second-fitter"), apart=[WrongExtraPartState])
    assert sorted(type(one).__name__ for one in outcomes) == ["ExtraPart", "str"]
    assert Balance.objects.get(item=sleeve).on_hand == 1
    assert ledger_differences() == []


def test_the_last_part_is_held_for_one_of_two_jobs(cast, workshop, running):
    sleeve = make_part("SLV-43")
    put_on_shelf(cast.by("stores"), cast.north, sleeve, 1, lot="S-1", cured=None)
    with transaction.atomic():
        later = plan_job(
            by=cast.by("planner"),
            pump_id=workshop.pump.pk,
            kit_id=workshop.kit.pk,
            planned_start=TODAY + datetime.timedelta(days=3),
        )
    side_by_side(lambda: ask(cast, running, sleeve), lambda: ask(cast, later, sleeve), apart=[InsufficientStock])
    assert ExtraPart.objects.count() == 2
    held = Balance.objects.get(item=sleeve)
    assert (held.on_hand, held.reserved) == (1, 1)


def test_a_step_waits_for_one_follow_up_only(cast, running):
    def split():
        return split_job(
            by=cast.by("supervisor"),
            job_id=running.pk,
            expected_version=running.version,
            reason="no O-ring",
            steps=[50],
            planned_start=TODAY + datetime.timedelta(days=7),
        )

    outcomes = side_by_side(split, split, apart=[CannotBeSplit])
    assert sorted(type(one).__name__ for one in outcomes) == ["Job", "str"]
    assert Job.objects.filter(follows=running).count() == 1
    assert JobStep.objects.get(job=running, number=50, moved_to__follows=running).state == "moved"
