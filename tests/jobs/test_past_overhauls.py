"""Overhauls from before, handed in as rows: file after file, beside what is recorded here."""

import datetime

import pytest
from django.db import transaction
from django.utils import timezone

from assets.models import Pump
from jobs.models import FittedPart, Instrument, Job, Measurement
from jobs.operations.history_loads import load_past_jobs, load_past_measurements
from jobs.queries.record_chain import Verified, verify_all
from services.api.loading import LoadRow
from services.changes.models import Change
from tests.closed_jobs import closed_job
from tests.overhauls import make_instrument
from tests.shelves import make_kit, make_part

pytestmark = pytest.mark.django_db

LONG_AGO = timezone.now() - datetime.timedelta(days=900)


@pytest.fixture
def workshop(workshop):
    Pump.objects.filter(pk=workshop.pump.pk).update(external_ids={"file": "P-117"})
    return workshop


def past(workshop, number, days, **changes):
    """A job done so many days after the first."""
    done = LONG_AGO + datetime.timedelta(days=days)
    return {
        "number": number, "pump": "P-117", "procedure": "PULL-OUT", "kit": workshop.kit.number,
        "kit_revision": workshop.kit.revision, "lot": "L-1", "started_at": done, "finished_at": done,
        "fitter": "fitter", "supervisor": "supervisor",
    } | changes  # fmt: skip


def run_out(job, hours, readings="0|0.01|0.02|0", **changes):
    return {
        "job": job, "characteristic": "shaft-run-out", "readings": readings, "given": None, "unit": "mm",
        "instrument": "DI-1", "second_instrument": None, "taken_at": LONG_AGO + datetime.timedelta(hours=hours),
    } | changes  # fmt: skip


def taken_in(load, cast, *rows, by="integrator"):
    with transaction.atomic():
        return load(by=cast.by(by), rows=[LoadRow(number, one) for number, one in enumerate(rows, 1)])


def outcomes(found):
    return [one.outcome for one in found]


def sitting(role="bearing-de"):
    """Jobs by which parts at a position came, with those by which they went, the oldest first."""
    rows = FittedPart.objects.filter(role=role).order_by("fitted_at", "part__number")
    return [(job, gone or "") for job, gone in rows.values_list("job__number", "removed_by_job__number")]


def test_nothing_is_added_to_a_job_that_was_signed_off_here(cast, workshop):
    job = closed_job(cast, workshop)
    (found,) = taken_in(load_past_measurements, cast, run_out(job.number, 1))
    assert found.outcome == "refused"
    assert found.problems[0].column == "job"
    assert list(verify_all(Verified())) == []


def test_a_later_file_may_bring_more_of_the_same_characteristic(cast, workshop):
    taken_in(load_past_jobs, cast, past(workshop, "OLD-1", 0))
    taken_in(load_past_measurements, cast, run_out("OLD-1", 1, "0|0.04|0.09|0"))
    again = taken_in(load_past_measurements, cast, run_out("OLD-1", 1, "0|0.04|0.09|0"), run_out("OLD-1", 2))
    assert outcomes(again) == ["unchanged", "created"]
    assert list(Measurement.objects.order_by("attempt").values_list("attempt", "verdict")) == [
        (1, "reject"),
        (2, "accept"),
    ]


def test_a_measurement_names_an_instrument_of_ones_own_sites(cast, workshop):
    made = make_instrument(cast, "DI-S", "dial-indicator")
    Instrument.objects.filter(pk=made.pk).update(site=cast.south)
    taken_in(load_past_jobs, cast, past(workshop, "OLD-1", 0))
    (found,) = taken_in(load_past_measurements, cast, run_out("OLD-1", 1, instrument="DI-S"))
    assert (found.outcome, found.problems[0].column) == ("refused", "instrument")


def test_a_part_is_out_when_the_next_job_came_whichever_file_brought_it_first(cast, workshop):
    taken_in(load_past_jobs, cast, past(workshop, "OLD-1", 0))
    taken_in(load_past_jobs, cast, past(workshop, "OLD-3", 400))
    taken_in(load_past_jobs, cast, past(workshop, "OLD-2", 200))
    assert sitting() == [("OLD-1", "OLD-2"), ("OLD-2", "OLD-3"), ("OLD-3", "")]
    assert Change.objects.filter(kind="fitted-part.removed").exists()


def test_what_was_fitted_here_ends_what_is_taken_over(cast, workshop):
    job = closed_job(cast, workshop)
    taken_in(load_past_jobs, cast, past(workshop, "OLD-1", 0))
    assert sitting() == [("OLD-1", job.number), (job.number, "")]
    assert list(verify_all(Verified())) == []


def test_two_parts_at_one_position_go_together(cast, workshop):
    kit = make_kit("KIT-TWO", [("bearing-de", workshop.bearing), ("bearing-de", make_part("SHIM-1"))], scope="two")
    rows = [past(workshop, "OLD-1", 0, kit=kit.number, lot=None), past(workshop, "OLD-2", 300)]
    taken_in(load_past_jobs, cast, *rows)
    assert sitting() == [("OLD-1", "OLD-2"), ("OLD-1", "OLD-2"), ("OLD-2", "")]
    assert Job.objects.filter(number__startswith="OLD").count() == 2


def test_the_papers_of_a_job_with_an_odd_number_are_files_with_a_plain_name(cast, workshop):
    taken_in(load_past_jobs, cast, past(workshop, 'J 7/"ä\nx', 0))
    job = Job.objects.get(number__startswith="J 7")
    answer = cast.client("reader").get(f"/api/v1/jobs/{job.pk}/overhaul-record")
    assert answer.status_code == 200
    assert answer["Content-Disposition"] == 'inline; filename="overhaul-record-J_7_x.pdf"'
