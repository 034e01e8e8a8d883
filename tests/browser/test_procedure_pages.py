"""A procedure on its way from a draft to being published, in a real Chromium without scripts."""

from playwright.sync_api import expect

from tests.browser.screens import in_a_browser, looks_right
from tests.browser.test_job_sheet import open_sheet
from tests.jobs.test_procedure_pages import changed_draft
from tests.world import gather_cast

pytestmark = in_a_browser


def test_an_author_sees_what_is_new_and_hands_it_in(chromium, live_server):
    changed_draft(gather_cast())
    author = open_sheet(chromium, live_server, "procedure-author")
    author.get_by_role("link", name="Procedures").click()
    looks_right(author, "procedures")
    author.get_by_role("link", name="PULL-OUT revision 2").click()
    expect(author.get_by_role("heading", name="New since revision 1")).to_be_visible()
    looks_right(author, "procedure-draft")
    author.get_by_label("To the reviewer").fill("please look at step 20")
    author.get_by_role("button", name="Hand it in for review").click()
    expect(author.get_by_role("status")).to_contain_text("Handed in.")
    second = open_sheet(chromium, live_server, "second-author")
    second.get_by_role("link", name="Procedures").click()
    second.get_by_role("link", name="PULL-OUT revision 2").click()
    expect(second.get_by_text("please look at step 20")).to_be_visible()
    looks_right(second, "procedure-in-review")
    second.get_by_role("button", name="I looked at all of it: it is good").click()
    expect(second.get_by_role("button", name="Publish it")).to_be_visible()
