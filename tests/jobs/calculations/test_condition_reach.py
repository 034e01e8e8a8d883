"""Whether conditions can hold at all, held against pumps tried one by one."""

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.condition_reach import reach
from jobs.calculations.conditions import applies

FIXED = {"configuration": "close-coupled"}


@pytest.mark.parametrize(
    ("conditions", "possible", "certain"),
    [
        ([], True, True),
        (['elastomer = "EPDM"', 'elastomer = "NBR"'], False, False),
        (['elastomer = "EPDM"', 'elastomer != "EPDM"'], False, False),
        (['elastomer != "EPDM" and elastomer != "NBR"'], True, False),
        (['kit_elastomers = "EPDM"', 'kit_elastomers = "NBR"'], True, False),
        (['kit_elastomers = "EPDM"', 'kit_elastomers != "EPDM"'], False, False),
        (["temperature_max > 80 degC and temperature_max <= 80 degC"], False, False),
        (["temperature_max > 80 degC or temperature_max <= 80 degC"], True, True),
        (["temperature_max > 80 degC and temperature_max < 176 degF"], False, False),
        (["temperature_max > 80 degC and temperature_max < 177 degF"], True, False),
        (['configuration = "in-line"'], False, False),
        ([{"of": "configuration", "one_of": ["close-coupled"]}], True, True),
        ([{"of": "rated_speed_rpm", "at_least": 2000}, {"of": "rated_speed_rpm", "at_most": 1999}], False, False),
        ([{"of": "rated_speed_rpm", "at_least": 2000}, "rated_speed <= 2000 rpm"], True, False),
        (["rated_power < 0 kW"], False, False),
        (["rated_power > 0 kW"], True, True),
        (['seal_type != "packed" and seal_type != "mechanical"'], False, False),
        (['seal_type in ("packed", "mechanical")'], True, True),
        # Variables held against each other cannot be told apart without a pump.
        (["impeller_diameter > 2 * shaft_diameter_at_seal"], True, False),
        (['impeller_diameter > 2 * shaft_diameter_at_seal and elastomer = "NBR" and elastomer = "CR"'], False, False),
    ],
)
def test_a_step_that_no_pump_meets_is_found(conditions: list[Any], possible: bool, certain: bool) -> None:
    found = reach(conditions, FIXED)
    assert (found.possible, found.certain) == (possible, certain)


def test_conditions_over_very_many_cases_are_taken_to_be_met_by_some() -> None:
    many = [
        f"temperature_max > {one} degC or rated_power > {one} kW or rated_speed > {one} rpm" for one in range(1, 18)
    ]
    assert reach(many, FIXED).tried == 0
    assert reach(many, FIXED).possible


SIGNS = st.sampled_from(["=", "!="])
LEAVES = st.one_of(
    st.builds(
        "temperature_max {} {} degC".format,
        st.sampled_from(["<", "<=", "=", "!=", ">=", ">"]),
        st.sampled_from([60, 80]),
    ),
    st.builds('elastomer {} "{}"'.format, SIGNS, st.sampled_from(["EPDM", "NBR"])),
    st.builds('kit_elastomers {} "{}"'.format, SIGNS, st.sampled_from(["FKM", "NBR"])),
    st.sampled_from(['seal_type = "packed"', 'configuration = "in-line"', 'configuration != "in-line"']),
)
CONDITIONS = st.recursive(
    LEAVES,
    lambda inner: st.one_of(
        st.builds("({} and {})".format, inner, inner),
        st.builds("({} or {})".format, inner, inner),
        st.builds("not ({})".format, inner),
    ),
    max_leaves=6,
)
PUMPS = [
    {"configuration": "close-coupled", "temperature_max_c": Decimal(hot), "elastomer": elastomer, "seal_type": seal,
     "kit_elastomers": brought}
    for hot in (20, 60, 70, 80, 95)
    for elastomer in ("EPDM", "NBR", "VMQ")
    for seal in ("packed", "mechanical")
    for brought in ([], ["FKM"], ["NBR"], ["FKM", "NBR"])
]  # fmt: skip


@given(CONDITIONS)
def test_it_agrees_with_every_pump_tried(text: str) -> None:
    met = [applies([text], pump)[0] for pump in PUMPS]
    found = reach([text], FIXED)
    assert (found.possible, found.certain) == (any(met), all(met))
