"""Readings that look like another unit's are asked about. Thresholds: common practice, no source."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.doubtful_readings import Doubt, doubts


def asked(
    rule: str,
    readings: dict[str, list[str]],
    *,
    value: str,
    unit: str = "mm",
    value_unit: str = "mm",
    lower: str | None = None,
    upper: str | None = None,
) -> list[Doubt]:
    return doubts(
        rule=rule,
        groups={name: [Decimal(one) for one in rows] for name, rows in readings.items()},
        unit=unit,
        value=Decimal(value),
        value_unit=value_unit,
        lower=None if lower is None else Decimal(lower),
        upper=None if upper is None else Decimal(upper),
    )


def test_a_shaft_of_40_mm_sent_in_inches() -> None:
    found = asked("mean", {"": ["1.5751"] * 3}, value="1.5751", lower="40.002", upper="40.013")
    assert [one.place for one in found] == [""]
    assert "read in inches (40.00754 mm)" in found[0].sentence


def test_a_shaft_of_40_mm_sent_in_micrometres() -> None:
    found = asked("single", {"": ["40008"]}, value="40008", lower="40.002", upper="40.013")
    assert "µm (40.008 mm)" in found[0].sentence


def test_a_run_out_of_30_that_was_read_in_micrometres() -> None:
    found = asked("total-indicator-reading", {"": ["30"]}, value="30", upper="0.05")
    assert "Was it read in µm (0.03 mm)" in found[0].sentence


def test_a_run_out_in_thousandths_of_an_inch() -> None:
    found = asked("total-indicator-reading", {"": ["1.5"]}, value="1.5", upper="0.05")
    assert "mils (0.0381 mm)" in found[0].sentence


def test_one_diameter_of_three_that_was_read_in_inches() -> None:
    found = asked("max", {"": ["50.010", "1.9689", "50.012"]}, value="50.012", lower="50.002", upper="50.013")
    assert [one.place for one in found] == ["/1"]
    assert "inches and millimetres" in found[0].sentence


def test_a_bore_in_inches_beside_a_shaft_in_millimetres() -> None:
    found = asked("diametral-clearance", {"bore": ["5.926"], "shaft": ["150.01"]}, value="-144.084", upper="0.86")
    assert [one.place for one in found] == ["/bore"]


def test_a_dials_swing_where_a_diameter_is_asked_for() -> None:
    found = asked("diametral-clearance", {"bore": ["-0.02"], "shaft": ["150.01"]}, value="-150.03", upper="0.86")
    assert [one.place for one in found] == ["/bore"]


@pytest.mark.parametrize(
    ("value", "lower", "upper"),
    [
        ("0.09", None, "0.05"),
        ("0.45", None, "0.05"),
        ("50.100", "50.002", "50.013"),
        ("45", "50.002", "50.013"),
        ("-0.30", "-0.06", "0.06"),
        ("0", "0.1", None),
        ("7", None, None),
    ],
)
def test_what_is_merely_wrong_is_not_asked_about(value: str, lower: str | None, upper: str | None) -> None:
    assert asked("single", {"": [value]}, value=value, lower=lower, upper=upper) == []


def test_temperatures_are_never_asked_about() -> None:
    found = asked("single", {"": ["1400"]}, value="1400", unit="degC", value_unit="degC", upper="60")
    assert found == []


def test_readings_of_an_indicator_do_not_stand_out() -> None:
    assert asked("total-indicator-reading", {"": ["0.001", "0.001", "1"]}, value="0.999", upper="2") == []


@given(
    st.decimals(min_value="39.9", max_value="40.1", places=4), st.decimals(min_value="39.9", max_value="40.1", places=4)
)
def test_nothing_near_its_limits_is_asked_about(one: Decimal, other: Decimal) -> None:
    readings = {"": [str(one), str(other), "40.005"]}
    assert asked("mean", readings, value=str((one + other) / 2), lower="40.002", upper="40.013") == []


@pytest.mark.parametrize(
    ("temperature", "words"),
    [
        # NIST SP 811, B.8: 68 °F are 20 °C; 293.15 K are 20 °C.
        ("68", "Bore temperature 68 °C: was it read in °F (20 °C)?"),
        ("293.15", "Bore temperature 293.15 °C: was it read in kelvin (20 °C)?"),
    ],
)
def test_a_part_as_warm_as_a_workshop_on_another_scale_is_asked_about(temperature: str, words: str) -> None:
    readings = {"bore": [Decimal("90.52")], "shaft": [Decimal("90.01")]}
    found = doubts(
        rule="diametral-clearance", groups=readings, unit="mm", value=Decimal("0.51"), value_unit="mm",
        lower=Decimal("0.4"), upper=Decimal("0.8"),
        given={"bore_temperature_c": Decimal(temperature), "shaft_temperature_c": Decimal(21)},
    )  # fmt: skip
    assert [one.pointer for one in found] == ["#/given/bore_temperature_c"]
    assert found[0].sentence == words


@pytest.mark.parametrize("temperature", ["-5", "20", "45", "110", "200"])
def test_a_part_that_is_cold_warm_or_hot_is_not_asked_about(temperature: str) -> None:
    found = doubts(
        rule="diameter", groups={"": [Decimal(50)]}, unit="mm", value=Decimal(50), value_unit="mm", lower=None,
        upper=None, given={"temperature_c": Decimal(temperature)},
    )  # fmt: skip
    assert found == []
