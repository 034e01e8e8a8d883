"""What was recorded beside steps and measurements is signed as a whole: nothing of it changes unseen."""

import datetime
from decimal import Decimal

import pytest
from django.db import connection, transaction
from django.utils import timezone

from jobs.operations.attachments import attach_file
from jobs.operations.extra_parts import ask_for_part, take_extra_part
from jobs.operations.job_returns import return_from_job
from jobs.operations.work_bookings import book_work
from jobs.queries.record_chain import Verified, verify_all
from tests.closed_jobs import finished_job, signed_off
from tests.jobs.calculations.test_attached_files import picture
from tests.shelves import make_part, put_on_shelf

pytestmark = pytest.mark.django_db

LATER = "now() + interval '1 day'"
SOMEBODY = "(SELECT id FROM identity_principal WHERE login = 'reader')"
ALTERED = {
    "what a photo shows": "UPDATE jobs_attachment SET caption = 'inner ring'",
    "when a photo was taken": f"UPDATE jobs_attachment SET occurred_at = {LATER}",
    "who took a photo": f"UPDATE jobs_attachment SET by_id = {SOMEBODY}",
    "on what time was spent": "UPDATE jobs_workbooking SET section = 'test'",
    "when work began": "UPDATE jobs_workbooking SET started_at = started_at - interval '1 day'",
    "who took a part": f"UPDATE jobs_extrapart SET taken_by_id = {SOMEBODY}",
    "when a part was taken": f"UPDATE jobs_extrapart SET taken_at = {LATER}",
    "of which part something came back": "UPDATE jobs_jobreturn SET extra_part_id = NULL",
    "where a step was done": "UPDATE jobs_jobstep SET done_under_id = job_id WHERE number = 40",
}
TABLES = ("jobs_attachment", "jobs_workbooking", "jobs_extrapart", "jobs_jobreturn", "jobs_jobstep")


@pytest.fixture
def closed(cast, workshop):
    """A closed job with a photo, booked time, and two extra parts of which one came back."""
    part, fitter = make_part("SLV-43"), cast.by("fitter")
    put_on_shelf(cast.by("stores"), cast.north, part, 2, lot="S-1", cured=None)
    began = timezone.now() - datetime.timedelta(hours=2)

    def meanwhile(job):
        attach_file(by=fitter, job_id=job.pk, content=picture("JPEG"), name="ring.jpg", caption="outer ring", step=20)
        book_work(by=fitter, job_id=job.pk, step=20, started_at=began, ended_at=began + datetime.timedelta(hours=1))
        asked = ask_for_part(
            by=fitter, job_id=job.pk, part_id=part.pk, quantity=Decimal(2), role="bearing-de", reason="scored"
        )
        take_extra_part(by=fitter, extra_part_id=asked.pk)
        return_from_job(
            by=fitter, job_id=job.pk, item_id=part.pk, quantity=Decimal(1), reason="one did", extra_part_id=asked.pk
        )

    def in_one(job):
        with transaction.atomic():
            meanwhile(job)

    return signed_off(cast, finished_job(cast, workshop, meanwhile=in_one))


def test_each_alteration_by_sql_is_found(closed):
    assert list(verify_all(Verified())) == []
    unseen = []
    for what, statement in ALTERED.items():
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
                for table in TABLES:
                    cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
                cursor.execute(statement)
                assert cursor.rowcount > 0, what
            if not list(verify_all(Verified())):
                unseen.append(what)
            transaction.set_rollback(True)
    assert unseen == []
