"""A job on a phone, from its beginning to its signature, in a real Chromium without scripts."""

import datetime
import io

import pytest
from PIL import Image
from playwright.sync_api import FilePayload, Page, expect

from jobs.models import Job, Measurement
from tests.browser.screens import WIDTHS, fits_its_width, in_a_browser, keep, sign_in
from tests.overhauls import TODAY, hands, open_workshop
from tests.world import gather_cast

pytestmark = in_a_browser


def picture() -> bytes:
    """A small JPEG."""
    into = io.BytesIO()
    Image.new("RGB", (40, 30), (120, 90, 60)).save(into, "JPEG")
    return into.getvalue()


@pytest.fixture
def job():
    cast = gather_cast()
    workshop = open_workshop(cast)
    body = {
        "pump": str(workshop.pump.pk),
        "kit": str(workshop.kit.pk),
        "planned_start": (TODAY + datetime.timedelta(days=1)).isoformat(),
        "assignee": str(cast.by("fitter").id),
    }
    return hands(cast)["planner"].post("jobs", body, status=201)


def open_sheet(chromium, live_server, login: str) -> Page:
    page = chromium.new_context(java_script_enabled=False, viewport={"width": 390, "height": 844}).new_page()
    page.goto(live_server.url + "/workshop")
    sign_in(page, login)
    return page


