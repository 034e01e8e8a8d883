"""Readings to value and uncertainty, rule by rule."""

from decimal import Decimal
from typing import Any

import GTC
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from assets.calculations.units import convert
from jobs.calculations.evaluation import Evaluated, Tool, ToolUnfit, evaluate
from jobs.calculations.evaluation_rules import SetUpUnusable
from jobs.calculations.readings import ReadingsUnusable
from jobs.calculations.verdict import judge

ROOT_12 = 12**0.5


def tool(unit: str = "mm", low: str = "0", high: str = "300", step: str = "0.001", u: str = "0.002") -> Tool:
    return Tool("MIC-1", unit, Decimal(low), Decimal(high), Decimal(step), Decimal(u))


def found(rule: str, readings: Any, **changes: Any) -> Evaluated:
    def decimals(raw: Any) -> Any:
        if isinstance(raw, dict):
            return {name: decimals(one) for name, one in raw.items()}
        return [decimals(one) for one in raw] if isinstance(raw, list) else Decimal(raw)

    arguments: dict[str, Any] = {
        "rule": rule,
        "count": len(readings) if isinstance(readings, list) else 1,
        "set_up": {},
        "given": {},
        "readings": decimals(readings),
        "unit": "mm",
        "value_unit": "mm",
        "tools": [tool()],
    }
    return evaluate(**(arguments | changes))


def amounts(one: Evaluated) -> dict[tuple[str, str], float]:
    return {(line.name, line.of): float(line.amount) for line in one.budget.lines}


def test_a_swing_is_the_difference_of_two_readings_and_as_uncertain() -> None:
    # JCGM 100:2008, 5.1.2 with sensitivities 1 and -1: sqrt(2) of one reading.
    one = found("total-indicator-reading", ["0", "0.02", "-0.01", "0.01"])
    assert one.value == Decimal("0.03")
    assert amounts(one)["calibration", ""] == pytest.approx(0.001 * 2**0.5)
    assert amounts(one)["resolution", ""] == pytest.approx(0.001 / ROOT_12 * 2**0.5)


def test_eccentricity_is_half_of_the_swing_and_half_as_uncertain() -> None:
    # ISO 1101: an eccentric round surface swings by twice its eccentricity.
    swing, half = (found(rule, ["0", "0.02", "-0.01", "0.01"]) for rule in ("total-indicator-reading", "eccentricity"))
    assert half.value * 2 == swing.value
    assert float(half.budget.expanded * 2) == pytest.approx(float(swing.budget.expanded))


def test_the_zero_of_an_indicator_may_stand_anywhere() -> None:
    one = found("total-indicator-reading", ["-0.04", "0", "-0.01"], tools=[tool(high="0.8", step="0.01")])
    assert one.value == Decimal("0.04")


def test_a_swing_longer_than_the_travel_is_refused() -> None:
    with pytest.raises(ToolUnfit, match="more than the travel"):
        found("total-indicator-reading", ["-0.5", "0.5"], tools=[tool(high="0.8")])


def test_few_readings_that_scatter_ask_for_a_larger_factor() -> None:
    # JCGM 100:2008, table G.2: t for 2 degrees of freedom and 95.45 % is 4.53.
    one = found("mean", ["50.00", "50.05", "50.10"], tools=[tool(step="0.00001", u="0.00001")])
    assert one.budget.degrees_of_freedom is not None
    assert (round(one.budget.degrees_of_freedom, 1), one.budget.coverage_factor) == (2, Decimal("4.53"))


def test_readings_that_agree_leave_the_certificate_to_rule() -> None:
    one = found("mean", ["50.008", "50.008", "50.008"])
    assert (one.budget.degrees_of_freedom, one.budget.coverage_factor) == (None, 2)


@given(st.lists(st.decimals(min_value=49, max_value=51, places=3), min_size=2, max_size=8))
def test_a_mean_agrees_with_a_library_for_uncertain_numbers(readings: list[Decimal]) -> None:
    # GTC: type A estimate of the readings, certificate and step beside it.
    assume(len(set(readings)) > 1)
    one = found("mean", [str(each) for each in readings])
    expected = (
        GTC.type_a.estimate([float(each) for each in readings])
        + GTC.ureal(0, 0.001)
        + GTC.ureal(0, GTC.type_b.uniform(0.0005))
    )
    assert float(one.value) == pytest.approx(expected.x)
    assert float(one.budget.combined) == pytest.approx(expected.u)
    if one.budget.degrees_of_freedom is not None:
        assert float(one.budget.degrees_of_freedom) == pytest.approx(expected.df, rel=1e-6)


