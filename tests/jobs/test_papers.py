"""Papers over HTTP: what is printed is what is kept, before the work and after it."""

import re

import pytest
from django.test import Client

from jobs.models import Job, JobStep, Measurement, Step
from services.changes.models import Change
from tests.closed_jobs import closed_job, finished_job, started_job
from tests.jobs.test_findings import FLUTED
from tests.jobs.test_overhaul import ready, safe
from tests.overhauls import hands
from tests.printed_pages import pages, symbols, text_of

pytestmark = pytest.mark.django_db


def printed(cast, job, what, query="", *, role="fitter", status=200, **headers):
    answer = cast.client(role).get(f"/api/v1/jobs/{job}/{what}{query}", headers=headers)
    assert answer.status_code == status, answer.content
    return answer


def words(answer):
    return re.sub(r"\s+", " ", " ".join(text_of(answer.content)))


def test_the_sheet_before_the_work_resolves_steps_and_limits_and_writes_nothing(cast, workshop):
    job = ready(workshop, hands(cast))
    changes = Change.objects.count()
    answer = printed(cast, job["id"], "job-sheet")
    assert answer.headers["Content-Type"] == "application/pdf"
    assert f"job-sheet-{job['number']}.pdf" in answer.headers["Content-Disposition"]
    text = words(answer)
    assert "Stored energy kills. Prove dead before touching." in text
    assert "40.002 to 40.013 mm (1.57489 to 1.57531 in)" in text
    assert "lot L-1, bin MAIN" in text
    assert "60 Only for nitrile" in text
    assert "elastomer is EPDM" in text
    assert JobStep.objects.count() == 0
    assert Change.objects.count() == changes


def test_the_sheet_of_a_started_job_holds_its_own_steps(cast, workshop):
    job = started_job(cast, workshop)
    JobStep.objects.filter(job=job, number=10).update(why="as at the last overhaul")
    assert "as at the last overhaul" in words(printed(cast, job.pk, "job-sheet"))


def test_a_step_whose_condition_cannot_be_judged_is_printed_with_its_caution(cast, workshop):
    """The pump's elastomer is not registered: nobody knows whether the step applies, so it is not left out."""
    job = ready(workshop, hands(cast))
    workshop.pump.variant = {}
    workshop.pump.save()
    text = words(printed(cast, job["id"], "job-sheet"))
    assert "60 Only for nitrile" in text
    assert "cannot be told yet: ask before you leave it out" in text
    assert Step.objects.count() == 6


def test_paper_and_units_are_asked_for_and_anything_else_is_refused(cast, workshop):
    job = started_job(cast, workshop)
    letter = printed(cast, job.pk, "job-sheet", "?paper=letter&units=inch")
    assert "1.57489 to 1.57531 in (40.002 to 40.013 mm)" in words(letter)
    assert pages(letter.content, dpi=72)[0].shape[:2] == (792, 612)
    for query in ("?paper=a5", "?units=cubits", "?colour=red"):
        answer = printed(cast, job.pk, "job-sheet", query, status=400)
        assert answer.headers["Content-Type"] == "application/problem+json"


def test_the_same_paper_has_the_same_bytes_and_tag_until_something_changes(cast, workshop):
    job = started_job(cast, workshop)
    first = printed(cast, job.pk, "job-sheet", Accept="application/pdf")
    again = printed(cast, job.pk, "job-sheet", Accept="application/pdf")
    assert (again.content, again.headers["ETag"]) == (first.content, first.headers["ETag"])
    assert first.headers["Cache-Control"] == "private, no-cache"
    kept = printed(cast, job.pk, "job-sheet", status=304, **{"If-None-Match": first.headers["ETag"]})
    assert kept.content == b""
    JobStep.objects.filter(job=job, number=10).update(why="something else")
    assert printed(cast, job.pk, "job-sheet").headers["ETag"] != first.headers["ETag"]
    other = printed(cast, job.pk, "job-sheet", "?paper=letter").headers["ETag"]
    assert other != first.headers["ETag"]


