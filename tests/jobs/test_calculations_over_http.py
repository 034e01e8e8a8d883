"""Computations of the trade, asked for over HTTP."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.calculations.offered import CALCULATIONS
from jobs.models import Job
from tests.world import client_for

pytestmark = pytest.mark.django_db
FIT = {"nominal": {"value": "50", "unit": "mm"}, "hole_class": "H7", "shaft_class": "k6"}


@pytest.fixture
def client(cast):
    return client_for(cast.people["nobody"], ("read",))


def test_the_list_shows_inputs_with_units_and_ranges_formula_sources_and_cautions(client):
    answer = client.get("/api/v1/calculations")
    assert answer.status_code == 200
    rows = {one["name"]: one for one in answer.json()["results"]}
    assert set(rows) == set(CALCULATIONS)
    heating = rows["bearing-heating"]
    bore = heating["inputs"][0]
    assert (bore["name"], bore["unit"], bore["least"], bore["greatest"]) == ("bore", "mm", "0.6", "1000")
    assert "alpha" in heating["formula"]
    assert heating["sources"][0]["confidence"] == "value from memory"
    assert answer.headers["Cache-Control"] == "private, max-age=300"


def test_one_is_shown_with_a_request_to_copy(client):
    for name in CALCULATIONS:
        row = client.get(f"/api/v1/calculations/{name}").json()
        answer = client.post(f"/api/v1/calculations/{name}", row["example"], format="json")
        assert answer.status_code == 200, (name, answer.content)
        body = answer.json()
        assert body["results"], name
        assert body["sentence"], name
        assert body["cautions"], name
        assert all(one["confidence"] for one in body["sources"]), name


def test_a_fit_is_answered_with_its_inputs_as_understood(client):
    # ISO 286-2:2010, 50 H7/k6: 23 um of clearance to 18 um of interference (isofits 1.0).
    inches = FIT | {"nominal": {"value": "1.9685", "unit": "in"}}
    body = client.post("/api/v1/calculations/fit", inches, format="json").json()
    assert body["inputs"]["nominal"] == {"value": "49.9999", "unit": "mm"}
    body = client.post("/api/v1/calculations/fit", FIT, format="json").json()
    assert body["results"]["smallest_interference"] == {"value": "-23.0", "unit": "um"}
    assert body["results"]["kind"] == "transition fit"
    assert [one["place"] for one in body["sources"][1:]] == ["H7 at 50 mm", "k6 at 50 mm"]


def test_nothing_is_written_and_no_more_is_read_than_who_is_asking(client):
    with CaptureQueriesContext(connection) as captured:
        assert client.post("/api/v1/calculations/fit", FIT, format="json").status_code == 200
    written = [one["sql"] for one in captured if one["sql"].startswith(("INSERT", "DELETE"))]
    assert written == []
    assert len(captured) <= 4
    assert not Job.objects.exists()


def test_a_wrong_unit_is_pointed_at(client):
    answer = client.post("/api/v1/calculations/fit", FIT | {"nominal": {"value": "50", "unit": "bar"}}, format="json")
    assert answer.status_code == 422
    problem = answer.json()
    assert problem["code"] == "invalid-value"
    assert problem["errors"][0]["pointer"] == "#/nominal/unit"
    assert "in any unit of the same kind" in problem["errors"][0]["detail"]


def test_missing_and_misspelt_inputs_are_told_together(client):
    answer = client.post("/api/v1/calculations/fit", {"nominel": {"value": "50", "unit": "mm"}}, format="json")
    assert {(one["pointer"], one["code"]) for one in answer.json()["errors"]} == {
        ("#/nominel", "unknown-field"),
        ("#/nominal", "required"),
        ("#/hole_class", "required"),
        ("#/shaft_class", "required"),
    }


def test_a_body_that_is_no_object_is_refused(client):
    answer = client.post("/api/v1/calculations/fit", [1], format="json")
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, "#")


def test_a_name_that_is_not_there_names_the_nearest(client):
    answer = client.post("/api/v1/calculations/bearing-heatin", {}, format="json")
    assert answer.status_code == 404
    assert "bearing-heating" in answer.json()["detail"]
    assert client.get("/api/v1/calculations/x").status_code == 404


def test_a_parameter_that_is_not_known_is_refused(client):
    assert client.get("/api/v1/calculations?name=fit").status_code == 400
    assert client.post("/api/v1/calculations/fit?unit=mm", FIT, format="json").status_code == 400