@pytest.mark.parametrize(("bands", "height"), [("1", "0.29"), ("2", "0.59"), ("3", "0.88"), ("5", "1.47")])
def test_bands_on_an_optical_flat_are_a_height(bands: str, height: str) -> None:
    # NIST Atomic Spectra Database, He I line at 587.562 nm; bands stand half a wavelength apart.
    flat = tool(unit="piece", high="20", step="0.5", u="0.5")
    one = found("light-bands", [bands], unit="piece", value_unit="um", tools=[flat])
    assert round(one.value, 2) == Decimal(height)
    assert amounts(one)["calibration", ""] == pytest.approx(0.25 * 0.293781, rel=1e-4)


def test_a_flat_known_in_micrometres_does_as_well() -> None:
    flat = tool(unit="um", high="5", step="0.15", u="0.06")
    one = found("light-bands", ["2", "3"], unit="piece", value_unit="um", tools=[flat])
    assert round(one.value, 3) == Decimal("0.881")
    assert amounts(one)["calibration", ""] == pytest.approx(0.03)
    with pytest.raises(ToolUnfit, match="outside the range"):
        found("light-bands", ["18"], unit="piece", value_unit="um", tools=[flat])


def test_a_warm_seat_is_judged_at_20_degrees() -> None:
    # ISO 1: 50.0150 mm at 32 degrees Celsius, 11.5e-6 / K, instrument at 20: 50.0081 mm.
    one = found("diameter", ["50.0150", "50.0150"], given={"temperature_c": "32", "instrument_temperature_c": "20"})
    assert round(one.value, 4) == Decimal("50.0081")
    assert {line.name for line in one.budget.lines} >= {"calibration", "resolution", "repeatability", "temperature"}
    assert round(next(each.value for each in one.results if each.name == "correction"), 4) == Decimal("-0.0069")


CLEARANCE = {"bore": ["150.52", "150.54"], "shaft": ["150.00", "150.02"]}
WARM = {"bore_temperature_c": "20", "shaft_temperature_c": "20"}


def test_clearance_is_bore_less_shaft() -> None:
    one = found("diametral-clearance", CLEARANCE, given=WARM, count=2)
    assert one.value == Decimal("0.52")


def test_a_bronze_ring_on_a_warm_steel_shaft() -> None:
    # Linear expansion by hand: bronze 17.5e-6, steel 11.5e-6 / K, instruments of steel as warm as the parts. The ring
    # at 30: 150.53 (1 - 6e-6 x 10) = 150.520968; the shaft needs no correction: 150.01.
    one = found(
        "diametral-clearance",
        CLEARANCE,
        count=2,
        set_up={"bore_material": "bronze"},
        given={"bore_temperature_c": "30", "shaft_temperature_c": "24"},
    )
    assert one.value == Decimal("150.5209682") - Decimal("150.01")


def test_each_instrument_answers_for_its_own_diameter() -> None:
    gauge, micrometer = tool(u="0.006", step="0.01"), tool(u="0.004")
    one = found("diametral-clearance", CLEARANCE, given=WARM, count=2, tools=[gauge, micrometer])
    assert amounts(one)["calibration", "bore"] == pytest.approx(0.003)
    assert amounts(one)["calibration", "shaft"] == pytest.approx(0.002)
    assert amounts(one)["resolution", "bore"] == pytest.approx(0.01 / ROOT_12)


def test_a_clearance_agrees_with_a_library_for_uncertain_numbers() -> None:
    # GTC with the same inputs, 28 degrees Celsius, instruments as warm as the parts.
    one = found(
        "diametral-clearance",
        CLEARANCE,
        count=2,
        set_up={"bore_material": "bronze"},
        given={"bore_temperature_c": "28", "shaft_temperature_c": "28"},
    )

    def side(readings: list[float], per_k: float) -> Any:
        length = GTC.type_a.estimate(readings) + GTC.ureal(0, 0.001) + GTC.ureal(0, GTC.type_b.uniform(0.0005))
        warm, apart = GTC.ureal(8, GTC.type_b.uniform(1)), GTC.ureal(0, GTC.type_b.uniform(1))
        change, gauge = GTC.ureal(per_k - 11.5e-6, GTC.type_b.uniform(1e-6)), GTC.ureal(11.5e-6, 0)
        # The length's own factor is left at 1, as in JCGM 100:2008, H.1.3.
        return length + length.x * (-(change * warm) - gauge * apart)

    expected = side([150.52, 150.54], 17.5e-6) - side([150.00, 150.02], 11.5e-6)
    assert float(one.value) == pytest.approx(expected.x)
    assert float(one.budget.combined) == pytest.approx(expected.u, rel=1e-6)
    assert float(one.budget.degrees_of_freedom or 0) == pytest.approx(expected.df, rel=1e-4)


def test_taper_is_the_difference_of_the_ends() -> None:
    one = found("taper", {"first_end": ["50.012", "50.014"], "second_end": ["50.006", "50.008"]}, count=2)
    assert one.value == Decimal("0.006")
    assert amounts(one)["calibration", ""] == pytest.approx(0.001 * 2**0.5)