def test_the_record_of_a_closed_job_is_proved_by_scanning_it(cast, workshop):
    job = closed_job(cast, workshop, bent=True)
    answer = printed(cast, job.pk, "overhaul-record", role="reader")
    text = words(answer)
    for said in ("0.0900 ±", "rejected conceded", "Runs slowly.", "This shaft, until its next overhaul.", "BRG-6308"):
        assert said in text
    (seen,) = [one for page in pages(answer.content) for one in symbols(page)]
    path = seen.text.removeprefix("http://localhost:8000")
    found = cast.client("reader").get(path).json()
    assert (found["number"], found["verification"]["holds"]) == (job.number, True)
    assert found["content_hash"].removeprefix("sha256:") in text.replace(" ", "")
    assert printed(cast, job.pk, "overhaul-record").content == answer.content


def test_the_page_behind_the_code_says_whether_the_record_holds(cast, workshop):
    job = closed_job(cast, workshop)
    path = f"/records/{job.record_link.content_hash.removeprefix('sha256:')}"
    browser = Client()
    assert browser.get(path, headers={"Accept": "text/html"}).status_code == 302
    browser.force_login(cast.people["reader"])
    page = browser.get(path, headers={"Accept": "text/html"}).content.decode()
    assert f"Record of job {job.number}" in page
    assert "It holds" in page
    JobStep.objects.filter(job=job, number=20).update(note="altered")
    page = browser.get(path, headers={"Accept": "text/html"}).content.decode()
    assert "It does not hold" in page
    assert 'role="alert"' in page
    wrong = browser.get("/records/abc", headers={"Accept": "text/html"})
    assert (wrong.status_code, "no hash of a record" in wrong.content.decode()) == (422, True)
    browser.force_login(cast.people["stranger"])
    assert browser.get(path, headers={"Accept": "text/html"}).status_code == 404


def test_a_record_under_way_says_that_it_is_not_signed(cast, workshop):
    job = finished_job(cast, workshop)
    text = words(printed(cast, job.pk, "overhaul-record"))
    assert "Not signed off: the job is awaiting sign off" in text


def test_the_second_overhaul_shows_how_the_pump_has_worn(cast, workshop):
    first = closed_job(cast, workshop)
    assert "How this pump has worn" not in words(printed(cast, first.pk, "overhaul-record"))
    second = closed_job(cast, workshop)
    assert "Shaft run-out at the seal, mm" in words(printed(cast, second.pk, "overhaul-record"))
    # What came later does not change the earlier record.
    assert "How this pump has worn" not in words(printed(cast, first.pk, "overhaul-record"))
    assert Measurement.objects.count() == 6


def test_a_planned_job_has_a_record_without_anything_in_it(cast, workshop):
    job = ready(workshop, hands(cast))
    assert "Nothing was measured." in words(printed(cast, job["id"], "overhaul-record"))


def test_the_record_tells_what_was_found_and_how_long_it_took_and_drops_what_was_corrected(cast, workshop):
    hand = hands(cast)
    job = safe(workshop, hand)
    path = f"jobs/{job['id']}"
    first = hand["fitter"].post(f"{path}/findings", FLUTED | {"observed": "raceway grey"}, status=201)
    hand["fitter"].post(f"{path}/findings", FLUTED | {"corrects": first["id"]}, status=201)
    hand["fitter"].post(f"{path}/work", {"minutes": 95, "step": 10}, status=201)
    text = words(printed(cast, job["id"], "overhaul-record"))
    assert "raceway fluted like a washboard" in text
    assert "Bearing damage 5.4.3 (ISO 15243)" in text
    assert "raceway grey" not in text
    assert "1 h 35 min in all." in text


@pytest.mark.parametrize("what", ["job-sheet", "overhaul-record"])
def test_papers_are_for_the_people_of_the_site(cast, workshop, what):
    job = started_job(cast, workshop)
    assert printed(cast, job.pk, what, role="stranger", status=404).json()["code"] == "not-found"
    assert Job.objects.get(pk=job.pk).closed_at is None
    assert printed(cast, job.pk, what, role="reader").status_code == 200
