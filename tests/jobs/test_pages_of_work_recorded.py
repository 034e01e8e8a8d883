"""What people record and settle by the pages of work, and what each of them is offered."""

import datetime
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone
from PIL import Image

from jobs.models import Attachment, ExtraPart, Finding, Job, JobReturn, Nonconformity, OfflineRecord, WorkBooking
from services.api.identifiers import new_id
from tests.overhauls import TODAY, hands

pytestmark = pytest.mark.django_db


@pytest.fixture
def planned(cast, workshop):
    day = (TODAY + datetime.timedelta(days=1)).isoformat()
    body = {"pump": str(workshop.pump.pk), "kit": str(workshop.kit.pk), "planned_start": day}
    return hands(cast)["planner"].post("jobs", body, status=201)


@pytest.fixture
def job(cast, planned):
    hands(cast)["planner"].post(f"jobs/{planned['id']}/reserve-kit")
    started = hands(cast)["fitter"].post(f"jobs/{planned['id']}/start", seen=f"jobs/{planned['id']}")
    hands(cast)["fitter"].post(f"jobs/{planned['id']}/steps/10/confirm")
    return started


def browser(cast, login: str) -> Client:
    client = Client()
    client.force_login(cast.people[login])
    return client


def page(cast, login: str, job) -> str:
    return browser(cast, login).get(f"/workshop/jobs/{job['id']}").content.decode()


def said(client: Client, job, path: str, **fields) -> str:
    answer = client.post(f"/workshop/jobs/{job['id']}/{path}", fields, follow=True)
    assert answer.status_code == 200
    return answer.content.decode()


def finding(**changes):
    fields = {"id": str(new_id()), "role": "bearing-de", "observed": "raceway fluted", "mode": "VIB", "step": "20"}
    return fields | changes


def picture() -> SimpleUploadedFile:
    into = io.BytesIO()
    Image.new("RGB", (20, 20), (10, 90, 60)).save(into, "JPEG")
    return SimpleUploadedFile("ring.jpg", into.getvalue(), content_type="image/jpeg")


def test_what_a_job_needs_is_told_item_by_item_before_it_begins(cast, planned):
    shown = page(cast, "reader", planned)
    assert "not met" in shown
    assert "No kit is reserved by lot" in shown
    assert ">met<" in shown


def test_a_finding_is_kept_with_its_codes_and_shown_in_words(cast, job):
    fitter = browser(cast, "fitter")
    shown = said(fitter, job, "findings", **finding(**{"bearing-damage": "5.4.3"}))
    assert Finding.objects.get().bearing_damage == "5.4.3"
    assert "fluting (5.4.3)" in shown


def test_a_finding_sent_twice_is_one(cast, job):
    fields = finding()
    for _ in range(2):
        said(browser(cast, "fitter"), job, "findings", **fields)
    assert Finding.objects.count() == 1


def test_what_was_refused_stands_in_its_form_again_once(cast, job):
    fitter = browser(cast, "fitter")
    shown = said(fitter, job, "findings", **finding(role="casing-o-ring", **{"bearing-damage": "5.4.3"}))
    assert "casing-o-ring is none" in shown
    assert ">raceway fluted</textarea>" in shown
    assert ">raceway fluted</textarea>" not in page(cast, "fitter", job)


def test_a_finding_may_ask_for_a_decision(cast, job):
    said(browser(cast, "fitter"), job, "findings", **finding(**{"needs-decision": "on"}))
    assert Nonconformity.objects.get().description == "raceway fluted"


def test_a_photo_is_attached_and_a_text_in_its_place_is_refused_in_words(cast, job):
    fitter = browser(cast, "fitter")
    said(fitter, job, "photos", id=str(new_id()), step="20", caption="ring", file=picture())
    assert Attachment.objects.get().step_number == 20
    shown = said(fitter, job, "photos", id=str(new_id()), file=SimpleUploadedFile("a.jpg", b"no picture"))
    assert "Send a JPEG, PNG or WebP picture, or a PDF." in shown
    assert Attachment.objects.count() == 1


def test_minutes_are_booked_on_a_step(cast, job):
    assert "45 minutes" in said(browser(cast, "fitter"), job, "time", id=str(new_id()), step="20", minutes="45")
    assert WorkBooking.objects.get().step_number == 20


def test_a_reader_records_nothing_and_is_offered_nothing(cast, job):
    shown = page(cast, "reader", job)
    for form in ("/findings", "/photos", "/time", "/extra-parts", "/hand-over", "/reschedule"):
        assert f"{job['id']}{form}" not in shown
    said(browser(cast, "reader"), job, "findings", **finding())
    assert not Finding.objects.exists()


def test_a_part_beyond_the_kit_is_asked_for_by_its_number_and_let_go_again(cast, job):
    fitter = browser(cast, "fitter")
    fields = {"id": str(new_id()), "part": "brg-6308", "quantity": "1", "part-role": "bearing-de"}
    shown = said(fitter, job, "extra-parts", **fields, **{"part-reason": "fluted"})
    assert "Not enough of it is free here." in shown
    extra = ExtraPart.objects.get()
    said(fitter, job, "extra-parts/withdraw", **{"extra-part": str(extra.pk), "withdraw-reason": "it is sound"})
    extra.refresh_from_db()
    assert extra.state == "withdrawn"


