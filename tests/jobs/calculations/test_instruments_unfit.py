"""What an instrument cannot have shown is refused in words that a fitter reads, in the unit of the reading."""

from decimal import Decimal

import pytest

from jobs.calculations.evaluation import Tool, ToolUnfit, evaluate

DIAL = Tool("DI-1", "mm", Decimal(0), Decimal(10), Decimal("0.01"), Decimal("0.01"))
FLAT = Tool("OF-1", "piece", Decimal(0), Decimal(20), Decimal("0.5"), Decimal("0.2"))
THERMOMETER = Tool("TH-1", "degC", Decimal(-20), Decimal(60), Decimal("0.1"), Decimal("0.5"))


@pytest.mark.parametrize(
    ("rule", "readings", "unit", "value_unit", "tool", "words"),
    [
        # 10 mm are 0.3937 in (1 in = 25.4 mm exactly); -20 and 60 °C are -4 and 140 °F (NIST SP 811, B.8).
        ("single", ["0.5"], "in", "mm", DIAL, "Reading 0.5 in is outside the range of DI-1, 0 to 0.3937 in."),
        (
            "total-indicator-reading", ["0", "0.5", "0.1", "0.2"], "in", "mm", DIAL,
            "The readings span 0.5 in, more than the travel of DI-1, 0.3937 in.",
        ),
        ("light-bands", ["25"], "piece", "um", FLAT, "Reading 25 bands is outside the range of OF-1, 0 to 20 bands."),
        ("single", ["300"], "degF", "degC", THERMOMETER, "Reading 300 °F is outside the range of TH-1, -4 to 140 °F."),
    ],
)  # fmt: skip
def test_a_range_is_told_in_the_unit_of_the_reading_with_digits_that_mean_something(
    rule: str, readings: list[str], unit: str, value_unit: str, tool: Tool, words: str
) -> None:
    with pytest.raises(ToolUnfit) as refused:
        evaluate(
            rule=rule, count=len(readings), set_up={}, given={}, readings=[Decimal(one) for one in readings],
            unit=unit, value_unit=value_unit, tools=[tool],
        )  # fmt: skip
    assert str(refused.value) == words
