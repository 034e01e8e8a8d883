"""Who sees what on the pages of work."""

import datetime

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.overhauls import TODAY, hands

pytestmark = pytest.mark.django_db


def plan(cast, workshop, days: int = 1):
    day = (TODAY + datetime.timedelta(days=days)).isoformat()
    body = {"pump": str(workshop.pump.pk), "kit": str(workshop.kit.pk), "planned_start": day}
    return hands(cast)["planner"].post("jobs", body, status=201)


def browser(cast, login: str) -> Client:
    client = Client()
    client.force_login(cast.people[login])
    return client


def test_a_reader_sees_every_caution_and_no_button_of_work(cast, workshop):
    job = plan(cast, workshop)
    hands(cast)["planner"].post(f"jobs/{job['id']}/reserve-kit")
    hands(cast)["fitter"].post(f"jobs/{job['id']}/start", seen=f"jobs/{job['id']}")
    page = browser(cast, "reader").get(f"/workshop/jobs/{job['id']}").content.decode()
    assert page.count("Stored energy kills") == 2
    assert "Hot parts burn" in page
    assert "it is safe" not in page
    assert "/hold" not in page


def test_a_job_of_another_site_is_not_there(cast, workshop):
    job = plan(cast, workshop)
    assert browser(cast, "stranger").get(f"/workshop/jobs/{job['id']}").status_code == 404
    assert browser(cast, "stranger").post(f"/workshop/jobs/{job['id']}/reserve-kit", follow=True).status_code == 404


def test_somebody_who_is_not_signed_in_is_asked_to(cast, workshop):
    job = plan(cast, workshop)
    assert Client().get(f"/workshop/jobs/{job['id']}").headers["Location"].startswith("/sign-in?next=")


def test_the_list_of_work_asks_the_same_questions_of_one_job_and_of_six(cast, workshop):
    client = browser(cast, "supervisor")
    plan(cast, workshop)
    with CaptureQueriesContext(connection) as one:
        client.get("/workshop")
    for days in range(2, 7):
        plan(cast, workshop, days)
    with CaptureQueriesContext(connection) as six:
        client.get("/workshop")
    assert len(six) == len(one)


def test_a_form_without_its_version_is_refused_in_words(cast, workshop):
    job = plan(cast, workshop)
    hands(cast)["planner"].post(f"jobs/{job['id']}/reserve-kit")
    page = browser(cast, "fitter").post(f"/workshop/jobs/{job['id']}/start", follow=True).content.decode()
    assert "does not say which version was seen" in page
