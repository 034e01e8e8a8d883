"""Judgements tried without recording."""

import datetime

import pytest

from jobs.models import JobCharacteristic, Measurement
from services.changes.models import Change
from tests.overhauls import TODAY, make_instrument

pytestmark = pytest.mark.django_db

SHAFT = {"rule": "mean", "readings": 3, "unit": "mm", "lower": "50.002", "upper": "50.013"}
MICROMETER = {
    "unit": "mm",
    "range_from": "50",
    "range_to": "75",
    "resolution": "0.001",
    "expanded_uncertainty": "0.0014",
}


def tried(hand, status=200, role="reader", **changes):
    body = {
        "described_characteristic": SHAFT,
        "readings": ["50.008", "50.008", "50.008"],
        "unit": "mm",
        "described_instrument": MICROMETER,
    } | changes
    sent = {name: one for name, one in body.items() if one is not None}
    return hand[role].post("judgements", sent, status=status)


@pytest.mark.parametrize(
    ("reading", "verdict"), [("50.008", "accept"), ("50.0125", "not-proved"), ("50.016", "reject")]
)
def test_a_shaft_is_tried_against_its_limits(workshop, hand, reading, verdict):
    # ISO 14253-1 on a shaft 50 k5 (50.002 to 50.013 mm) with U = 2 um at k = 2, as in
    # tests/jobs/calculations/test_verdict.py; here 0.7 and 0.29 um combine to 0.76, expanded 1.5 um.
    answer = tried(hand, readings=[reading] * 3)
    assert answer["verdict"] == verdict
    assert answer["expanded_uncertainty"] == "0.001514"


def test_nothing_is_written(workshop, hand):
    before = Change.objects.count()
    tried(hand)
    assert not Measurement.objects.exists()
    assert Change.objects.count() == before


def test_a_question_is_asked_where_recording_would_refuse(workshop, hand):
    answer = tried(hand, readings=["1.9688"] * 3, described_instrument=MICROMETER | {"range_from": "0"})
    assert [one["pointer"] for one in answer["questions"]] == ["#/readings"]
    assert answer["verdict"] == "reject"


def test_the_same_answer_as_recording_gives(workshop, hand):
    job = hand["planner"].post(
        "jobs",
        {"pump": str(workshop.pump.pk), "kit": str(workshop.kit.pk), "planned_start": TODAY.isoformat()},
        status=201,
    )
    hand["planner"].post(f"jobs/{job['id']}/reserve-kit")
    hand["fitter"].post(f"jobs/{job['id']}/start", seen=f"jobs/{job['id']}")
    hand["fitter"].post(f"jobs/{job['id']}/steps/10/confirm")
    sheet = hand["fitter"].get(f"jobs/{job['id']}/steps")
    asked = next(one for one in sheet["steps"] if one["number"] == 30)["characteristics"]
    seat = next(one for one in asked if one["code"] == "seat-diameter")
    readings, tool = ["40.007", "40.008", "40.009"], str(workshop.instruments["micrometer"].pk)
    answer = tried(
        hand, role="fitter", characteristic=seat["id"], described_characteristic=None, readings=readings,
        instrument=tool, described_instrument=None,
    )  # fmt: skip
    body = {"step": 30, "characteristic": "seat-diameter", "readings": readings, "unit": "mm", "instrument": tool}
    made = hand["fitter"].post(f"jobs/{job['id']}/measurements", body, status=201)
    shared = set(answer) & set(made)
    assert {"value", "verdict", "budget", "reasons", "room_left", "degrees_of_freedom", "results"} <= shared
    assert {name: answer[name] for name in shared} == {name: made[name] for name in shared}
    known = str(JobCharacteristic.objects.values_list("id", flat=True)[0])
    stranger = tried(hand, role="stranger", status=404, characteristic=known, described_characteristic=None)
    assert stranger["code"] == "not-found"


def test_an_overdue_instrument_is_judged_on_the_day_of_measuring(cast, workshop, hand):
    late = str(make_instrument(cast, "MIC-7", "outside-micrometer", due=-10).pk)
    today = tried(hand, instrument=late, described_instrument=None)
    assert today["verdict"] == "not-proved"
    before = (TODAY - datetime.timedelta(days=30)).isoformat()
    assert tried(hand, instrument=late, described_instrument=None, measured_on=before)["verdict"] == "accept"


def test_two_instruments_may_be_described(workshop, hand):
    answer = tried(
        hand,
        described_characteristic={"rule": "diametral-clearance", "unit": "mm", "upper": "0.8"},
        readings={"bore": ["60.5"], "shaft": ["60.0"]},
        given={"bore_temperature_c": 20, "shaft_temperature_c": 20},
        described_second_instrument=MICROMETER,
    )
    assert (answer["value"], answer["verdict"]) == ("0.500000", "accept")
    assert answer["given"]["bore_temperature_c"] == "20"


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"described_characteristic": None}, "#/characteristic"),
        ({"described_instrument": None}, "#/instrument"),
        ({"described_characteristic": SHAFT | {"unit": "furlong"}}, "#/described_characteristic/unit"),
        ({"described_characteristic": SHAFT | {"lower": "51"}}, "#/described_characteristic/lower"),
        ({"described_characteristic": SHAFT | {"rule": "median"}}, "#/described_characteristic/rule"),
        ({"described_characteristic": SHAFT | {"rule": "single"}}, "#/described_characteristic/readings"),
        (
            {"described_characteristic": SHAFT | {"set_up": {"material": "steel"}}},
            "#/described_characteristic/set_up/material",
        ),
        ({"described_instrument": MICROMETER | {"unit": "furlong"}}, "#/described_instrument/unit"),
        ({"described_instrument": MICROMETER | {"range_to": "1"}}, "#/described_instrument/range_to"),
        ({"described_instrument": MICROMETER | {"unit": "degC"}}, "#/instrument"),
        ({"described_instrument": None, "instrument": "0199a0c4-0000-7000-8000-0000000000aa"}, "#/instrument"),
        ({"described_second_instrument": MICROMETER}, "#/second_instrument"),
        ({"readings": ["49", "50.008", "50.008"]}, "#/readings/0"),
        ({"unit": "furlong"}, "#/unit"),
        ({"misspelt": 1}, "#/misspelt"),
    ],
)
def test_what_cannot_be_judged_is_refused_at_its_place(workshop, hand, changes, pointer):
    refused = tried(hand, status=422, **changes)
    assert [one["pointer"] for one in refused["errors"]][:1] == [pointer]


def test_a_reading_outside_the_range_is_asked_whether_it_was_another_unit(workshop, hand):
    refused = tried(hand, status=422, readings=["50008"] * 3)
    assert refused["code"] == "instrument-unfit"
    assert "was it read in µm or inches or mils?" in refused["remedy"]
