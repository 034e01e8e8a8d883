"""A procedure of sixty steps as its job sheet prints it: boxes by place, consumables by kind, photos, hold points."""

from decimal import Decimal
from pathlib import Path

import pytest
import yaml

from assets.calculations.units import known_units
from jobs.calculations.evaluation_rules import RULES_OF_EVALUATION
from jobs.calculations.job_sheet import job_sheet_content
from jobs.calculations.limits import resolve
from jobs.calculations.paper_pdf import paper_pdf
from jobs.calculations.printed_quantities import INCHES, METRIC, limits, units_to_write
from jobs.calculations.printed_sentences import as_written
from jobs.calculations.procedure_rows import steps_from
from jobs.calculations.reading_boxes import RULES, reading_boxes
from tests.jobs.calculations import made_up_papers as made_up
from tests.jobs.calculations.test_papers import BOTH, flat, nothing_touches_the_edge, record_pdf
from tests.printed_pages import text_of

PROCEDURE = Path(__file__).parents[3] / "services/demo/operator/procedures/pull-out.yaml"
KNOWN = {
    "bearing_bore_mm": Decimal(40),
    "rated_power_kw": Decimal(30),
    "shaft_diameter_at_seal_mm": Decimal(43),
    "rated_speed_rpm": Decimal(2900),
}
# Units that are the same in both systems.
SHARED = {"%", "A", "V", "d", "deg", "h", "min", "s", "week", "rpm", "piece"}


def sixty_steps():
    found = steps_from(yaml.safe_load(PROCEDURE.read_text(encoding="utf-8")))
    for step in found:
        step |= {"state": "open", "why": "", "advice": [], "note": ""}
        for asked in step["characteristics"]:
            within = resolve(asked["limits"], KNOWN)
            asked |= {"lower": within.lower, "upper": within.upper, "words": within.words}
            asked["unit"] = within.unit or asked["unit"]
    return found


def sheet_of_sixty(paper="a4", units="metric"):
    content = job_sheet_content(made_up.sheet(steps=sixty_steps()), units=units)
    return paper_pdf("job_sheet.typ", content, paper=paper, at=made_up.BEGAN)


def asked(rule, readings=1, unit="mm", **set_up):
    return {"rule": rule, "readings": readings, "unit": unit, "set_up": set_up}


@pytest.mark.parametrize(("paper", "units"), BOTH)
def test_sixty_steps_are_printed_with_every_caution_and_nothing_cut(paper, units):
    pdf = sheet_of_sixty(paper, units)
    text = flat(" ".join(text_of(pdf)))
    steps = sixty_steps()
    assert len(steps) == 60
    for one in steps:
        assert f"{one['number']} {one['title']}" in text
        assert flat(as_written(one["caution"], units)) in text
    nothing_touches_the_edge(pdf)


def test_each_dial_has_a_box_by_the_name_of_its_place_and_further_values_can_be_written():
    text = flat(" ".join(text_of(sheet_of_sixty())))
    start = text.index("Offset at the coupling")
    turn = text[start : start + 700]
    assert "top right bottom left" in turn[turn.index("stationary hub") :]
    assert "top right bottom left" in turn[turn.index("movable hub") :]
    for words in ("plane distance", "sag", "front foot (if known)", "dials zeroed at the top", "the offset counts"):
        assert words in turn
    assert "the most bands counted on the optical flat" in text


def test_bore_and_shaft_are_read_apart_with_their_temperatures():
    boxes = reading_boxes(asked("diametral-clearance", 2), "metric")
    assert [(one["name"], len(one["places"])) for one in boxes["groups"]] == [("bore", 2), ("shaft", 2)]
    assert {"name": "bore temperature", "unit": "°C"} in boxes["given"]
    assert {"name": "shaft material (steel if nothing is written)", "unit": ""} in boxes["given"]


def test_rim_and_face_each_have_four_places():
    boxes = reading_boxes(asked("rim-and-face", 4, "mm/100mm", judged="angularity"), "inch")
    places = ["top", "right", "bottom", "left"]
    assert [(one["name"], one["places"]) for one in boxes["groups"]] == [("rim", places), ("face", places)]
    assert boxes["rule"].endswith("the angularity counts")
    assert boxes["unit"] == "in"


