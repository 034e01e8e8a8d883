"""What is wrong or doubtful about a procedure document, each with its place and a sentence.

Findings that stop a draft are things the service could not work with: an unknown key, variable or unit. Those that
stop a review are gaps a workshop would not let pass: see `procedure_trade_rules`. The rest are warnings.
"""

from collections.abc import Collection, Mapping
from typing import Any

from assets.calculations.units import dimension_of, known_units
from jobs.calculations.condition_reach import reach
from jobs.calculations.conditions import ConditionError, as_tree, validate
from jobs.calculations.evaluation import problems_of_evaluation
from jobs.calculations.expression_values import doubtful_words
from jobs.calculations.limits import LimitUnresolvable, check_rule
from jobs.calculations.procedure_format import COMPUTATIONS, QUANTITIES, SECTIONS
from jobs.calculations.procedure_shape import (
    Finding,
    computation_of,
    plain,
    rows_of,
    shape_findings,
    signal_word,
    steps_of,
    without_empty,
)
from jobs.calculations.procedure_trade_rules import trade_findings
from jobs.calculations.pump_variables import PUMP_VARIABLES, nearest
from jobs.calculations.readings import RULES as READING_RULES

DRAFT, REVIEW = "draft", "review"
MOST_STEPS, MOST_TRIES = 500, 30_000
_HEATING_NEEDS = ("bore_from", "room_temperature_from")


def findings(document: Any, known_positions: Collection[str] = ()) -> list[Finding]:
    """Everything found, in the order of the document. ``known_positions``: none are checked where it is empty.

    A document without the right form is looked at no further than its form.
    """
    found = shape_findings(document)
    if found:
        return found
    whole = without_empty(document)
    count = sum(1 for _ in steps_of(whole))
    if count > MOST_STEPS:
        return [Finding("#/sections", "shape", f"There are {count} steps; {MOST_STEPS} are the most.", DRAFT)]
    tries = _Tries()
    found = [
        *_sections(whole),
        *_numbers(whole),
        *(one for place in steps_of(whole) for one in _step(whole, *place, known_positions, tries)),
        *_computations(whole),
        *trade_findings(whole),
    ]
    order = {pointer: place for place, (pointer, _, _) in enumerate(steps_of(whole), start=1)}
    return sorted(found, key=lambda one: order.get("/".join(one.pointer.split("/")[:5]), 0))


class _Tries:
    """How many combinations of pumps may still be tried for one document, so that a check ends soon."""

    def __init__(self) -> None:
        self.left = MOST_TRIES


def _sections(document: Mapping[str, Any]) -> list[Finding]:
    sections = [str(one["section"]) for one in document["sections"]]
    ranks = [SECTIONS.index(one) for one in sections]
    found = []
    if ranks != sorted(set(ranks)):
        order = ", ".join(SECTIONS)
        found.append(Finding("#/sections", "sections", f"Sections must stand once each in the order {order}.", DRAFT))
    if "make-safe" not in sections:
        sentence = "There is no section make-safe; every job begins with making safe."
        found.append(Finding("#/sections", "no-make-safe", sentence, DRAFT))
    return found


def _numbers(document: Mapping[str, Any]) -> list[Finding]:
    found, seen, last = [], set(), 0
    for pointer, _, step in steps_of(document):
        number = int(step["number"])
        if number in seen:
            sentence = f"Step number {number} stands twice."
            found.append(Finding(f"{pointer}/number", "number-twice", sentence, DRAFT))
        elif number < last:
            sentence = f"Step {number} comes after step {last}: numbers rise, since steps are done in their order."
            found.append(Finding(f"{pointer}/number", "number-falls", sentence, DRAFT))
        seen.add(number)
        last = max(last, number)
    return found


def _step(
    document: Mapping[str, Any],
    pointer: str,
    section: str,
    step: Mapping[str, Any],
    positions: Collection[str],
    tries: _Tries,
) -> list[Finding]:
    found: list[Finding] = []
    word, caution = signal_word(step), step.get("caution")
    if word and not caution:
        sentence = "A signal word needs the caution it stands for."
        found.append(Finding(f"{pointer}/caution", "caution-missing", sentence, DRAFT))
    if caution and not word:
        sentence = "A caution needs its signal word: danger, warning, caution or notice."
        found.append(Finding(f"{pointer}/signal_word", "signal-word-missing", sentence, DRAFT))
    found += _conditions(document, pointer, step, tries)
    for place, role in enumerate(step.get("positions") or []):
        if positions and role not in positions:
            sentence = f"{role!r} is no role of a position known here.{nearest(role, positions)}"
            found.append(Finding(f"{pointer}/positions/{place}", "position-unknown", sentence))
    if step.get("look_at") and not step.get("hold_point"):
        sentence = "look_at belongs to a hold point; set hold_point, or leave it out."
        found.append(Finding(f"{pointer}/look_at", "look-at-without-hold-point", sentence, DRAFT))
    codes: set[str] = set()
    for here, asked in rows_of(step, "characteristics", pointer):
        if asked["code"] in codes:
            sentence = f"{asked['code']!r} stands twice in this step."
            found.append(Finding(f"{here}/code", "code-twice", sentence, DRAFT))
        codes.add(asked["code"])
        found += _characteristic(asked, here)
    return found


