"""The page of a job that takes no kit of its own, and forms that say nonsense."""

import pytest
from django.test import Client

from tests.jobs.test_extra_parts import ask
from tests.jobs.test_overhaul import safe
from tests.jobs.test_splitting import inspected, split
from tests.overhauls import TODAY
from tests.shelves import make_part, put_on_shelf

pytestmark = pytest.mark.django_db


def browser(cast, login):
    client = Client()
    client.force_login(cast.people[login])
    return client


def page(cast, login, job):
    return browser(cast, login).get(f"/workshop/jobs/{job['id']}").content.decode()


@pytest.fixture
def follow_up(cast, workshop, hand):
    """A follow-up that needs an O-ring, and no kit; its part is on the shelf."""
    put_on_shelf(cast.by("stores"), cast.north, workshop.o_ring, 2, lot="O-1")
    wanted = {"part": str(workshop.o_ring.pk), "quantity": "1", "role": "casing-o-ring"}
    return split(hand, inspected(workshop, hand), [50], parts=[wanted], planned_start=TODAY.isoformat())


def test_a_follow_up_without_a_kit_is_brought_to_its_end_on_its_page(cast, workshop, hand, follow_up):
    planned = page(cast, "planner", follow_up)
    assert "Hold the kit for this job" not in planned
    seen = f"jobs/{follow_up['id']}"
    hand["fitter"].post(f"{seen}/start", seen=seen)
    hand["fitter"].post(f"{seen}/steps/10/confirm")
    (extra,) = hand["fitter"].get(f"{seen}/extra-parts")["results"]
    hand["fitter"].post(f"extra-parts/{extra['id']}/take")
    hand["fitter"].post(f"{seen}/steps/50/confirm")
    done = page(cast, "fitter", follow_up)
    assert "Finish: ask for the sign-off" in done
    assert "Take the kit off the shelf first" not in done
    assert "OR-226-E taken beside the kit" in done
    assert "the whole kit, unopened" not in done
    hand["fitter"].post(f"{seen}/finish", seen=seen)
    signing = page(cast, "supervisor", follow_up)
    assert "Sign: the record is right" in signing
    assert "in the kit" not in signing


def test_a_part_taken_beside_the_kit_is_not_the_kit(cast, workshop, hand):
    job = safe(workshop, hand)
    part = make_part("SLV-43")
    put_on_shelf(cast.by("stores"), cast.north, part, 2, lot="S-1", cured=None)
    asked = ask(hand, job, part)
    shelf = page(cast, "fitter", job).partition("The kit on its shelf")[2].partition("</section>")[0]
    assert "KIT-NB" in shelf
    assert "SLV-43" not in shelf
    hand["fitter"].post(f"extra-parts/{asked['id']}/take")
    shown = page(cast, "fitter", job)
    assert "the whole kit, unopened" not in shown
    assert "SLV-43 taken beside the kit" in shown


@pytest.mark.parametrize("version", ["9" * 30, "9" * 5000, "٣"])
def test_a_version_that_no_page_shows_is_refused_in_words(cast, workshop, hand, version):
    job = safe(workshop, hand)
    answer = browser(cast, "fitter").post(
        f"/workshop/jobs/{job['id']}/hold", {"version": version, "reason": "waiting for the crane"}, follow=True
    )
    assert answer.status_code == 200
    assert hand["fitter"].get(f"jobs/{job['id']}")["state"] == "in-progress"


def test_a_step_that_no_job_has_shows_the_next_one(cast, workshop, hand):
    job = safe(workshop, hand)
    shown = browser(cast, "fitter").get(f"/workshop/jobs/{job['id']}", {"step": "9" * 5000})
    assert shown.status_code == 200
    assert "20 Measure the shaft run-out" in shown.content.decode()


def test_a_note_on_time_is_kept_as_far_as_there_is_room(cast, workshop, hand):
    job = safe(workshop, hand)
    fields = {"id": "01990000-0000-7000-8000-000000000099", "minutes": "20", "time-note": "x" * 400}
    answer = browser(cast, "fitter").post(f"/workshop/jobs/{job['id']}/time", fields, follow=True)
    assert "Booked: 20 minutes." in answer.content.decode()