def test_a_fitter_is_led_through_and_a_supervisor_looks_and_signs(chromium, live_server, job):
    fitter, supervisor = (open_sheet(chromium, live_server, one) for one in ("fitter", "supervisor"))
    _looks_right(fitter, "work")
    planner = open_sheet(chromium, live_server, "planner")
    planner.get_by_role("link", name="P-117").click()
    expect(planner.get_by_text("No kit is reserved by lot")).to_be_visible()
    planner.get_by_role("button", name="Hold the kit for this job").click()
    expect(planner.get_by_role("status")).to_contain_text("ready now")

    fitter.get_by_role("link", name="P-117").click()
    _looks_right(fitter, "job-ready")
    fitter.get_by_role("button", name="Begin: make safe first").click()
    expect(fitter.get_by_role("heading", name="10 Isolate")).to_be_visible()
    expect(fitter.get_by_role("alert")).to_contain_text("Stored energy kills")
    _looks_right(fitter, "job-make-safe")
    fitter.get_by_role("button", name="Done on site: it is safe").click()

    expect(fitter.get_by_role("heading", name="20 Measure the shaft run-out")).to_be_visible()
    expect(fitter.get_by_text("at most 0.05 mm", exact=True)).to_be_visible()
    _read(fitter, "0", "0,03", "many", "0")
    expect(fitter.get_by_role("status")).to_contain_text("Reading 3 is not a number.")
    expect(fitter.get_by_label("Reading 2")).to_have_value("0,03")
    _read(fitter, "0", "0,03", "0.09", "\N{MINUS SIGN}0.01")
    expect(fitter.get_by_role("status")).to_contain_text("Rejected: 0.1 mm.")
    _looks_right(fitter, "job-rejected")
    _record_beside(fitter)
    fitter.get_by_role("button", name="Done", exact=True).click()
    expect(fitter.get_by_role("status")).to_contain_text("the last measurement is reject")

    supervisor.reload()
    supervisor.get_by_role("link", name="P-117").first.click()
    expect(supervisor.get_by_label("A concession holds for")).to_be_visible()
    supervisor.get_by_label("What becomes of it").select_option("use-as-is")
    supervisor.get_by_label("Why").first.fill("it runs until the autumn")
    supervisor.get_by_role("button", name="Decide").click()
    expect(supervisor.get_by_role("status")).to_contain_text("A concession says what it holds for.")
    expect(supervisor.get_by_label("Why").first).to_have_value("it runs until the autumn")
    supervisor.get_by_label("What becomes of it").select_option("rework")
    supervisor.get_by_label("Why").first.fill("straighten it and measure again")
    _looks_right(supervisor, "job-to-decide")
    supervisor.get_by_role("button", name="Decide").click()
    expect(supervisor.get_by_role("status")).to_contain_text("Decided: rework.")

    _read(fitter, "0", "0.01", "0.02", "0.01", again=True)
    expect(fitter.get_by_role("status")).to_contain_text("Accepted: 0.02 mm.")
    fitter.get_by_role("button", name="Done", exact=True).click()
    expect(fitter.get_by_role("heading", name="30 Measure the bearing seat")).to_be_visible()
    _looks_right(fitter, "job-bearing-seat")
    room, seat = fitter.locator("form.readings").all()
    room.get_by_label("Reading").fill("20")
    room.get_by_role("button").click()
    for place in (1, 2, 3):
        seat.get_by_label(f"Reading {place}").fill("40.0060")
    seat.get_by_role("button").click()
    fitter.get_by_role("button", name="Done", exact=True).click()
    expect(fitter.get_by_text("Waits until a supervisor other than")).to_be_visible()

    supervisor.goto(live_server.url + "/workshop")
    expect(supervisor.get_by_role("heading", name="Waiting for your eyes")).to_be_visible()
    _looks_right(supervisor, "work-of-supervisor")
    supervisor.get_by_role("link", name="hold point 30").click()
    supervisor.get_by_label("What you saw").fill("seat clean, no ridge")
    supervisor.get_by_role("button", name="I looked at it: release").click()
    expect(supervisor.get_by_role("status")).to_contain_text("Hold point 30 is released.")

    fitter.goto(f"{live_server.url}/workshop/jobs/{job['id']}")
    _looks_right(fitter, "job-heating")
    fitter.get_by_role("button", name="Done", exact=True).click()
    expect(fitter.get_by_role("heading", name="50 Fit the O-rings")).to_be_visible()
    expect(fitter.get_by_text("EPDM swells").first).to_be_visible()
    _looks_right(fitter, "job-lubricants")
    fitter.get_by_role("button", name="Done", exact=True).click()
    fitter.get_by_role("button", name="I take it off the shelf").click()
    fitter.get_by_text("Give back what was not used").click()
    fitter.get_by_label("What comes back").select_option(label="OR-226-E OR-226-E of the kit")
    _looks_right(fitter, "job-give-back")
    fitter.get_by_role("button", name="Finish: ask for the sign-off").click()
    expect(fitter.get_by_role("status")).to_contain_text("waits for its sign-off")

    supervisor.goto(f"{live_server.url}/workshop/jobs/{job['id']}")
    expect(supervisor.get_by_text("Hash of the whole record")).to_be_visible()
    supervisor.get_by_label("casing O-ring").fill("9")
    supervisor.get_by_role("button", name="Sign: the record is right").click()
    expect(supervisor.get_by_role("status")).to_contain_text("More came back of a part")
    expect(supervisor.get_by_label("casing O-ring")).to_have_value("9")
    supervisor.get_by_label("casing O-ring").fill("1")
    supervisor.get_by_label("Remark").fill("quiet at the run test")
    _looks_right(supervisor, "job-sign-off")
    supervisor.get_by_role("button", name="Sign: the record is right").click()
    expect(supervisor.get_by_role("status")).to_contain_text("is closed, signed over sha256:")
    expect(supervisor.get_by_text("the record is as it was signed")).to_be_visible()
    _looks_right(supervisor, "job-closed")
    supervisor.get_by_role("link", name="The record", exact=True).click()
    expect(supervisor.get_by_role("heading", name="Record of job")).to_be_visible()
    _looks_right(supervisor, "record-verified")
    supervisor.goto(f"{live_server.url}/workshop/jobs/{job['id']}")
    supervisor.get_by_role("link", name="P-117", exact=True).click()
    expect(supervisor.get_by_role("heading", name="Next overhaul")).to_be_visible()
    expect(supervisor.get_by_role("link", name="its record")).to_be_visible()
    _looks_right(supervisor, "pump")
    assert Job.objects.get(pk=job["id"]).state == "closed"
    assert Measurement.objects.filter(job_id=job["id"]).count() == 4


