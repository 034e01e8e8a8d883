"""Figures inside sentences follow the units of the sheet; what somebody wrote stays word by word."""

import re
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.printed_sentences import as_written, worked_out

UNITS: Any = pint.UnitRegistry()


@pytest.mark.parametrize(
    ("sentence", "inch"),
    [
        # 1 in = 25.4 mm exactly; NIST SP 811, appendix B: 1 lbf·ft = 1.355818 N·m, 1 psi = 6.894757 kPa; B.8: t/°F =
        # 1.8 t/°C + 32, a difference of 1 K is one of 1.8 °F.
        ("take away 0.009 mm under the front feet", "take away 0.00035 in (0.009 mm) under the front feet"),
        ("move the rear feet 0.05 mm to the left", "move the rear feet 0.0020 in (0.05 mm) to the left"),
        (
            "Heat it to about 81.7 °C, 61.7 K above the shaft. Never above 120 °C.",
            "Heat it to about 179.1 °F (81.7 °C), 111.1 °F (61.7 K) above the shaft. Never above 248 °F (120 °C).",
        ),
        (
            "40 k5: +13/+2 µm, 40.002 to 40.013 mm.",
            "40 k5: +512/+79 µin (+13/+2 µm), 1.57489 to 1.57531 in (40.002 to 40.013 mm).",
        ),
        (
            "61.6 N·m within 10 %. In passes of 18.5, 37, 61.6 N·m.",
            "45.43 lbf·ft (61.6 N·m) within 10 %. In passes of 13.64, 27.29, 45.43 lbf·ft (18.5, 37, 61.6 N·m).",
        ),
        ("up to 4.0 mm/s r.m.s.", "up to 0.157 in/s (4.0 mm/s) r.m.s."),
        ("Soft foot: at most 0.06 mm.", "Soft foot: at most 0.0023 in (0.06 mm)."),
        ("at least 0.3 mm", "at least 0.012 in (0.3 mm)"),
        ("at most 60 degC", "at most 140 °F (60 °C)"),
        ("20 to 30 K more", "36 to 54 °F (20 to 30 K) more"),
        ("0.3 bar at 5.5 m3/h", "4 psi (0.3 bar) at 24.2 US gpm (5.5 m³/h)"),
        ("0.114 mm/100mm", "1.14 mil/in (0.114 mm per 100 mm)"),
    ],
)
def test_what_was_worked_out_is_told_in_the_units_of_the_sheet(sentence, inch):
    assert worked_out(sentence, "inch") == inch


@pytest.mark.parametrize(
    ("sentence", "inch"),
    [
        ("Wait below 60 °C, or wear gloves.", "Wait below 60 °C (140 °F), or wear gloves."),
        ("A feeler of 0.03 mm must not enter.", "A feeler of 0.03 mm (0.0012 in) must not enter."),
        ("1 to 1.5 mm (common practice)", "1 to 1.5 mm (0.040 to 0.059 in) (common practice)"),
        ("0,05 mm", "0,05 mm (0.0020 in)"),
        ("1 mm (0.04 in) off", "1 mm (0.04 in) off"),
        ("nothing in it", "nothing in it"),
        ("Steps 3 and 4 of M12x30 8.8, G 6.3", "Steps 3 and 4 of M12x30 8.8, G 6.3"),
        ("0.072 mm rejected (at most 0.05 mm).", "0.072 mm (0.00283 in) rejected (at most 0.05 mm (0.0019 in))."),
    ],
)  # fmt: skip
def test_what_somebody_wrote_stays_and_the_other_unit_stands_behind_it(sentence, inch):
    assert as_written(sentence, "inch") == inch


@pytest.mark.parametrize(
    ("sentence", "metric"),
    [
        ("Torque to 65 lbf·ft at 70 °F.", "Torque to 65 lbf·ft (88 N·m) at 70 °F (21.1 °C)."),
        ("0.002 in, or 2 mil", "0.002 in (0.05 mm), or 2 mil (0.05 mm)"),
        # Without a point an "in" may be a word.
        ("take 3 in turn", "take 3 in turn"),
        ("60 psi", "60 psi (4.14 bar)"),
    ],
)
def test_inches_that_somebody_wrote_have_their_metric_figure_behind_them(sentence, metric):
    assert as_written(sentence, "metric") == metric


@pytest.mark.parametrize("sentence", ["Heat to 81.7 °C.", "61.6 N·m, 0.05 mm", ""])
def test_a_metric_sheet_leaves_metric_sentences_alone(sentence):
    assert worked_out(sentence, "metric") == sentence
    assert as_written(sentence, "metric") == sentence


@given(
    value=st.decimals("0.001", "5000", places=3),
    unit=st.sampled_from(["mm", "µm", "bar", "kPa", "N·m", "kN", "kW", "mm/s"]),
    bound=st.sampled_from(["at most", "at least", "about"]),
)
def test_a_figure_is_that_of_the_library_pint_and_a_bound_is_on_the_safe_side(value, unit, bound):
    told = worked_out(f"{bound} {value} {unit}", "inch")
    found = re.fullmatch(rf"{bound} (\S+) (\S+) \({value} {unit}\)", told)
    assert found is not None, told
    there = Fraction(Decimal(found[1]))
    exact = (
        UNITS.Quantity(float(value), unit.replace("·", "*"))
        .to({"in": "inch", "µin": "microinch", "lbf·ft": "lbf*foot", "in/s": "inch/s"}.get(found[2], found[2]))
        .magnitude
    )
    step = 10.0 ** -len(found[1].partition(".")[2])
    assert float(there) == pytest.approx(exact, abs=1.000001 * step)
    assert bound != "at most" or float(there) <= exact * (1 + 1e-9)
    assert bound != "at least" or float(there) >= exact * (1 - 1e-9)


@given(st.text(max_size=80))
def test_any_text_is_borne(text):
    assert as_written(text, "metric") is not None
    assert as_written(text, "inch").startswith(text[:1])