def test_ovality_is_the_largest_less_the_smallest_diameter() -> None:
    # ISO 12181-1, two-point differences round one section (value from memory).
    assert found("ovality", ["50.012", "50.018", "50.010"]).value == Decimal("0.008")


DIAL = tool(high="10", step="0.01", u="0.01")
FEET = {"plane_distance_mm": "120", "front_foot_mm": "300", "rear_foot_mm": "700"}
REVERSE = {"stationary_hub": ["0", "0.07", "0.14", "0.07"], "movable_hub": ["0", "-0.17", "-0.34", "-0.17"]}


def reverse(**changes: Any) -> Evaluated:
    arguments: dict[str, Any] = {"set_up": FEET, "given": {"sag_mm": "-0.04"}, "tools": [DIAL]}
    return found("reverse-indicator", REVERSE, **(arguments | changes))


def test_reverse_indicators_tell_offset_slope_and_shims() -> None:
    # Geometry by hand, tests/jobs/calculations/test_shaft_alignment.py: 0.09 and 0.15 mm, 0.05 mm per 100 mm, and
    # 0.24 and 0.44 mm to take away.
    one = reverse()
    results = {each.name: each.value for each in one.results}
    assert one.value == Decimal("0.12")
    assert results["vertical-offset-stationary-plane"] == Decimal("0.09")
    assert results["vertical-offset-movable-plane"] == Decimal("0.15")
    assert results["vertical-angularity"] == Decimal("0.05")
    assert (results["front-shims"], results["rear-shims"]) == (Decimal("-0.24"), Decimal("-0.44"))
    assert "take away 0.24 mm under the front feet" in [each.words for each in one.results]


@pytest.mark.parametrize(
    ("judged", "unit", "value"),
    [
        ("vertical-offset", "mm", "0.12"),
        ("horizontal-offset", "mm", "0"),
        ("angularity", "mm/100mm", "0.05"),
        ("vertical-angularity", "mm/100mm", "0.05"),
        ("horizontal-angularity", "mm/100mm", "0"),
        ("angularity", "mil/in", "0.5"),
        ("offset", "um", "120"),
    ],
)
def test_the_author_chooses_what_is_judged_and_in_which_unit(judged: str, unit: str, value: str) -> None:
    # 0.05 mm per 100 mm is 0.5 thousandths of an inch per inch.
    one = reverse(set_up={**FEET, "judged": judged}, value_unit=unit)
    assert float(one.value) == pytest.approx(float(value))


def test_a_turn_that_does_not_close_is_to_be_taken_again() -> None:
    # Common practice, no source: T + B and L + R may lie 0.03 mm apart; these are 0.06 mm.
    slipped = {**REVERSE, "movable_hub": ["0", "-0.05", "-0.30", "-0.19"]}
    with pytest.raises(ReadingsUnusable, match=r"0\.06 mm apart") as refused:
        found("reverse-indicator", slipped, set_up=FEET, given={"sag_mm": "0"}, tools=[DIAL])
    assert refused.value.place == "/movable_hub"


def test_the_offset_of_two_dials_agrees_with_a_library_for_uncertain_numbers() -> None:
    # GTC with the same inputs: two readings a dial, one bracket, the distance of the planes known to 1 mm.
    def read(value: float) -> Any:
        return GTC.ureal(value, 0.005) + GTC.ureal(0, GTC.type_b.uniform(0.005))

    sag, distance = GTC.ureal(-0.04, GTC.type_b.uniform(0.005)), GTC.ureal(120, GTC.type_b.uniform(1))
    at_first = (read(0.14) - sag - read(0)) / 2
    at_second = (read(0) - read(-0.34) + sag) / 2
    slope = (at_second - at_first) / distance
    for judged, expected in (("vertical-offset", at_first + slope * 60), ("vertical-angularity", slope * 100)):
        unit = "mm/100mm" if "angularity" in judged else "mm"
        one = reverse(set_up={**FEET, "judged": judged}, value_unit=unit)
        assert float(one.value) == pytest.approx(expected.x)
        assert float(one.budget.combined) == pytest.approx(expected.u, rel=1e-6)


def test_two_brackets_sag_by_themselves() -> None:
    one = reverse(set_up={**FEET, "movable_hub_sag_mm": "-0.04"})
    assert [line.of for line in one.budget.lines if line.name == "sag"] == ["stationary_hub", "movable_hub"]
    assert one.budget.combined > reverse().budget.combined


