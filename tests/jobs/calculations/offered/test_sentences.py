"""What is said to whoever works something out at the bench: true, short, and with a word where an input is absurd."""

import re
from decimal import Decimal
from typing import Any

import pytest

from assets.calculations.units import convert_any
from jobs.calculations.offered import CALCULATIONS
from jobs.calculations.offered.declared import Input, Kind
from tests.jobs.calculations.offered.test_answers import asked, q, wrong

# What a workshop of the inch system would send instead; 0.1 % more, so that nothing comes out even.
INCH = {
    "mm": "in", "um": "mil", "m": "ft", "kPa": "psi", "kN": "lbf", "kW": "hp", "N*m": "lbf*ft", "m3/h": "US gpm",
    "degC": "°F", "kg": "lb", "mm/s": "in/s", "m/s": "ft/s", "kg/m3": "lb/ft3",
}  # fmt: skip


def in_inches(one: Input, sent: Any) -> Any:
    if one.kind is Kind.ROWS:
        return [{column.name: in_inches(column, row[column.name]) for column in one.columns} for row in sent]
    if one.kind is not Kind.QUANTITY or sent["unit"] not in {*INCH, "bar"}:
        return sent
    value = convert_any(Decimal(sent["value"]), sent["unit"], one.unit)
    there = {"degC": "degF", "m3/h": "gpm"}.get(one.unit, INCH[one.unit])
    told = convert_any(value, one.unit, there)
    return q(f"{told:.6g}", INCH[one.unit])


@pytest.mark.parametrize("name", CALCULATIONS)
def test_inches_in_no_sentence_of_a_dozen_digits_out(name: str) -> None:
    one = CALCULATIONS[name]
    inputs = {given.name: given for given in one.inputs}
    changes = {key: in_inches(inputs[key], sent) for key, sent in one.example.items()}
    found = asked(name, **changes)
    told = [found.outcome.sentence, *(source.place for source in found.outcome.sources), *found.outcome.cautions]
    for words in told:
        assert not re.search(r"\d\.\d{5}", words), words


@pytest.mark.parametrize("name", CALCULATIONS)
def test_cautions_are_shown_before_anything_is_worked_out(name: str) -> None:
    assert CALCULATIONS[name].cautions


def test_a_bearing_is_not_heated_without_its_cautions_once_each() -> None:
    one, found = CALCULATIONS["bearing-heating"], asked("bearing-heating", sealed=True)
    cautions = [*one.cautions, *found.outcome.cautions]
    assert len(cautions) == len(set(cautions))
    assert any("naked flame" in words for words in one.cautions)
    assert any("oil bath" in words for words in cautions)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        # 50 k5 with a bearing of normal class: 2 to 25 µm (ISO 286-1:2010, ISO 492:2014).
        ({}, "As measured +17 µm, inside what the class allows."),
        ({"measured_shaft": q("50.030", "mm")}, "As measured +36 µm, tighter than the class allows."),
        ({"measured_shaft": q("49.990", "mm")}, "As measured -4 µm, looser than the class allows."),
    ],
)
def test_a_seat_that_is_off_is_said_to_be_tight_or_loose(changes: dict[str, Any], words: str) -> None:
    assert asked("bearing-on-shaft", **changes).outcome.sentence.endswith(words)


@pytest.mark.parametrize(
    ("name", "changes", "place", "words"),
    [
        # Common practice, no source: sizes that belong together lie close.
        ("bearing-on-shaft", {"measured_shaft": q("45", "mm")}, "measured_shaft", "does not belong"),
        ("bearing-on-shaft", {"measured_bore": q("1.9683", "mm")}, "measured_bore", "does not belong"),
        ("tightening-torque-friction", {"bearing_diameter": q("5", "mm")}, "bearing_diameter", "wider than the thread"),
        ("residual-unbalance", {"a": q("0", "mm"), "b": q("0", "mm")}, "a", "must lie apart"),
        ("vibration-zone", {"power": q("1", "kW")}, "power", "pumps above 1 kW"),
        # No pressure lies below none at all.
        (
            "npsh-from-suction-gauge",
            {"gauge": q("-101", "kPa"), "atmosphere": q("80", "kPa")},
            "gauge",
            "below a vacuum",
        ),
        (
            "npsh-available",
            {"surface_pressure": q("-101", "kPa"), "atmosphere": q("80", "kPa")},
            "surface_pressure",
            "below a vacuum",
        ),
    ],
)
def test_what_cannot_be_is_refused_by_the_name_of_its_input(
    name: str, changes: dict[str, Any], place: str, words: str
) -> None:
    sent = {**CALCULATIONS[name].example, **changes}
    assert words in wrong(name, sent)[place]