def _record_beside(fitter: Page) -> None:
    """A finding, a photo, time and a part beyond the kit, at the step that is shown."""
    fitter.get_by_text("Record what was found").click()
    fitter.get_by_label("Position", exact=True).select_option("bearing-de")
    fitter.get_by_label("What was seen").fill("raceway fluted like a washboard")
    fitter.get_by_label("How it showed").select_option("VIB")
    fitter.get_by_label("Damage to the bearing").select_option("5.4.3")
    _looks_right(fitter, "job-finding")
    fitter.get_by_role("button", name="Keep the finding").click()
    expect(fitter.get_by_role("status")).to_contain_text("Kept: what was found at the bearing, drive end.")
    fitter.get_by_text("Attach a photo or a document").click()
    photo: FilePayload = {"name": "raceway.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    fitter.get_by_label("JPEG, PNG or WebP").set_input_files(photo)  #
    fitter.get_by_label("What it shows").fill("outer ring, load zone")
    fitter.get_by_role("button", name="Attach it").click()
    expect(fitter.get_by_role("status")).to_contain_text("Attached: outer ring, load zone.")
    fitter.get_by_text("Book time").click()
    fitter.get_by_label("Minutes").fill("1.5")
    fitter.get_by_role("button", name="Book my time").click()
    expect(fitter.get_by_role("status")).to_contain_text("Minutes are a whole number.")
    expect(fitter.get_by_label("Minutes")).to_have_value("1.5")
    fitter.get_by_label("Minutes").fill("45")
    fitter.get_by_role("button", name="Book my time").click()
    expect(fitter.get_by_role("status")).to_contain_text("Booked: 45 minutes.")
    fitter.get_by_text("Ask for a part beyond the kit").click()
    fitter.get_by_label("Number of the part").fill("BRG-6308")
    fitter.get_by_label("For which position").select_option("bearing-de")
    fitter.get_by_label("Why it is needed").fill("the second one is fluted too")
    fitter.get_by_role("button", name="Ask for it").click()
    expect(fitter.get_by_role("status")).to_contain_text("Asked for BRG-6308.")
    expect(fitter.get_by_role("heading", name="20 Measure the shaft run-out")).to_be_visible()
    expect(fitter.get_by_role("heading", name="Recorded so far")).to_be_visible()
    _looks_right(fitter, "job-recorded")


def test_a_form_sent_twice_is_one_measurement(chromium, live_server, job):
    planner = open_sheet(chromium, live_server, "planner")
    planner.goto(f"{live_server.url}/workshop/jobs/{job['id']}")
    planner.get_by_role("button", name="Hold the kit for this job").click()
    fitter = open_sheet(chromium, live_server, "fitter")
    fitter.goto(f"{live_server.url}/workshop/jobs/{job['id']}")
    fitter.get_by_role("button", name="Begin: make safe first").click()
    fitter.get_by_role("button", name="Done on site: it is safe").click()
    form = fitter.locator("form.readings")
    again: dict[str, str | float | bool] = {f"reading--{place}": "0.01" for place in (1, 2, 3, 4)}
    for name in ("csrfmiddlewaretoken", "id", "characteristic", "unit", "instrument"):
        again[name] = form.locator(f"[name={name}]").input_value()
    address = live_server.url + (form.get_attribute("action") or "")
    for _ in range(2):
        fitter.request.post(address, form=again, headers={"Referer": live_server.url})
    assert Measurement.objects.filter(job_id=job["id"]).count() == 1


def _read(page: Page, *readings: str, again: bool = False) -> None:
    for place, reading in enumerate(readings, start=1):
        page.get_by_label(f"Reading {place}").fill(reading)
    page.get_by_role("button", name="Measure again" if again else "Judge it").click()


def _looks_right(page: Page, name: str) -> None:
    for width, (across, down) in WIDTHS.items():
        page.set_viewport_size({"width": across, "height": down})
        fits_its_width(page, across)
        keep(page, f"{name}-{width}")
    page.set_viewport_size({"width": WIDTHS["phone"][0], "height": WIDTHS["phone"][1]})