def test_a_rim_and_a_face_tell_the_same() -> None:
    # Geometry by hand: 0.05 mm over 100 mm of face is 0.05 mm per 100 mm; the rim lies 0.10 mm high.
    readings = {"rim": ["0", "-0.10", "-0.20", "-0.10"], "face": ["0.05", "0.025", "0", "0.025"]}
    given_ = {"face_diameter_mm": "100", "sag_mm": "0"}
    offset = found("rim-and-face", readings, given=given_, tools=[DIAL, tool(step="0.001", u="0.002")])
    assert offset.value == Decimal("0.10")
    angle = found(
        "rim-and-face", readings, given=given_, tools=[DIAL], set_up={"judged": "angularity"}, value_unit="mm/100mm"
    )
    assert angle.value == Decimal("0.05")
    assert amounts(angle)["calibration", "rim"] == 0
    assert amounts(angle)["calibration", "face"] == pytest.approx(0.005 * 2**0.5)


def test_shafts_in_line_are_told_to_be() -> None:
    still = {"stationary_hub": ["0"] * 4, "movable_hub": ["0"] * 4}
    one = found("reverse-indicator", still, set_up=FEET, given={"sag_mm": "0"}, tools=[DIAL])
    assert one.value == 0
    assert one.budget.expanded > 0
    assert "neither way" in [each.words for each in one.results]


def test_what_is_missing_is_asked_for_by_name() -> None:
    with pytest.raises(SetUpUnusable, match="sag_mm is needed"):
        reverse(given={})


def test_an_instrument_for_something_else_is_refused() -> None:
    with pytest.raises(ToolUnfit, match="measures in degC"):
        found("mean", ["20"], tools=[tool(unit="degC")])


def test_a_size_outside_the_range_is_refused_at_its_place() -> None:
    with pytest.raises(ToolUnfit) as refused:
        found("diametral-clearance", {"bore": ["400"], "shaft": ["399"]}, given=WARM)
    assert refused.value.place == "/bore/0"


def test_a_temperature_difference_has_no_offset() -> None:
    hot = tool(unit="degF", low="32", high="212", step="1.8", u="3.6")
    one = found("single", ["68"], unit="degF", value_unit="degC", tools=[hot])
    assert float(one.value) == pytest.approx(20)
    assert amounts(one)["calibration", ""] == pytest.approx(1)


small = st.decimals(min_value="-0.5", max_value="0.5", places=3)
sizes = st.decimals(min_value="49.9", max_value="50.1", places=3)
factors = st.sampled_from([Decimal("0.001"), Decimal("25.4"), Decimal(1000)])


@given(
    st.sampled_from(["mean", "max", "min", "range", "total-indicator-reading", "eccentricity", "ovality"]),
    st.lists(sizes, min_size=2, max_size=6),
    st.sampled_from(["um", "in", "m", "mil"]),
)
def test_readings_in_another_unit_get_the_same_verdict(rule: str, readings: list[Decimal], unit: str) -> None:
    plain = found(rule, [str(one) for one in readings])
    other = found(rule, [str(convert(one, "mm", unit)) for one in readings], unit=unit)
    assert float(other.value) == pytest.approx(float(plain.value), abs=1e-9)
    verdicts = [
        judge(
            value=one.value.quantize(Decimal("1e-6")),
            expanded_uncertainty=one.budget.expanded.quantize(Decimal("1e-6")),
            lower=None,
            upper=Decimal("50.0"),
            decision_rule="guard-band",
            instrument_overdue=False,
        ).result
        for one in (plain, other)
    ]
    assert verdicts[0] == verdicts[1]


@given(st.lists(sizes, min_size=2, max_size=6), factors)
def test_everything_twice_as_large_is_twice_as_uncertain(readings: list[Decimal], factor: Decimal) -> None:
    plain = found("mean", [str(one) for one in readings])
    grown = found(
        "mean",
        [str(one * factor) for one in readings],
        tools=[Tool("MIC", "mm", Decimal(0), 300 * factor, Decimal("0.001") * factor, Decimal("0.002") * factor)],
    )
    assert float(grown.value) == pytest.approx(float(plain.value * factor))
    assert float(grown.budget.combined) == pytest.approx(float(plain.budget.combined * factor))


@given(small, small, st.decimals(min_value="-0.2", max_value=0, places=3))
def test_a_sagging_bracket_finds_what_a_stiff_one_finds(up: Decimal, right: Decimal, sag: Decimal) -> None:
    def dial(side: int, drop: Decimal) -> list[str]:
        read = (side * up, side * right + drop / 2, -side * up + drop, -side * right + drop / 2)
        return [str(one - read[0]) for one in read]

    stiff, bent = (
        found(
            "reverse-indicator",
            {"stationary_hub": dial(-1, drop), "movable_hub": dial(1, drop)},
            set_up=FEET,
            given={"sag_mm": str(drop)},
            tools=[DIAL],
        )
        for drop in (Decimal(0), sag)
    )
    assert float(bent.value) == pytest.approx(float(stiff.value), abs=1e-12)
    assert float(bent.budget.combined) == pytest.approx(float(stiff.budget.combined), abs=1e-12)
