"""Lengths at 20 degrees Celsius."""

from dataclasses import replace
from decimal import Decimal

import GTC
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.reference_temperature import EXPANSION_PER_K, Warmth, at_reference, temperature_contributions
from jobs.calculations.uncertainty import budget, calibration, combine, rectangular, resolution

STEEL, ALUMINIUM = EXPANSION_PER_K["steel"], EXPANSION_PER_K["aluminium"]


def warmth(part: str, instrument: str, per_k: Decimal = STEEL) -> Warmth:
    return Warmth(part_c=Decimal(part), instrument_c=Decimal(instrument), part_per_k=per_k)


def test_a_warm_shaft_reads_too_large_by_what_it_grew() -> None:
    # ISO 1, L20 = L (1 - alpha (T - 20)): 50.0150 mm at 32 degrees Celsius, 11.5e-6 / K, instrument at 20: 50.0081 mm.
    assert round(at_reference(Decimal("50.0150"), warmth("32", "20")), 4) == Decimal("50.0081")


def test_an_aluminium_bore_read_with_steel_just_as_warm() -> None:
    # Linear expansion, -L (aw - ag) (T - 20): 110.020 mm at 28 degrees Celsius, 23.8e-6 and 11.5e-6 / K: 110.0092 mm.
    assert round(at_reference(Decimal("110.020"), warmth("28", "28", ALUMINIUM)), 4) == Decimal("110.0092")


def test_steel_read_with_steel_just_as_warm_needs_no_correction() -> None:
    assert at_reference(Decimal(50), warmth("33", "33")) == 50


def test_the_budget_of_a_bore_gauge_at_90_mm() -> None:
    # Worked by hand after JCGM 100:2008, 4.3.7 and H.1 (common practice, no source): ring 0.75, repeatability 0.52,
    # step 0.29, 1 K of difference 0.60 and 3 K of 1e-6 / K 0.16 um combine to 1.14, expanded 2.3 um.
    lines = temperature_contributions(Decimal(90), warmth("23", "23"), "mm")
    by_name = {one.name: one.amount * 1000 for one in lines}
    assert round(by_name["temperature-difference"], 2) == Decimal("0.60")
    assert round(by_name["expansion-difference"], 2) == Decimal("0.16")
    assert (by_name["temperature"], by_name["instrument-expansion"]) == (0, 0)
    found = budget(
        [
            *lines,
            calibration(Decimal("0.0015"), "mm"),
            rectangular("repeatability", Decimal("0.0009"), "mm"),
            resolution(Decimal("0.001"), "mm"),
        ]
    )
    assert round(found.combined * 1000, 2) == Decimal("1.14")
    assert round(found.expanded * 1000, 1) == Decimal("2.3")


temperatures = st.decimals(min_value=0, max_value=60, places=1)
materials = st.sampled_from(sorted(EXPANSION_PER_K.values()))


@given(st.decimals(min_value=1, max_value=500, places=3), temperatures, temperatures, materials)
def test_what_temperature_adds_agrees_with_a_library_for_uncertain_numbers(
    length: Decimal, part: Decimal, instrument: Decimal, per_k: Decimal
) -> None:
    # GTC, L (1 - da theta - ag dtheta) with the variables of JCGM 100:2008, H.1.2.
    warm = Warmth(part_c=part, instrument_c=instrument, part_per_k=per_k)
    half = {name: float(rectangular("", one, "").standard) for name, one in (("k", Decimal(1)), ("a", Decimal("1e-6")))}
    theta = GTC.ureal(float(part) - 20, half["k"])
    apart = GTC.ureal(float(part) - float(instrument), half["k"])
    change = GTC.ureal(float(per_k) - float(STEEL), half["a"])
    gauge = GTC.ureal(float(STEEL), half["a"])
    expected = float(length) * (1 - change * theta - gauge * apart)
    assert float(at_reference(length, warm)) == pytest.approx(expected.x, rel=1e-9)
    found = combine(one.amount for one in temperature_contributions(length, warm, "mm"))
    assert float(found) == pytest.approx(expected.u, rel=1e-6, abs=1e-12)


@given(st.decimals(min_value=1, max_value=500, places=3), temperatures, materials)
def test_at_20_degrees_a_length_is_what_it_reads(length: Decimal, guess: Decimal, per_k: Decimal) -> None:
    warm = Warmth(part_c=Decimal(20), instrument_c=Decimal(20), part_per_k=per_k)
    assert at_reference(length, warm) == length
    assert at_reference(length, replace(warm, part_c=20 + guess)) <= length
