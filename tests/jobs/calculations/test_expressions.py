"""Conditions and limits written as expressions. Arithmetic and units are held against pint working in floats."""

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.calculations.units import dimension_of, known_units
from jobs.calculations.conditions import ConditionError, applies, validate
from jobs.calculations.expression_reading import ExpressionError, read_expression
from jobs.calculations.expression_values import (
    Working,
    check_condition,
    check_number,
    doubtful_words,
    known_value,
    variables_of,
)
from jobs.calculations.limits import LimitUnresolvable, check_rule, resolve
from jobs.calculations.pump_variables import PUMP_VARIABLES
from tests.pint_units import FLOATING

PUMP: dict[str, Any] = {
    "elastomer": "EPDM",
    "kit_elastomers": ["EPDM", "FKM"],
    "seal_type": "mechanical",
    "bearing_sealed": "yes",
    "temperature_max_c": Decimal(90),
    "shaft_diameter_at_seal_mm": Decimal("43.000"),
    "as_new_clearance_mm": "0.30",
    "impeller_outlet_width_mm": "12",
    "rated_speed_rpm": Decimal(2900),
}


def holds(text: str, **changes: Any) -> bool:
    return applies([text], PUMP | changes)[0]


def worth(text: str, unit: str) -> Decimal:
    found = Working(text, lambda held: known_value(held, PUMP)).number(check_number(text, unit))
    assert found is not None
    return found.in_unit(unit)


@pytest.mark.parametrize(
    ("text", "does"),
    [
        ('elastomer in ("EPDM", "FKM") and shaft_diameter_at_seal >= 40 mm', True),
        ("shaft_diameter_at_seal_mm >= 4.3 cm", True),
        ("40 mm < shaft_diameter_at_seal <= 43 mm", True),
        ("40 mm < shaft_diameter_at_seal < 43 mm", False),
        ("shaft_diameter_at_seal ≥ 43 mm and shaft_diameter_at_seal ≠ 44 mm", True),
        ('elastomer = "epdm"', True),
        ('elastomer == "NBR" or seal_type != "packed"', True),
        ('not (seal_type = "packed" or temperature_max > 80 degC)', False),
        ('elastomer not in ("NBR", "CR")', True),
        ('kit_elastomers = "FKM"', True),
        ('kit_elastomers != "FKM"', False),
        ('bearing_sealed = "yes"', True),
        # 90 degrees Celsius is 194 degrees Fahrenheit and 363.15 K: definition of the scales.
        ("temperature_max = 194 degF", True),
        ("temperature_max = 363.15 K", True),
        ("temperature_max - 80 degC = 10 K", True),
        ("abs(temperature_max - 100 degC) < 9 K", False),
        ("-10 degC < temperature_max", True),
        ("max(as_new_clearance, 0.2 mm) = 300 um", True),
        ("rated_speed >= 2900 rpm", True),
        ("10 % * shaft_diameter_at_seal = 4.3 mm", True),
        ("1 in = 25.4 mm", True),
        ("2 mm/s * 3 s = 6 mm", True),
        ("6 mm/2 = 3 mm", True),
        ('seal_type = "mechanical" or temperature_max > 200 degC and elastomer = "NBR"', True),
    ],
)
def test_a_condition_is_decided_for_the_pump(text: str, does: bool) -> None:
    assert holds(text) is does


def test_the_reason_names_the_expression_and_the_figures_it_was_decided_on() -> None:
    does, words = applies(['elastomer = "EPDM" and temperature_max > 80 degC'], PUMP)
    assert does
    assert words == (
        'Applies: elastomer = "EPDM" and temperature_max > 80 degC (elastomer is EPDM, temperature max is 90 °C).'
    )


def test_expressions_and_mappings_stand_side_by_side() -> None:
    assert applies(['elastomer = "EPDM"', {"of": "temperature_max_c", "at_least": 80}], PUMP)[0]
    assert not applies(['elastomer = "NBR"', {"of": "temperature_max_c", "at_least": 80}], PUMP)[0]


def test_what_is_not_known_matters_only_where_the_rest_does_not_decide() -> None:
    assert holds('rated_power > 15 kW or elastomer = "EPDM"')
    assert not holds('rated_power > 15 kW and elastomer = "NBR"')
    with pytest.raises(ConditionError, match="rated_power_kw"):
        holds('rated_power > 15 kW and elastomer = "EPDM"')


