"""Procedures made up by Hypothesis: any sound form, with every key there is, used or left out."""

from typing import Any

from hypothesis import strategies as st

from assets.calculations.units import known_units
from jobs.calculations.procedure_format import (
    ACHIEVEMENTS,
    CONSUMABLE_KINDS,
    SECTIONS,
    SIGNAL_WORDS,
)
from jobs.calculations.pump_variables import CONFIGURATIONS
from jobs.calculations.verdict import DECISION_RULES

# Texts as people and machines write them: lines, spaces at the ends, signs that YAML reads in its own way.
TEXTS = st.one_of(
    st.sampled_from(["yes", "no", "null", "12", "1.50", "2026-01-31", "- a", "a: b", "# a", "~", "'", '"', "%", "|"]),
    st.text(st.characters(exclude_characters="\x00", exclude_categories=["Cs"]), min_size=1, max_size=30),
    st.lists(
        st.sampled_from(["seal", "shaft", "°C", "\n", "  ", "O-ring", "\t", "0.10 mm"]), min_size=1, max_size=60
    ).map(" ".join),
).filter(lambda text: text.strip() != "" and len(text) <= 200)
CODES = TEXTS.filter(lambda text: len(text) <= 40)
CONDITIONS = st.one_of(
    st.sampled_from(['elastomer = "EPDM"', "temperature_max > 80 degC\nand shaft_diameter_at_seal >= 40 mm"]),
    st.fixed_dictionaries({"of": st.just("seal_type"), "one_of": st.just(["packed"])}),
    st.fixed_dictionaries({"of": st.just("temperature_max_c"), "at_least": st.integers(0, 90)}),
)
LIMITS: Any = st.one_of(
    st.just({}),
    st.fixed_dictionaries({"kind": st.just("numbers"), "upper": st.sampled_from(["0.10", 3, 0.05])}),
    st.just({"kind": "expression", "upper": "1.5 * as_new_clearance"}),
    st.just({"iso-286": {"class": "k5", "nominal": 40}}),
)


def some(items: Any) -> Any:
    return st.lists(items, max_size=3)


CHARACTERISTICS: Any = st.fixed_dictionaries(
    {
        "code": CODES,
        "name": TEXTS,
        "quantity": st.sampled_from(["length", "colour"]),
        "unit": st.sampled_from(known_units()),
        "rule": st.sampled_from(("single", "mean", "max", "min")),
        "instrument_type": CODES,
    },
    optional={
        "limits": LIMITS,
        "decision_rule": st.sampled_from(DECISION_RULES),
    },
) | st.just(
    {
        "code": "ring-clearance", "name": "Clearance at the wear ring", "quantity": "length", "unit": "mm",
        "readings": 2, "rule": "diametral-clearance",
        "set_up": {"bore_material": "bronze", "shaft_material": "steel"}, "instrument_type": "bore-gauge",
        "second_instrument_type": "outside-micrometer",
    }
)  # fmt: skip
CONSUMABLES = TEXTS | st.fixed_dictionaries(
    {"name": TEXTS}, optional={"kind": st.sampled_from(CONSUMABLE_KINDS), "note": TEXTS}
)
PHOTOS = TEXTS | st.fixed_dictionaries({"shows": TEXTS}, optional={"needed": st.booleans() | st.none()})


@st.composite
def steps(draw: Any, number: int) -> dict[str, Any]:
    step = draw(
        st.fixed_dictionaries(
            {"title": TEXTS, "instruction": TEXTS},
            optional={
                "achieves": some(st.sampled_from(ACHIEVEMENTS)),
                "tools": some(TEXTS),
                "consumables": some(CONSUMABLES),
                "positions": some(CODES),
                "conditions": some(CONDITIONS),
                "photos": some(PHOTOS),
                "computes": st.sampled_from(["lubricant-advice", None, {"kind": "lubricant-advice"}]),
                "characteristics": st.lists(CHARACTERISTICS, max_size=2, unique_by=lambda one: one["code"]),
                "signal_word": st.sampled_from(["", "none", None]),
            },
        )
    )
    step["number"] = number
    if draw(st.booleans()):
        step |= {"signal_word": draw(st.sampled_from(SIGNAL_WORDS)), "caution": draw(TEXTS)}
    if draw(st.booleans()):
        step |= {"hold_point": True, "look_at": draw(TEXTS)}
    return step


@st.composite
def procedures(draw: Any) -> dict[str, Any]:
    """A document that can be kept: sections in order, numbers that rise."""
    chosen = ["make-safe", *draw(st.lists(st.sampled_from(SECTIONS[1:]), unique=True, max_size=3))]
    number, sections = 0, []
    for section in sorted(chosen, key=SECTIONS.index):
        rows = []
        for _ in range(draw(st.integers(1, 2))):
            number += draw(st.integers(1, 20))
            rows.append(draw(steps(number)))
        sections.append({"section": section, "steps": rows})
    head = draw(
        st.fixed_dictionaries(
            {"code": CODES, "title": TEXTS, "revision": st.integers(1, 99)},
            optional={"prepared_by": CODES, "scope_words": TEXTS},
        )
    )
    return {**head, "configuration": draw(st.sampled_from(CONFIGURATIONS)), "sections": sections}
