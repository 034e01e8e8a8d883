"""Sixteen supervisors sign sixteen jobs off at the same moment: one chain, no gap, no fork."""

import io

import pytest
from django.core.management import call_command
from django.db import IntegrityError

from jobs.models import Job, RecordLink
from jobs.operations import record_chain
from jobs.operations.closing import sign_off
from jobs.queries.record_chain import Verified, verify_all
from tests.closed_jobs import finished_job
from tests.overhauls import open_workshop
from tests.races.waiting import side_by_side
from tests.world import gather_cast

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.timeout(300)]
AT_ONCE = 16


class Undone(Exception):
    """What was signed is undone after its link was made."""


def jobs_to_sign(cast, count):
    workshop = open_workshop(cast)
    return [finished_job(cast, workshop) for _ in range(count)]


def sign(cast, job, *, undone=False):
    def do():
        _, signature = sign_off(by=cast.by("supervisor"), job_id=job.pk, expected_version=job.version)
        number = RecordLink.objects.get(sign_off=signature).number
        if undone:
            raise Undone
        return number

    return do


def test_jobs_signed_off_at_once_make_one_chain_without_a_gap():
    cast = gather_cast()
    jobs = jobs_to_sign(cast, AT_ONCE)
    numbers = side_by_side(*(sign(cast, job) for job in jobs))
    assert sorted(numbers) == list(range(1, AT_ONCE + 1))
    said = io.StringIO()
    call_command("verify_records", stdout=said)
    assert f"The records hold: {AT_ONCE} records in the chain" in said.getvalue()
    assert Job.objects.filter(state="closed").count() == AT_ONCE


def test_a_sign_off_that_is_undone_leaves_no_gap():
    cast = gather_cast()
    jobs = jobs_to_sign(cast, 4)
    answers = side_by_side(*(sign(cast, job, undone=place % 2 == 0) for place, job in enumerate(jobs)), apart=[Undone])
    assert sorted(map(str, answers)) == ["1", "2", "Undone", "Undone"]
    assert list(RecordLink.objects.order_by("number").values_list("number", flat=True)) == [1, 2]
    assert list(verify_all(Verified())) == []


def test_without_the_lock_the_race_is_real_and_the_database_refuses_the_fork(monkeypatch):
    """Both would follow the same link; the second one waits for the first and is then refused."""
    cast = gather_cast()
    jobs = jobs_to_sign(cast, 4)
    monkeypatch.setattr(record_chain, "LOCKING", "SELECT %s")
    answers = side_by_side(*(sign(cast, job) for job in jobs), apart=[IntegrityError])
    assert "IntegrityError" in answers
    assert list(verify_all(Verified())) == []