@pytest.mark.parametrize(
    ("text", "line", "column", "says"),
    [
        ("", 1, 1, "empty"),
        ("elastomer =", 1, 12, "missing at the end"),
        ("(temperature_max > 80 degC", 1, 27, "missing at the end"),
        ("temperature_max > 0,5 K", 1, 19, "write 0.5"),
        ("temperature_max > 5 furlong", 1, 19, "no unit known here"),
        ("temperature_max > 1.5.2 K", 1, 19, "no number"),
        ("elastomer = 'EPDM'", 1, 13, "double quotes"),
        ('elastomer = "EPDM', 1, 13, "not closed"),
        ('elastomer = "EPDM" && true', 1, 20, "write and, or, not"),
        ('elastomer in "EPDM"', 1, 14, "does not belong here"),
        ("elastomer in ()", 1, 15, "does not belong here"),
        ('elastomer = "EPDM"\nand temperature_max >', 2, 22, "missing at the end"),
        ('elastomer = "EPDM"\nand shaft_diametr > 4 mm', 2, 5, "shaft_diameter_at_seal"),
        ("tempature_max > 3 K", 1, 1, "Did you mean temperature_max"),
        ("temperature_max > 3 mm", 1, 1, "do not match: a temperature and a length"),
        ("shaft_diameter_at_seal > 40", 1, 1, "a length and a plain number"),
        ("as_new_clearance + 3 K > 1 mm", 1, 20, "a length and a temperature"),
        ("temperature_max * 2 > 3 K", 1, 1, "not multiplied"),
        ("temperature_max + 80 degC > 3 K", 1, 1, "not added"),
        ("10 K - temperature_max > 3 K", 1, 1, "not taken from a difference"),
        ("abs(temperature_max) > 3 K", 1, 1, "no temperature on its scale"),
        ("abs(1 mm, 2 mm) > 3 mm", 1, 1, "one number"),
        ('elastomer > "EPDM"', 1, 1, "equal or not"),
        ('elastomer + "X" = "EPDM"', 1, 1, "Only numbers"),
        ("elastomer = 3 mm", 1, 1, "cannot be compared"),
        ('temperature_max in ("hot")', 1, 1, "list of words"),
        ('seal_type = "paked"', 1, 13, "Did you mean packed"),
        ('seal_type in ("mechanical", "paked")', 1, 29, "Did you mean packed"),
        ("shaft_diameter_at_seal", 1, 1, "true or false; this is a length"),
        ("elastomer", 1, 1, "this is words"),
        ("shaft_diameter_at_seal and elastomer", 1, 1, "this is a length"),
        ("open(1 mm) > 2 mm", 1, 1, "no function"),
        ("__import__", 1, 1, "does not belong here"),
        ("elastomer.upper", 1, 10, "does not belong here"),
        ("1 = 1; 2", 1, 6, "does not belong here"),
    ],
)
def test_what_cannot_be_used_is_pointed_at(text: str, line: int, column: int, says: str) -> None:
    with pytest.raises(ExpressionError) as refused:
        check_condition(text)
    assert says in refused.value.detail
    assert (refused.value.line, refused.value.column) == (line, column)


def test_a_caret_stands_under_the_place() -> None:
    with pytest.raises(ConditionError) as refused:
        validate(['elastomer = "EPDM"\nand temperature_max > 3 mm'], PUMP_VARIABLES)
    assert str(refused.value).split("\n") == [
        "The units do not match: a temperature and a length. (line 2, column 5)",
        "and temperature_max > 3 mm",
        "    ^^^^^^^^^^^^^^^^^^^^^^",
    ]


@pytest.mark.parametrize("text", ["x" * 401, "(" * 200, "not " * 90 + "elastomer", "1+" * 150 + "1 > 0"])
def test_expressions_stay_small(text: str) -> None:
    with pytest.raises(ExpressionError):
        check_condition(text)


def refusal_of(text: str) -> ValueError | None:
    try:
        applies([text], PUMP)
    except ConditionError as refused:
        return refused
    return None


@given(st.text(max_size=60))
def test_no_text_is_more_than_refused(text: str) -> None:
    refused = refusal_of(text)
    assert refused is None or "(line " in str(refused)


PIECES = st.lists(
    st.sampled_from(
        ["elastomer", "temperature_max", "and", "or", "not", "in", "(", ")", ",", '"EPDM"', "3 mm", "80 degC", "1.5",
         "=", "<", "+", "-", "*", "/", "max", "as_new_clearance"]
    ),
    max_size=14,
)  # fmt: skip


@given(PIECES)
def test_no_row_of_right_pieces_is_more_than_refused_or_decided(pieces: list[str]) -> None:
    refused = refusal_of(" ".join(pieces))
    assert refused is None or "(line " in str(refused)


def test_words_never_seen_before_are_doubted_and_not_refused() -> None:
    assert doubtful_words(check_condition('elastomer = "EPDM"')) == []
    (doubt,) = doubtful_words(check_condition('elastomer in ("EPDN", "FKM")'))
    assert "Did you mean EPDM" in doubt


def test_variables_are_told_in_the_order_written_with_or_without_their_unit() -> None:
    tree = read_expression("temperature_max > 3 K and shaft_diameter_at_seal_mm > 1 mm or temperature_max_c > 4 K")
    assert [one.name for one in variables_of(tree)] == ["temperature_max_c", "shaft_diameter_at_seal_mm"]


@pytest.mark.parametrize("unit", known_units())
def test_every_unit_may_follow_a_number(unit: str) -> None:
    tree = check_number(f"2 {unit}", unit)
    found = Working("", lambda _: None).number(tree)
    assert found is not None
    assert found.in_unit(unit) == Decimal(2)
    assert found.kind.dimension == dimension_of(unit)


