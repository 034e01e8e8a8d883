"""A job on a phone, from its beginning to its signature, in a real Chromium without scripts."""

import datetime

import pytest
from playwright.sync_api import Page, expect

from jobs.models import Job, Measurement
from tests.browser.screens import WIDTHS, fits_its_width, in_a_browser, keep, sign_in
from tests.overhauls import TODAY, hands, open_workshop
from tests.world import gather_cast

pytestmark = in_a_browser


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
    page.goto(live_server.url + "/work")
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
    fitter.get_by_role("button", name="Done", exact=True).click()
    expect(fitter.get_by_role("status")).to_contain_text("the last measurement is reject")

    supervisor.reload()
    supervisor.get_by_role("link", name="P-117").first.click()
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

    supervisor.goto(live_server.url + "/work")
    expect(supervisor.get_by_role("heading", name="Waiting for your eyes")).to_be_visible()
    _looks_right(supervisor, "work-of-supervisor")
    supervisor.get_by_role("link", name="hold point 30").click()
    supervisor.get_by_label("What you saw").fill("seat clean, no ridge")
    supervisor.get_by_role("button", name="I looked at it: release").click()
    expect(supervisor.get_by_role("status")).to_contain_text("Hold point 30 is released.")

    fitter.goto(f"{live_server.url}/work/jobs/{job['id']}")
    _looks_right(fitter, "job-heating")
    fitter.get_by_role("button", name="Done", exact=True).click()
    expect(fitter.get_by_role("heading", name="50 Fit the O-rings")).to_be_visible()
    expect(fitter.get_by_text("EPDM swells").first).to_be_visible()
    _looks_right(fitter, "job-lubricants")
    fitter.get_by_role("button", name="Done", exact=True).click()
    fitter.get_by_role("button", name="I take it off the shelf").click()
    fitter.get_by_role("button", name="Finish: ask for the sign-off").click()
    expect(fitter.get_by_role("status")).to_contain_text("waits for its sign-off")

    supervisor.goto(f"{live_server.url}/work/jobs/{job['id']}")
    supervisor.get_by_label("casing o ring").fill("1")
    supervisor.get_by_label("Remark").fill("quiet at the run test")
    _looks_right(supervisor, "job-sign-off")
    supervisor.get_by_role("button", name="Sign: the record is right").click()
    expect(supervisor.get_by_role("status")).to_contain_text("is closed, signed over sha256:")
    _looks_right(supervisor, "job-closed")
    assert Job.objects.get(pk=job["id"]).state == "closed"
    assert Measurement.objects.filter(job_id=job["id"]).count() == 4


def test_a_form_sent_twice_is_one_measurement(chromium, live_server, job):
    planner = open_sheet(chromium, live_server, "planner")
    planner.goto(f"{live_server.url}/work/jobs/{job['id']}")
    planner.get_by_role("button", name="Hold the kit for this job").click()
    fitter = open_sheet(chromium, live_server, "fitter")
    fitter.goto(f"{live_server.url}/work/jobs/{job['id']}")
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
