"""Whatever is sent is judged or refused with its field, never anything else."""

from decimal import Decimal
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from assets.calculations.units import known_units
from jobs.calculations.evaluation import Tool, check_characteristic
from jobs.calculations.evaluation_rules import RULES_OF_EVALUATION, SetUpUnusable
from jobs.calculations.shaft_alignment import PLACES
from jobs.calculations.verdict import DECISION_RULES
from jobs.queries.judging import Asked, judge_readings, same_as_kept
from jobs.refusals import InstrumentUnfit, ReadingUnusable
from services.api.rendering import to_json

GIVEN = sorted({one.name for rule in RULES_OF_EVALUATION.values() for one in rule.given})
GROUPS = sorted({one.name for rule in RULES_OF_EVALUATION.values() for one in rule.groups if one.name})
any_number = st.decimals(min_value=-(10**11), max_value=10**11, places=6, allow_nan=False)
number = st.decimals(min_value=-2, max_value=200, places=4) | any_number
rows = st.lists(number, min_size=1, max_size=5)
by_place = st.dictionaries(st.sampled_from([*PLACES, "above"]), number, min_size=1)
readings = rows | by_place | st.dictionaries(st.sampled_from(GROUPS), rows | by_place | number, min_size=1)
texts = number.map(str) | st.sampled_from(
    ["steel", "bronze", "movable", "stationary", "offset", "x", "NaN", "1e-9", ""]
)
values = st.dictionaries(st.sampled_from([*GIVEN, "strange"]), texts, max_size=6)
units = st.sampled_from(["mm", "um", "in", "piece", "mm/100mm", "degC", "m", "MPa", "furlong"])
tools = st.builds(
    lambda unit, low, width, step, wide: Tool("T-1", unit, low, low + width, step, wide),
    st.sampled_from(["mm", "um", "in", "piece", "degC"]),
    st.decimals(min_value=-(10**7), max_value=100, places=3),
    st.decimals(min_value="0.001", max_value=10**7, places=3),
    st.decimals(min_value=0, max_value=10**7, places=6),
    st.decimals(min_value=0, max_value=10**7, places=6),
)
limit = st.none() | number


def full(rule: str, count: int) -> st.SearchStrategy[Any]:
    """Readings of the right shape, of any size."""
    groups = RULES_OF_EVALUATION[rule].groups
    alike = st.lists(number, min_size=count, max_size=count)
    turn = st.builds(
        lambda right, bottom: [Decimal(0), right, bottom, bottom - right],
        st.decimals(min_value=-1, max_value=1, places=3),
        st.decimals(min_value=-1, max_value=1, places=3),
    )
    if groups[0].name:
        return st.fixed_dictionaries({one.name: turn if one.places else alike for one in groups})
    return alike


def needed(rule: str) -> st.SearchStrategy[dict[str, str]]:
    asked = [one.name for one in RULES_OF_EVALUATION[rule].given if one.default is None and not one.optional]
    return st.fixed_dictionaries({name: number.map(lambda one: str(abs(one) + 1)) for name in asked})


def as_it_should_be(rule: str) -> tuple[str, str, Tool]:
    """Units and an instrument that suit a rule."""
    unit, value_unit = ("piece", "um") if rule == "light-bands" else ("mm", "mm")
    wide = Decimal(10) ** 12
    return unit, value_unit, Tool("T-1", "um" if unit == "piece" else unit, -wide, wide, Decimal("0.001"), Decimal(1))


@settings(max_examples=400)
@given(st.data(), st.sampled_from(sorted(RULES_OF_EVALUATION)))
def test_anything_is_judged_or_refused_by_name(data: st.DataObject, rule: str) -> None:
    unit, value_unit, tool = as_it_should_be(rule)
    count, used = 1 if rule == "single" else data.draw(st.integers(min_value=2, max_value=4)), [tool]
    count = 4 if RULES_OF_EVALUATION[rule].groups[0].places else count
    sent, said = data.draw(full(rule, count)), data.draw(needed(rule))
    match data.draw(st.sampled_from(["nothing", "readings", "values", "unit", "value_unit", "tools", "count"])):
        case "readings":
            sent = data.draw(readings)
        case "values":
            said = said | data.draw(values)
        case "unit":
            unit = data.draw(units)
        case "value_unit":
            value_unit = data.draw(units)
        case "tools":
            used = data.draw(st.lists(tools, min_size=1, max_size=2))
        case "count":
            count = data.draw(st.integers(min_value=1, max_value=5))
    lower, upper = data.draw(limit), data.draw(limit)
    if lower is not None and upper is not None and lower > upper:
        lower, upper = upper, lower
    asked = Asked(
        name="A thing",
        rule=rule,
        readings=count,
        set_up={},
        unit=value_unit if value_unit in known_units() else "mm",
        lower=lower,
        upper=upper,
        decision_rule=data.draw(st.sampled_from(DECISION_RULES)),
    )
    try:
        check_characteristic(rule, asked.readings, {}, asked.unit)
    except SetUpUnusable:
        return
    found, refused = None, None
    try:
        found = judge_readings(asked, tools=used, overdue=(), readings=sent, unit=unit, given=said)
    except (ReadingUnusable, InstrumentUnfit) as error:
        refused = error
    if found is None:
        assert refused is not None
        assert [one.pointer[:2] for one in refused.problems] == ["#/"]
        return
    kept = found.columns
    assert to_json(kept)
    assert kept["verdict"] in {"accept", "reject", "not-proved"}
    assert abs(kept["value"]) < 10**12
    assert kept["expanded_uncertainty"] >= 0
    assert kept["coverage_factor"] >= 2
    assert same_as_kept(asked, kept["readings"], kept["given"], sent, said)


@given(st.data(), st.sampled_from(sorted(RULES_OF_EVALUATION)), st.decimals(min_value="0.001", max_value=5, places=3))
def test_a_narrower_instrument_never_proves_less(data: st.DataObject, rule: str, wide: Decimal) -> None:
    count = data.draw(st.integers(min_value=2, max_value=4)) if rule != "single" else 1
    size = st.decimals(min_value="49.9", max_value="50.1", places=3)
    groups = RULES_OF_EVALUATION[rule].groups
    level = st.just([Decimal(0), Decimal("0.01"), Decimal("0.02"), Decimal("0.01")])
    each = level if groups[0].places else st.lists(size, min_size=count, max_size=count)
    sent: Any = data.draw(st.fixed_dictionaries({one.name: each for one in groups}) if groups[0].name else each)
    unit, value_unit = ("piece", "um") if rule == "light-bands" else ("mm", "mm")
    asked = Asked("A thing", rule, count, {}, value_unit, None, Decimal("50.0"), "guard-band")
    said = {one.name: "20" for one in RULES_OF_EVALUATION[rule].given if one.default is None and not one.optional}
    if not groups[0].places:
        # A scatter of few readings asks for a larger factor the more it rules, so instruments alone are compared.
        alike = {name: [rows[0]] * count for name, rows in (sent.items() if isinstance(sent, dict) else [("", sent)])}
        sent = alike if isinstance(sent, dict) else alike[""]
    verdicts = [
        judge_readings(
            asked,
            tools=[Tool("T-1", unit, Decimal(0), Decimal(300), Decimal("0.001"), figure)],
            overdue=(),
            readings=sent,
            unit=unit,
            given=said,
        ).verdict.result
        for figure in (wide / 2, wide)
    ]
    assert verdicts[1] in {verdicts[0], "not-proved"}