LENGTHS = st.tuples(st.integers(1, 9999), st.sampled_from(["mm", "um", "cm", "in"]))


@st.composite
def sums(draw: Any, depth: int = 3) -> tuple[str, Any]:
    """An expression of lengths, and the same in pint's own floats."""
    if depth == 0 or draw(st.booleans()):
        number, unit = draw(LENGTHS)
        return f"{number / 100:.2f} {unit}", FLOATING.Quantity(round(number / 100, 2), unit)
    left, one = draw(sums(depth=depth - 1))
    sign = draw(st.sampled_from(["+", "-", "* 1.5 +", "/ 4 -", "min", "max"]))
    right, other = draw(sums(depth=depth - 1))
    if sign in {"min", "max"}:
        return f"{sign}({left}, {right})", (min if sign == "min" else max)(one, other)
    worked = {"+": one + other, "-": one - other, "* 1.5 +": one * 1.5 + other, "/ 4 -": one / 4 - other}[sign]
    return f"(({left}) {sign} ({right}))", worked


@given(sums())
def test_sums_of_lengths_agree_with_pint(both: tuple[str, Any]) -> None:
    text, other = both
    if len(text) <= 400:
        assert float(worth(text, "mm")) == pytest.approx(other.to("mm").magnitude, rel=1e-9, abs=1e-9)


@given(
    st.integers(-200, 2000), st.sampled_from(["degC", "degF"]), st.integers(0, 400), st.sampled_from(["degC", "degF"])
)
def test_temperatures_with_a_difference_agree_with_pint(number: int, unit: str, rise: int, told: str) -> None:
    other = FLOATING.Quantity(float(number), unit).to("kelvin") + FLOATING.Quantity(float(rise), "kelvin")
    assert float(worth(f"{number} {unit} + {rise} K", told)) == pytest.approx(other.to(told).magnitude, abs=1e-6)


class TestLimits:
    def test_a_limit_follows_the_pump_s_own_figures(self) -> None:
        rule = {"kind": "expression", "lower": "0.2 mm", "upper": "1.5 * as_new_clearance"}
        found = resolve(rule, PUMP)
        assert (found.lower, found.upper, found.unit) == (Decimal("0.2"), Decimal("0.45"), "mm")
        assert found.words == (
            "At least 0.2 mm and at most 0.45 mm = 1.5 * as_new_clearance (as new clearance is 0.3 mm)."
        )

    def test_it_is_told_in_the_unit_the_author_names(self) -> None:
        rule = {"kind": "expression", "upper": "0.001 * impeller_outlet_width", "unit": "um"}
        assert resolve(rule, PUMP).upper == Decimal(12)
        assert check_rule(rule, PUMP_VARIABLES) == "um"

    def test_a_temperature_is_told_in_degrees_celsius(self) -> None:
        found = resolve({"kind": "expression", "upper": "temperature_max + 10 K"}, PUMP)
        assert (found.upper, found.unit) == (Decimal(100), "degC")

    @pytest.mark.parametrize(
        ("rule", "says"),
        [
            ({}, "needs lower, upper or both"),
            ({"upper": "as_new_clearence"}, "Did you mean as_new_clearance"),
            ({"upper": "as_new_clearance", "unit": "K"}, "where K is needed"),
            ({"upper": "10 K", "unit": "degC"}, "where degC is needed"),
            ({"upper": "0.3", "unit": "mm"}, "a plain number, where mm is needed"),
            ({"lower": "0.1 mm", "upper": "80 degC"}, "where mm is needed"),
            ({"upper": "elastomer"}, "A number is needed here"),
            ({"upper": "1 mm * 1 mm * 1 mm * 1 mm"}, "name the unit"),
            ({"upper": "1 mm", "unit": "furlong"}, "not known here"),
            ({"upper": ["1 mm"]}, "is a text"),
            ({"upper": "1 mm", "middle": "2 mm"}, "does not know middle"),
        ],
    )
    def test_what_cannot_be_a_limit_is_refused_before_a_pump_is_known(self, rule: Any, says: str) -> None:
        with pytest.raises(LimitUnresolvable, match=says):
            check_rule({"kind": "expression", **rule}, PUMP_VARIABLES)

    @pytest.mark.parametrize(
        ("upper", "says"),
        [
            ("impeller_diameter / 100", "impeller_diameter_mm is not known"),
            ("1 mm / (as_new_clearance - 0.3 mm) * 1 mm", "cannot be divided"),
        ],
    )
    def test_what_cannot_be_worked_out_for_this_pump_is_said(self, upper: str, says: str) -> None:
        with pytest.raises(LimitUnresolvable, match=says):
            resolve({"kind": "expression", "upper": upper}, PUMP)

    def test_limits_that_cross_for_this_pump_are_refused(self) -> None:
        with pytest.raises(LimitUnresolvable, match="lies above"):
            resolve({"kind": "expression", "lower": "1 mm", "upper": "as_new_clearance"}, PUMP)
