"""A pump's page, photos that a step wants, and a record that came late, in a real Chromium without scripts."""

import datetime

from django.db import transaction
from django.utils import timezone
from playwright.sync_api import FilePayload, expect

from jobs.operations.procedures import draft_revision
from services.api.identifiers import new_id
from tests.browser.screens import in_a_browser, looks_right
from tests.browser.test_job_sheet import open_sheet, picture
from tests.measured import measure, overhaul, ring_procedure, run_evenly
from tests.overhauls import TODAY, hands, open_workshop, procedure_document, release_procedure
from tests.world import gather_cast

pytestmark = in_a_browser


def want_photos(cast) -> None:
    """A third revision, whose first inspection wants photos."""
    document = procedure_document(revision=3)
    document["sections"][1]["steps"][0]["photos"] = [
        "the shaft at the seal, turned so that the worst place is seen",
        {"shows": "the impeller's bore", "needed": False},
    ]
    with transaction.atomic():
        revision_id, _ = draft_revision(by=cast.by("procedure-author"), document=document)
        release_procedure(cast, revision_id)


def test_a_step_wants_a_photo_a_record_came_late_and_a_pump_shows_its_wear(chromium, live_server):
    cast = gather_cast()
    workshop, hand = open_workshop(cast), hands(cast)
    ring_procedure(cast)
    run_evenly(workshop.pump, 1000)
    for days, gap in ((800, "0.171"), (600, "0.192"), (400, "0.210"), (100, "0.238")):
        measure(cast, workshop, overhaul(cast, workshop, workshop.pump, days), gap)
    want_photos(cast)
    day = (TODAY + datetime.timedelta(days=1)).isoformat()
    body = {"pump": str(workshop.pump.pk), "kit": str(workshop.kit.pk), "planned_start": day}
    job = hand["planner"].post("jobs", body, status=201)
    hand["planner"].post(f"jobs/{job['id']}/reserve-kit")
    hand["fitter"].post(f"jobs/{job['id']}/start", seen=f"jobs/{job['id']}")
    hand["fitter"].post(f"jobs/{job['id']}/steps/10/confirm")
    at = (timezone.now() - datetime.timedelta(minutes=1)).isoformat()
    late = [
        {"id": str(new_id()), "kind": "step-confirmation", "job": job["id"], "step": 10, "occurred_at": at},
        {"id": str(new_id()), "kind": "step-confirmation", "job": job["id"], "step": 20, "occurred_at": at},
    ]
    hand["supervisor"].post("offline-records", {"device": "phone of the north workshop", "records": late})

    fitter = open_sheet(chromium, live_server, "fitter")
    fitter.goto(f"{live_server.url}/workshop/jobs/{job['id']}")
    expect(fitter.get_by_text("1 of 1 photo still lacking")).to_be_visible()
    looks_right(fitter, "job-photos-wanted")
    photo: FilePayload = {"name": "shaft.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    fitter.get_by_label("The shaft at the seal").set_input_files(photo)
    fitter.get_by_role("button", name="Attach this photo").first.click()
    expect(fitter.get_by_text("All photos that this step needs are there.")).to_be_visible()

    supervisor = open_sheet(chromium, live_server, "supervisor")
    expect(supervisor.get_by_text("1 in conflict")).to_be_visible()
    looks_right(supervisor, "work-came-late")
    supervisor.goto(f"{live_server.url}/workshop/jobs/{job['id']}")
    looks_right(supervisor, "job-came-late")
    supervisor.get_by_label("Why").first.fill("Fitter had confirmed it already")
    supervisor.get_by_role("button", name="Apply it now").first.click()
    expect(supervisor.get_by_label("Why").first).to_have_value("Fitter had confirmed it already")
    supervisor.get_by_role("button", name="Set it aside").first.click()
    expect(supervisor.get_by_role("status")).to_contain_text("The record is set aside.")

    supervisor.get_by_role("link", name="P-117", exact=True).click()
    expect(supervisor.get_by_role("img", name="P-117:")).to_be_visible()
    looks_right(supervisor, "pump-worn")
