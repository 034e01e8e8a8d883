"""Readings, what is given with them, and instruments in the units a workshop reads them in, however it writes them."""

import datetime
from decimal import Decimal

import pytest
from django.db import transaction

from jobs.calculations.bearing_heating import heating_advice
from jobs.operations.instrument_loads import load_instruments
from jobs.operations.procedures import draft_revision
from services.api.loading import LoadRow
from tests.jobs.test_judgements import MICROMETER, tried
from tests.overhauls import TODAY, procedure_document, release_procedure

pytestmark = pytest.mark.django_db

GAUGE = {"unit": "psi", "range_from": "0", "range_to": "160", "resolution": "1", "expanded_uncertainty": "1"}
THERMOMETER = {"unit": "degF", "range_from": "0", "range_to": "300", "resolution": "1", "expanded_uncertainty": "1"}
DIAL = {"unit": "in", "range_from": "0", "range_to": "0.4", "resolution": "0.0005", "expanded_uncertainty": "0.0005"}
ALIGNMENT = {
    "rule": "reverse-indicator", "unit": "mm", "upper": "0.10", "set_up": {"judged": "offset"},
}  # fmt: skip
CLEARANCE = {"rule": "diametral-clearance", "readings": 1, "unit": "mm", "lower": "0.40", "upper": "0.80"}


def one(quantity_unit, **limits):
    return {"rule": "single", "unit": quantity_unit, **limits}


@pytest.mark.parametrize(
    ("asked", "reading", "unit", "tool", "value"),
    [
        # NIST SP 811, appendix B: 1 psi = 6.894757 kPa, 1 lbf·ft = 1.355818 N·m, 1 in/s = 25.4 mm/s, 1 US gal =
        # 3.785411784 L exactly, 1 µin = 0.0254 µm, 1 hp = 745.6999 W; B.8: t/°C = (t/°F - 32)/1.8.
        (one("bar", lower="5", upper="6"), "80", "psi", GAUGE, 5.515806),
        (one("bar", lower="5", upper="6"), "80", "psig", GAUGE, 5.515806),
        (one("degC", upper="80"), "150", "°F", THERMOMETER, 65.555556),
        (one("N*m", lower="80", upper="95"), "65", "lbf·ft", GAUGE | {"unit": "lbf·ft"}, 88.128167),
        (one("N*m", lower="80", upper="95"), "65", "ft-lb", GAUGE | {"unit": "N*m"}, 88.128167),
        (one("mm/s", upper="4"), "0.11", "in/s", GAUGE | {"unit": "mm/s"}, 2.794),
        (one("m3/h", lower="80", upper="120"), "440", "US gpm", GAUGE | {"unit": "m3/h"}, 99.934871),
        (one("um", upper="1"), "32", "µin", GAUGE | {"unit": "um"}, 0.8128),
        (one("mm", lower="1", upper="1.5"), "0.05", "inches", DIAL, 1.27),
        (one("kW", upper="12"), "15", "HP", GAUGE | {"unit": "kW"}, 11.185498),
    ],
)  # fmt: skip
def test_a_reading_is_taken_in_the_unit_that_gauge_wrench_and_meter_show(
    workshop, hand, asked, reading, unit, tool, value
):
    answer = tried(hand, described_characteristic=asked, readings=[reading], unit=unit, described_instrument=tool)
    assert float(answer["value"]) == pytest.approx(value, abs=2e-6)


def test_a_unit_of_nothing_is_refused_with_those_that_would_do(workshop, hand):
    body = {"described_characteristic": one("bar", upper="6"), "readings": ["80"], "described_instrument": GAUGE}
    problem = tried(hand, status=422, **body, unit="furlong")
    assert problem["detail"] == "'furlong' is no unit known here."
    assert problem["remedy"] == "Send the readings in bar or a unit of the same kind: MPa, Pa, kPa or psi."
    assert problem["errors"][0]["pointer"] == "#/unit"


def test_another_kind_of_unit_is_refused_with_those_that_would_do(workshop, hand):
    body = {"described_characteristic": one("bar", upper="6"), "readings": ["80"], "described_instrument": GAUGE}
    assert "psi" in tried(hand, status=422, **body, unit="mm")["remedy"]