def test_a_number_that_no_part_has_is_refused_in_words(cast, job):
    fields = {"id": str(new_id()), "part": "NO-SUCH", "quantity": "1", "part-role": "bearing-de", "part-reason": "x"}
    assert "There is no part NO-SUCH." in said(browser(cast, "fitter"), job, "extra-parts", **fields)


def test_a_single_part_that_comes_back_waits_until_somebody_has_looked(cast, workshop, job):
    fitter = browser(cast, "fitter")
    said(fitter, job, "take-kit")
    fields = {"what": f"part:{workshop.o_ring.pk}", "quantity": "1", "back-reason": "not used"}
    assert "waits in quarantine" in said(fitter, job, "give-back", **fields)
    assert JobReturn.objects.get().condition == "quarantined"


def test_a_supervisor_who_worked_on_the_job_is_not_offered_a_concession(cast, job):
    said(browser(cast, "fitter"), job, "report", description="ridge on the seat")
    assert "use as it is (concession)" in page(cast, "supervisor", job)
    Job.objects.get(pk=job["id"]).steps.filter(number=10).update(done_by_id=cast.by("supervisor").id)
    shown = page(cast, "supervisor", job)
    assert "use as it is (concession)" not in shown
    assert "would need another supervisor" in shown


def test_a_concession_names_what_it_holds_for(cast, job):
    said(browser(cast, "fitter"), job, "report", description="ridge on the seat")
    raised = Nonconformity.objects.get()
    path = f"nonconformities/{raised.pk}/decide"
    fields = {"version": str(raised.version), "disposition": "use-as-is", "reason": "runs true"}
    assert "A concession says what it holds for." in said(browser(cast, "supervisor"), job, path, **fields)
    said(browser(cast, "supervisor"), job, path, **fields, extent="this shaft, until its next overhaul")
    raised.refresh_from_db()
    assert raised.extent == "this shaft, until its next overhaul"


def test_a_record_that_changed_after_it_was_shown_is_not_signed(cast, job):
    Job.objects.filter(pk=job["id"]).update(state="awaiting-sign-off", finished_at=timezone.now())
    version = str(Job.objects.get(pk=job["id"]).version)
    client = browser(cast, "supervisor")
    assert "The hash of the record that was shown is missing." in said(client, job, "sign-off", version=version)
    shown = said(client, job, "sign-off", version=version, seen="sha256:" + "0" * 64)
    assert "is not the one you name" in shown
    assert Job.objects.get(pk=job["id"]).state == "awaiting-sign-off"


def late(cast, job):
    """A confirmation that came after the step was confirmed by somebody else."""
    record = {"id": str(new_id()), "kind": "step-confirmation", "job": job["id"], "step": 10,
              "occurred_at": (timezone.now() - datetime.timedelta(minutes=1)).isoformat()}  # fmt: skip
    hands(cast)["supervisor"].post("offline-records", {"device": "phone", "records": [record]})
    return OfflineRecord.objects.get()


def test_a_record_that_came_late_stands_beside_what_is_against_it(cast, job):
    kept = late(cast, job)
    assert kept.state == "conflict"
    shown = page(cast, "supervisor", job)
    assert "What stands against it" in shown
    assert "<dt>done by</dt><dd>Fitter</dd>" in shown
    assert "1 in conflict" in browser(cast, "supervisor").get("/workshop").content.decode()
    assert "1 in conflict" not in browser(cast, "fitter").get("/workshop").content.decode()


def test_a_supervisor_sets_a_late_record_aside_and_a_fitter_cannot(cast, job):
    kept = late(cast, job)
    fields = {"version": str(kept.version), "decision": "set-aside", "reason": "the same work"}
    said(browser(cast, "fitter"), job, f"offline-records/{kept.pk}/settle", **fields)
    kept.refresh_from_db()
    assert kept.state == "conflict"
    said(browser(cast, "supervisor"), job, f"offline-records/{kept.pk}/settle", **fields)
    kept.refresh_from_db()
    assert kept.state == "set-aside"


def test_a_planner_moves_a_job_and_hands_it_over(cast, planned):
    client = browser(cast, "planner")
    version = str(Job.objects.get(pk=planned["id"]).version)
    day = (TODAY + datetime.timedelta(days=9)).isoformat()
    said(client, planned, "reschedule", version=version, **{"first-day": day, "moving-reason": "crane is away"})
    found = Job.objects.get(pk=planned["id"])
    assert found.planned_start.isoformat() == day
    said(client, planned, "hand-over", version=str(found.version), to=str(cast.by("fitter").id))
    found.refresh_from_db()
    assert found.assignee_id == cast.by("fitter").id


@pytest.mark.parametrize("paper", ["job-sheet", "overhaul-record"])
def test_somebody_signed_in_to_the_pages_may_print(cast, job, paper):
    accept = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"
    address = f"/api/v1/jobs/{job['id']}/{paper}?paper=letter&units=inch"
    answer = browser(cast, "fitter").get(address, headers={"Accept": accept})
    assert answer.status_code == 200
    assert answer.content.startswith(b"%PDF")


def test_a_pump_tells_when_it_is_due_and_what_was_done(cast, workshop, planned):
    shown = browser(cast, "reader").get(f"/workshop/pumps/{workshop.pump.pk}").content.decode()
    assert "Next overhaul" in shown
    assert planned["number"] in shown
    assert "Nothing has been measured on this pump yet." in shown


def test_a_pump_of_another_site_is_not_there(cast, workshop):
    assert browser(cast, "stranger").get(f"/workshop/pumps/{workshop.pump.pk}").status_code == 404