def _conditions(document: Mapping[str, Any], pointer: str, step: Mapping[str, Any], tries: _Tries) -> list[Finding]:
    conditions = plain(step.get("conditions") or [])
    found: list[Finding] = []
    for place, one in enumerate(conditions):
        here = f"{pointer}/conditions/{place}"
        try:
            validate([one], PUMP_VARIABLES)
            found += [Finding(here, "word-doubtful", sentence) for sentence in doubtful_words(as_tree(one))]
        except ConditionError as error:
            found.append(Finding(here, "condition", str(error), DRAFT))
    if not conditions or any(one.stops for one in found):
        return found
    met = reach(conditions, {"configuration": str(document["configuration"])}, tries.left)
    tries.left -= met.tried
    if not met.possible:
        sentence = f"Step {step['number']} is never reached: no {document['configuration']} pump meets its conditions."
        found.append(Finding(f"{pointer}/conditions", "never-reached", sentence, REVIEW))
    elif met.certain:
        sentence = f"The conditions hold for every {document['configuration']} pump; leave them out."
        found.append(Finding(f"{pointer}/conditions", "always-reached", sentence))
    return found


def _characteristic(asked: Mapping[str, Any], here: str) -> list[Finding]:
    found: list[Finding] = []
    quantity, unit = str(asked["quantity"]), str(asked["unit"])
    if quantity not in QUANTITIES:
        sentence = f"{quantity!r} is no quantity known here.{nearest(quantity, QUANTITIES)}"
        found.append(Finding(f"{here}/quantity", "quantity-unknown", sentence))
    elif dimension_of(unit) != dimension_of(QUANTITIES[quantity]):
        sentence = f"{unit} does not measure a {quantity}; use {QUANTITIES[quantity]}, for example."
        found.append(Finding(f"{here}/unit", "unit-does-not-match", sentence, DRAFT))
    measurable = not any(one.stops == DRAFT for one in found)
    if measurable and asked["rule"] in READING_RULES and unit in known_units():
        found += [
            Finding(f"{here}/{place}", "evaluation", sentence, DRAFT)
            for place, sentence in problems_of_evaluation({**asked, "set_up": plain(asked.get("set_up") or {})})
        ]
    limits = plain(asked.get("limits") or {})
    try:
        of_limits = check_rule(limits, PUMP_VARIABLES)
    except LimitUnresolvable as error:
        return [*found, Finding(f"{here}/limits", "limits", str(error), DRAFT)]
    if of_limits in known_units() and dimension_of(of_limits) != dimension_of(unit):
        sentence = f"The limits are in {of_limits}, the characteristic in {unit}; they do not measure the same thing."
        found.append(Finding(f"{here}/limits", "unit-does-not-match", sentence, DRAFT))
    return found


def _computations(document: Mapping[str, Any]) -> list[Finding]:
    found: list[Finding] = []
    measured: set[str] = set()
    for pointer, _, step in steps_of(document):
        wanted, here = step.get("computes"), f"{pointer}/computes"
        if isinstance(wanted, Mapping) and "kind" not in wanted and not _one_mapping(wanted):
            found.append(Finding(here, "computation", "computes is a kind, or a mapping with kind.", DRAFT))
            continue
        computation = computation_of(step)
        if computation and computation["kind"] not in COMPUTATIONS:
            sentence = f"{computation['kind']!r} is none of {', '.join(COMPUTATIONS)}."
            found.append(Finding(here, "computation", sentence, DRAFT))
        elif computation and computation["kind"] == "bearing-heating":
            for key in _HEATING_NEEDS:
                code = computation.get(key)
                if not isinstance(code, str):
                    sentence = f"bearing-heating needs {key}, the code of a characteristic."
                    found.append(Finding(here, "computation", sentence, DRAFT))
                elif code not in measured:
                    sentence = f"{key}: no earlier step measures {code!r}.{nearest(code, measured)}"
                    found.append(Finding(here, "not-measured-before", sentence, REVIEW))
        measured |= {str(asked["code"]) for asked in step.get("characteristics") or []}
    return found


def _one_mapping(wanted: Mapping[str, Any]) -> bool:
    return len(wanted) == 1 and isinstance(next(iter(wanted.values())), (Mapping, type(None)))