@pytest.mark.parametrize("rule", RULES_OF_EVALUATION)
def test_every_rule_is_said_in_words(rule):
    assert len(RULES[rule].split()) > 1


def test_lubricants_stand_first_among_what_is_used_up_and_photos_and_hold_points_are_told():
    pages = [flat(one) for one in text_of(sheet_of_sixty())]
    head = " ".join(pages)[: " ".join(pages).index("Make safe 10 Permit")]
    order = [head.index(f"To have at hand: {kind}") for kind in ("lubricants", "cleaners", "cloths", "protection")]
    assert order == sorted(order)
    assert "the match marks across every joint needed" in head
    assert "both faces of the old seal side by side welcome" in head
    assert "Seat square in its bore, both faces clean and whole" in head
    assert " ".join(pages).count("Look at: ") == 2


def test_every_unit_that_is_known_is_printed_in_both_systems_or_is_the_same_in_both():
    assert set(known_units()) - set(INCHES) - set(METRIC) == SHARED


@pytest.mark.parametrize(
    ("value", "unit", "there"),
    [
        # A slope of 1 mm to the metre is a thousandth: 0.001 in to the inch, 1 mil to the inch.
        ("1.00", "mm/m", "at most 1 mil/in"),
        ("0.07", "mm/100mm", "at most 0.7 mil/in"),
        # NIST SP 811, B.8: a difference of 1 K is one of 1.8 °F; 1 m3 = 264.1720 US gallons (B.9).
        ("10", "K", "at most 18 °F of difference"),
        ("1", "m3", "at most 264 US gal"),
        # NIST SP 811, B.9: metric horsepower 735.4988 W, horsepower (550 ft lbf/s) 745.6999 W.
        ("100.00", "PS", "at most 98.6 hp"),
    ],
)
def test_slopes_differences_and_other_units_have_their_inch_rows(value, unit, there):
    assert limits(None, Decimal(value), unit, "inch").main == there


def test_mils_are_printed_in_millimetres():
    assert limits(None, Decimal(2), "mil", "metric").main.startswith("at most 0.05")
    assert units_to_write("mil/in", "metric") == "mm per 100 mm"


def test_a_record_tells_findings_in_words_with_the_codes_of_their_standards():
    text = flat(" ".join(text_of(record_pdf())))
    assert "bearing, drive end, step 160. Outer raceway fluted." in text
    assert "Failure mode VIB (ISO 14224): vibrates too much" in text
    assert "Mechanism 4.0 (ISO 14224): electrical, in general" in text
    assert "Bearing damage 5.4 (ISO 15243): electrical erosion" in text
    assert "Replaced as failed: it no longer did what it is for" in text
    assert "photos: raceway.jpg" in text


def test_a_record_tells_parts_beyond_the_kit_returns_time_files_and_what_was_set_aside():
    text = flat(" ".join(text_of(record_pdf())))
    assert "SH-40 Shaft 40 1 L-77 Seat worn." in text
    assert "quarantined The old plug stayed in." in text
    assert "8 h 5 min in all." in text
    assert "The job as a whole 4 h 45 min" in text
    assert "5a" * 16 in text
    assert "measurement, step 220, shaft run out, 0.01 | 0.06 mm" in text
    assert "Decided by Olav Brekke: The first one stands." in text


def test_what_else_an_alignment_tells_stands_beside_its_value():
    steps = made_up.record()["steps"]
    measured = steps[21]["characteristics"][0]["measurements"][-1]
    measured |= {
        "second_instrument": "DI-2",
        "results": [
            {"name": "angularity", "value": "0.0114", "unit": "mm/100mm", "words": "both planes together"},
            {"name": "vertical-offset", "value": "-0.02", "unit": "mm", "words": "the movable shaft is low"},
            {"name": "front-shims", "value": "0.035", "unit": "mm", "words": "add 0.035 mm under the front feet"},
        ],
    }
    text = flat(" ".join(text_of(record_pdf(steps=steps))))
    assert "angularity 0.0114 mm per 100 mm" in text
    assert "vertical offset -0.02 mm, the movable shaft is low" in text
    assert "add 0.035 mm under the front feet" in text
    assert "DI-1 and DI-2" in text