@pytest.mark.parametrize(
    ("name", "changes", "words"),
    [
        # Common practice, no source, each of these bounds.
        ("bearing-life", {"radial_load": q("0.01", "kN"), "axial_load": q("0", "kN")}, "more than 1 000 000 h"),
        ("bearing-life", {"radial_load": q("0.01", "kN"), "axial_load": q("0", "kN")}, "may skid"),
        ("head-from-gauges", {"suction": q("600", "kPa")}, "The head is below zero: look whether the gauges"),
        ("head-from-gauges", {"discharge_bore": q("5", "mm")}, "m/s at the discharge: check flow and bore"),
        ("trimmed-impeller", {"to_diameter": q("100", "mm")}, "further than either law is trusted"),
        ("preload-reached", {"torque": q("68", "N*m")}, "leaves nothing for scatter"),
        ("o-ring-gland", {"bore": None, "depth": q("4", "mm")}, "Not squeezed at all: the groove is 15.3 % deeper"),
        (
            "o-ring-gland",
            {"groove_diameter": q("18", "mm"), "bore": q("24", "mm")},
            "The ring is 3.4 % larger than its groove",
        ),
        ("wear-ring-clearance", {"measured": q("28", "mm")}, "check the reading and its unit"),
    ],
)
def test_an_answer_that_is_hard_to_believe_says_so(name: str, changes: dict[str, Any], words: str) -> None:
    assert words in asked(name, **changes).outcome.sentence


def test_a_ring_much_larger_than_its_groove_is_the_wrong_ring() -> None:
    # Common practice, no source: as far as a ring may be stretched, so far it may be too large.
    assert asked("o-ring-gland", groove_diameter=q("12", "mm"), bore=q("18", "mm")).results["finding"] == "stop"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        # ISO 9906:2012 table 8, grade 2B (value from memory): flow within 8 %, efficiency at least -5 %.
        ({}, "flow at the same head -8.03 % (-8 to +8 allowed)"),
        ({}, "head at the same flow -3.3 % (-5 to +5 allowed)"),
        ({"grade": "1U"}, "(0 to +6 allowed)"),
    ],
)
def test_a_deviation_is_told_with_the_digits_that_put_it_outside(changes: dict[str, Any], words: str) -> None:
    assert words in asked("check-after-overhaul", **changes).outcome.sentence


@pytest.mark.parametrize(
    ("torque", "words"),
    [
        # ISO 898-1:2013: 580 MPa x 84.3 mm2 are 48.894 kN; with K = 0.12 on 12 mm 70.41 N·m (T = K d F).
        ("70.45", "100.06 % of the proof load. Stop: the screw stretches for good."),
        ("70.38", "99.96 % of the proof load."),
        ("88.0", "125 % of the proof load."),
        ("44.0", "62 % of the proof load."),
    ],
)
def test_a_share_of_the_proof_load_never_reads_as_the_other_side_of_it(torque: str, words: str) -> None:
    assert words in asked("preload-reached", torque=q(torque, "N*m")).outcome.sentence


def test_a_seat_is_told_and_judged_in_one_unit() -> None:
    # Common practice, no source: 0.05 mm of run-out; 2 mil are 0.0508 mm.
    found = asked("seal-installation", check="shaft-run-out", size=None, measured=q("2", "mil"))
    assert found.outcome.sentence.endswith("at most 0.05 mm. The measured 0.0508 mm is above it.")
    face = asked("seal-installation", check="face-flatness", size=None, measured=q("0.8", "um"))
    assert face.outcome.sentence.endswith("at most 0.88 µm. The measured 0.8 µm is within it.")


def test_alignment_names_what_it_judges_by() -> None:
    # Common practice, no source.
    sentence = asked("alignment-tolerance").outcome.sentence
    assert sentence == (
        "Up to 3000 rpm an offset of 0.06 mm is acceptable, 0.03 mm excellent; a gap of 0.04 and 0.03 mm for each "
        "100 mm of diameter. Offset acceptable. Gap excellent."
    )


@pytest.mark.parametrize(
    ("unit", "value"),
    [
        # NIST SP 811, appendix B.8: 1 lb/ft3 = 16.01846 kg/m3.
        ("lb/ft3", "62.4"), ("kg/L", "0.99955"), ("g/cm3", "0.99955"),
    ],
)  # fmt: skip
def test_densities_are_taken_as_people_write_them(unit: str, value: str) -> None:
    found = asked("pressure-to-head", density=q(value, unit))
    assert float(found.results["density"]["value"]) == pytest.approx(999.55, abs=0.06)


@pytest.mark.parametrize("unit", ["US gpm", "usgpm", "gal/min", "gpm"])
def test_gallons_a_minute_are_taken_as_job_sheets_print_them(unit: str) -> None:
    # NIST SP 811, B.9: 1 US gal/min = 0.2271247 m3/h.
    found = asked("another-speed", flow=q("440", unit))
    assert found.inputs["flow"] == {"value": "99.9348711", "unit": "m3/h"}


@pytest.mark.parametrize("unit", ["mil/s", "mils/s"])
def test_a_mil_a_second_is_a_velocity(unit: str) -> None:
    # A mil of the trade is 0.0254 mm.
    assert asked("vibration-zone", velocity=q("140", unit)).inputs["velocity"]["value"] == "3.556"


@pytest.mark.parametrize("shaft", ["50.060", "49.980"])
def test_no_temperature_to_heat_to_is_answered_where_a_bearing_must_not_be_heated(shaft: str) -> None:
    # 72 µm of interference on 50 mm ask for 120 K (linear expansion, 12e-6 per K, value from memory), above the ceiling
    # of 120 °C; a shaft below the smallest bore (ISO 492:2014) is loose.
    found = asked("bearing-heating", shaft=q(shaft, "mm"))
    assert "target" not in found.results
    assert not found.outcome.sentence.startswith("Heat")
