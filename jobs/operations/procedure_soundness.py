"""Whether a procedure document can be used, found out before anything of it is kept.

A key that is not known is refused: a misspelt ``caution`` must never be lost in silence.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from assets.calculations.units import known_units
from jobs.calculations.conditions import ConditionError, validate
from jobs.calculations.evaluation import check_characteristic
from jobs.calculations.evaluation_rules import SetUpUnusable, reads_with_two
from jobs.calculations.limits import LimitUnresolvable, check_rule
from jobs.calculations.readings import RULES as READING_RULES
from jobs.calculations.verdict import DECISION_RULES
from jobs.models import Procedure, Section, SignalWord
from jobs.queries.job_data import VARIABLES
from services.api.refusals import FieldProblem

COMPUTATIONS = ("lubricant-advice", "bearing-heating")
LARGEST_NUMBER = 2_147_483_647
Wrong = Callable[[str, str], None]


@dataclass(frozen=True)
class Field:
    """A key of a document: the shape of its value, whether it must be there, the longest text it may hold."""

    shape: str
    needed: bool = False
    longest: int = 0


DOCUMENT = {
    "code": Field("text", needed=True, longest=40),
    "title": Field("text", needed=True, longest=200),
    "configuration": Field("text", needed=True, longest=40),
    "revision": Field("number", needed=True),
    "prepared_by": Field("text", longest=120),
    "scope_words": Field("text"),
    "sections": Field("rows", needed=True),
}
SECTION = {"section": Field("text", needed=True), "steps": Field("rows", needed=True)}
STEP = {
    "number": Field("number", needed=True),
    "title": Field("text", needed=True, longest=200),
    "instruction": Field("text", needed=True),
    "signal_word": Field("text"),
    "caution": Field("text"),
    "tools": Field("texts"),
    "consumables": Field("texts"),
    "positions": Field("texts"),
    "conditions": Field("rows"),
    "hold_point": Field("yes_no"),
    "computes": Field("computation"),
    "characteristics": Field("rows"),
}
CHARACTERISTIC = {
    "code": Field("text", needed=True, longest=60),
    "name": Field("text", needed=True, longest=200),
    "quantity": Field("text", needed=True, longest=40),
    "unit": Field("text", needed=True, longest=20),
    "readings": Field("number"),
    "rule": Field("text", needed=True),
    "limits": Field("mapping"),
    "set_up": Field("mapping"),
    "instrument_type": Field("text", needed=True, longest=60),
    "second_instrument_type": Field("text", longest=60),
    "decision_rule": Field("text"),
}
_WORDS = {
    "text": "text",
    "number": f"a whole number from 1 to {LARGEST_NUMBER}",
    "yes_no": "true or false",
    "texts": "a list of texts",
    "rows": "a list of mappings",
    "mapping": "a mapping",
    "computation": f"one of {', '.join(COMPUTATIONS)}, or a mapping with kind",
}


def _has_shape(value: Any, shape: str) -> bool:
    match shape:
        case "text":
            return isinstance(value, str) and "\x00" not in value
        case "number":
            return isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= LARGEST_NUMBER
        case "yes_no":
            return isinstance(value, bool)
        case "texts":
            return isinstance(value, list) and all(_has_shape(one, "text") for one in value)
        case "rows":
            return isinstance(value, list) and all(isinstance(one, Mapping) for one in value)
        case "computation":
            return isinstance(value, str) or _names_one_computation(value)
        case _:
            return isinstance(value, Mapping)


def _names_one_computation(value: Any) -> bool:
    if not isinstance(value, Mapping) or not value:
        return False
    return "kind" in value or (len(value) == 1 and isinstance(next(iter(value.values())), (Mapping, type(None))))


def unsound_places(document: Mapping[str, Any]) -> list[FieldProblem]:
    """Every place of a procedure document that cannot be used, as pointers with what is wrong."""
    found: list[FieldProblem] = []

    def wrong(pointer: str, detail: str) -> None:
        found.append(FieldProblem(pointer, "procedure-unsound", detail))

    _check_shapes(document, wrong)
    if found:
        return found
    configurations = [str(value) for value, _ in Procedure._meta.get_field("configuration").flatchoices]
    if document["configuration"] not in configurations:
        wrong("#/configuration", f"{document['configuration']!r} is none of {', '.join(configurations)}.")
    _check_sections(document["sections"], wrong)
    numbers: set[int] = set()
    for pointer, step in _steps(document):
        if step["number"] in numbers:
            wrong(f"{pointer}/number", f"Step number {step['number']} stands twice.")
        numbers.add(step["number"])
        _check_step(step, pointer, wrong)
    return found


def _check_shapes(document: Mapping[str, Any], wrong: Wrong) -> None:
    """Down to the characteristics; what lies under a wrong shape is not looked at."""
    _check_fields(document, DOCUMENT, "#", wrong)
    for pointer, section in _rows(document, "sections", "#"):
        _check_fields(section, SECTION, pointer, wrong)
        for place, step in _rows(section, "steps", pointer):
            _check_fields(step, STEP, place, wrong)
            for here, asked in _rows(step, "characteristics", place):
                _check_fields(asked, CHARACTERISTIC, here, wrong)


def _check_fields(value: Mapping[str, Any], fields: Mapping[str, Field], pointer: str, wrong: Wrong) -> None:
    for key in value:
        if key not in fields:
            wrong(f"{pointer}/{key}", f"{str(key)[:40]!r} is not known here; known: {', '.join(fields)}.")
    for name, field in fields.items():
        given = value.get(name)
        if given is None or given in ("", [], {}):
            if field.needed:
                wrong(f"{pointer}/{name}", f"{name} is missing.")
        elif not _has_shape(given, field.shape):
            wrong(f"{pointer}/{name}", f"{name} must be {_WORDS[field.shape]}.")
        elif field.longest and len(given) > field.longest:
            wrong(f"{pointer}/{name}", f"{name} has {len(given)} characters; {field.longest} are the most.")


def _rows(value: Mapping[str, Any], name: str, pointer: str) -> Iterator[tuple[str, Mapping[str, Any]]]:
    rows = value.get(name)
    if _has_shape(rows, "rows"):
        yield from ((f"{pointer}/{name}/{place}", one) for place, one in enumerate(rows or []))


def _steps(document: Mapping[str, Any]) -> Iterator[tuple[str, Mapping[str, Any]]]:
    for pointer, section in _rows(document, "sections", "#"):
        yield from _rows(section, "steps", pointer)


def _check_sections(rows: list[Mapping[str, Any]], wrong: Wrong) -> None:
    sections = [str(one["section"]) for one in rows]
    known = [str(one) for one in Section.values]
    for index, section in enumerate(sections):
        if section not in known:
            wrong(f"#/sections/{index}/section", f"{section!r} is none of {', '.join(known)}.")
    ranks = [known.index(one) for one in sections if one in known]
    if ranks != sorted(ranks) or len(set(ranks)) != len(ranks):
        wrong("#/sections", f"Sections must stand once each in the order {', '.join(known)}.")
    if Section.MAKE_SAFE not in sections:
        wrong("#/sections", "There is no section make-safe; every job begins with making safe.")


def _check_step(step: Mapping[str, Any], pointer: str, wrong: Wrong) -> None:
    word = signal_word(step)
    if word not in SignalWord.values:
        wrong(f"{pointer}/signal_word", f"{word!r} is none of danger, warning, caution, notice.")
    if word and not str(step.get("caution") or "").strip():
        wrong(f"{pointer}/caution", "A signal word needs the caution it stands for.")
    if step.get("caution") and not word:
        wrong(f"{pointer}/signal_word", "A caution needs its signal word: danger, warning, caution or notice.")
    try:
        validate(plain(step.get("conditions") or []), VARIABLES)
    except ConditionError as error:
        wrong(f"{pointer}/conditions", str(error))
    computation = computation_of(step)
    if computation and computation["kind"] not in COMPUTATIONS:
        wrong(f"{pointer}/computes", f"{computation['kind']!r} is none of {', '.join(COMPUTATIONS)}.")
    codes: set[str] = set()
    for here, asked in _rows(step, "characteristics", pointer):
        if asked["code"] in codes:
            wrong(f"{here}/code", f"{asked['code']!r} stands twice in this step.")
        codes.add(asked["code"])
        _check_characteristic(asked, here, wrong)


def _check_characteristic(asked: Mapping[str, Any], here: str, wrong: Wrong) -> None:
    if asked["unit"] not in known_units():
        wrong(f"{here}/unit", f"{asked['unit']!r} is no unit known here; known: {', '.join(known_units())}.")
    if asked["rule"] not in READING_RULES:
        wrong(f"{here}/rule", f"{asked['rule']!r} is none of {', '.join(READING_RULES)}.")
    elif asked["unit"] in known_units():
        _check_evaluation(asked, here, wrong)
    if (asked.get("decision_rule") or "guard-band") not in DECISION_RULES:
        wrong(f"{here}/decision_rule", f"{asked['decision_rule']!r} is none of {', '.join(DECISION_RULES)}.")
    try:
        check_rule(plain(asked.get("limits") or {}), VARIABLES)
    except LimitUnresolvable as error:
        wrong(f"{here}/limits", str(error))


def _check_evaluation(asked: Mapping[str, Any], here: str, wrong: Wrong) -> None:
    """The rule with its set-up, how many readings, with which instruments."""
    try:
        check_characteristic(asked["rule"], asked.get("readings") or 1, plain(asked.get("set_up") or {}), asked["unit"])
    except SetUpUnusable as error:
        of_its_own = {"rule", "readings", "unit"}
        wrong(f"{here}/{error.place if error.place in of_its_own else f'set_up/{error.place}'}", str(error))
    if asked.get("second_instrument_type") and not reads_with_two(asked["rule"]):
        wrong(f"{here}/second_instrument_type", f"The rule {asked['rule']} reads with one instrument.")


def signal_word(step: Mapping[str, Any]) -> str:
    """The word over a step's caution, empty where there is none."""
    word = step.get("signal_word") or ""
    return "" if word == "none" else str(word)


def computation_of(step: Mapping[str, Any]) -> dict[str, Any] | None:
    """What a step asks to have worked out, as ``{"kind": ...}`` with its arguments."""
    wanted = step.get("computes")
    if not wanted or wanted == "none":
        return None
    if isinstance(wanted, str):
        return {"kind": wanted}
    if "kind" in wanted:
        return dict(plain(wanted))
    kind, arguments = next(iter(wanted.items()))
    return {"kind": kind, **plain(arguments or {})}


def plain(value: Any) -> Any:
    """YAML's values as JSON has them: floats and dates as the text that was written."""
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(one) for one in value]
    if isinstance(value, bool) or value is None or isinstance(value, (int, str)):
        return value
    return str(value)