def test_sag_and_distances_are_given_in_inches_as_well(workshop, hand):
    # 1 in = 25.4 mm exactly: the same alignment told twice, once with a tape and a dial in inches.
    turns = {"stationary_hub": ["0", "0.8", "0.0", "-0.8"], "movable_hub": ["0", "0.4", "-0.4", "-0.8"]}
    metric = {"plane_distance_mm": "127", "sag_mm": "-0.0254", "front_foot_mm": "254", "rear_foot_mm": "508"}
    inches = {
        "plane_distance_mm": {"value": "5", "unit": "in"},
        "sag_mm": {"value": "-1", "unit": "mil"},
        "front_foot_mm": {"value": "10", "unit": "inches"},
        "rear_foot_mm": {"value": "20", "unit": "in"},
    }
    body = {"described_characteristic": ALIGNMENT, "readings": turns, "unit": "mil", "described_instrument": DIAL}
    one_way, other = (tried(hand, **body, given=given) for given in (metric, inches))
    assert other["value"] == one_way["value"]
    assert other["results"] == one_way["results"]
    assert other["given"]["sag_mm"] == "-0.0254"


def test_temperatures_are_given_in_fahrenheit_as_well(workshop, hand):
    # NIST SP 811, B.8: 68 °F are 20 °C, where nothing is corrected (ISO 1).
    tool = MICROMETER | {"range_to": "150"}
    given = {f"{name}_temperature_c": {"value": "68", "unit": "°F"} for name in ("bore", "shaft")}
    answer = tried(
        hand, described_characteristic=CLEARANCE, readings={"bore": ["90.52"], "shaft": ["90.01"]}, given=given,
        described_instrument=tool,
    )  # fmt: skip
    assert answer["given"]["bore_temperature_c"] == "20"
    assert float(answer["value"]) == 0.51


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"value": "5", "unit": "bar"}, "bar and mm do not measure the same thing"),
        ({"value": "5", "unit": "furlong"}, "no unit known here"),
        ({"value": "five", "unit": "in"}, "no number"),
        ({"value": "5"}, "a value and a unit"),
        ({"value": "5", "unit": "in", "of": "what"}, "a value and a unit"),
        (["5"], "a value and a unit"),
    ],
)
def test_what_is_given_in_a_unit_that_is_none_is_refused_at_its_place(workshop, hand, given, words):
    body = {
        "described_characteristic": ALIGNMENT, "unit": "mil", "described_instrument": DIAL,
        "readings": {"stationary_hub": ["0", "0", "0", "0"], "movable_hub": ["0", "0", "0", "0"]},
    }  # fmt: skip
    problem = tried(hand, status=422, **body, given={"plane_distance_mm": given, "sag_mm": "0"})
    assert problem["errors"][0]["pointer"] == "#/given/plane_distance_mm"
    assert words in problem["errors"][0]["detail"]


def test_a_choice_takes_no_unit(workshop, hand):
    given = {"bore_temperature_c": "20", "shaft_temperature_c": "20", "bore_material": {"value": "1", "unit": "mm"}}
    problem = tried(
        hand, status=422, described_characteristic=CLEARANCE, readings={"bore": ["90.52"], "shaft": ["90.01"]},
        given=given, described_instrument=MICROMETER | {"range_to": "150"},
    )  # fmt: skip
    assert problem["errors"][0]["pointer"] == "#/given/bore_material"


def started(workshop, hand):
    body = {"pump": str(workshop.pump.pk), "kit": str(workshop.kit.pk), "planned_start": TODAY.isoformat()}
    job = hand["planner"].post("jobs", body, status=201)
    hand["planner"].post(f"jobs/{job['id']}/reserve-kit")
    hand["fitter"].post(f"jobs/{job['id']}/start", seen=f"jobs/{job['id']}")
    hand["fitter"].post(f"jobs/{job['id']}/steps/10/confirm")
    return job


def test_a_unit_is_kept_by_its_usual_name_and_sent_again_it_is_the_same_measurement(workshop, hand):
    job = started(workshop, hand)
    body = {
        "id": "01900000-0000-7000-8000-000000000001", "step": 30, "characteristic": "seat-diameter", "unit": "inches",
        "readings": ["1.57510", "1.57512", "1.57514"], "instrument": str(workshop.instruments["micrometer"].pk),
    }  # fmt: skip
    first = hand["fitter"].post(f"jobs/{job['id']}/measurements", body, status=201)
    assert first["unit"] == "in"
    again = hand["fitter"].post(f"jobs/{job['id']}/measurements", body, status=201)
    assert again["attempt"] == first["attempt"]


INSTRUMENT = {
    "number": "PG-77", "type": "pressure-gauge", "range_from": "0", "range_to": "160", "unit": "psig",
    "resolution": "1", "expanded_uncertainty": "1", "calibrated_on": "2026-01-01", "calibration_due": "2030-01-01",
}  # fmt: skip


def test_an_instrument_of_the_inch_system_is_registered_by_its_units_usual_name(workshop, hand):
    body = INSTRUMENT | {"site": str(workshop.pump.site_id)}
    assert hand["admin"].post("instruments", body, status=201)["unit"] == "psi"


def test_an_instrument_in_a_unit_of_nothing_is_refused(workshop, hand):
    body = INSTRUMENT | {"site": str(workshop.pump.site_id), "unit": "furlong"}
    problem = hand["admin"].post("instruments", body, status=422)
    assert problem["errors"][0]["pointer"] == "#/unit"


def load(cast, unit):
    values = {
        "number": "PG-78", "site": "north", "type": "pressure-gauge", "range_from": Decimal(0),
        "range_to": Decimal(160), "unit": unit, "resolution": Decimal(1), "expanded_uncertainty": Decimal(1),
        "calibrated_on": datetime.date(2026, 1, 5), "calibration_due": datetime.date(2030, 1, 5),
    }  # fmt: skip
    with transaction.atomic():
        return load_instruments(by=cast.by("supervisor"), rows=[LoadRow(2, values)])


def test_a_file_of_instruments_names_units_as_the_trade_does(cast, workshop):
    assert [one.outcome for one in load(cast, "PSIG")] == ["created"]
    assert [one.outcome for one in load(cast, "psi")] == ["unchanged"]


def test_a_file_of_instruments_with_a_unit_of_nothing_is_refused_at_its_column(cast, workshop):
    refused = load(cast, "furlong")
    assert [one.outcome for one in refused] == ["refused"]
    assert [problem.column for problem in refused[0].problems] == ["unit"]


def measure(hand, job, code, readings, unit, tool):
    body = {"step": 30, "characteristic": code, "readings": readings, "unit": unit, "instrument": str(tool.pk)}
    return hand["fitter"].post(f"jobs/{job['id']}/measurements", body, status=201)


def test_a_bearing_is_heated_alike_where_seat_and_room_are_judged_in_inches_and_fahrenheit(cast, workshop, hand):
    # 68 °F are 20 °C (NIST SP 811, B.8): taken for degrees Celsius they would ask for 48 K too much.
    made = procedure_document(revision=2)
    seat, room = made["sections"][1]["steps"][1]["characteristics"]
    seat.update(unit="in", limits={"kind": "numbers", "lower": "1.5749", "upper": "1.5753"})
    room.update(unit="degF", limits={"kind": "numbers", "lower": "41", "upper": "104"})
    with transaction.atomic():
        revision_id, _ = draft_revision(by=cast.by("procedure-author"), document=made)
        release_procedure(cast, revision_id)
    job, tools = started(workshop, hand), workshop.instruments
    measure(hand, job, "seat-diameter", ["40.008"] * 3, "mm", tools["micrometer"])
    measure(hand, job, "room-temperature", ["68"], "°F", tools["thermometer"])
    steps = hand["fitter"].get(f"jobs/{job['id']}/steps")["steps"]
    advice = next(one for one in steps if one["number"] == 40)["advice"][0]
    expected = heating_advice(
        bore_mm=Decimal(40), shaft_diameter_mm=Decimal("40.008"), room_temperature_c=Decimal(20), sealed=False,
        extra_clearance_mm=Decimal("0.02"),
    )  # fmt: skip
    assert advice["target"] == {"value": str(expected.target_c), "unit": "degC"}
    assert advice["interference"] == {"value": "0.020", "unit": "mm"}
    assert Decimal(advice["inputs"]["room_temperature"]["value"]) == 20
