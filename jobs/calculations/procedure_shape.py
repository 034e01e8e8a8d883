"""Whether a procedure document has the form it must have, and the one form in which it is kept and compared."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError

from jobs.calculations.procedure_format import CHARACTERISTIC, CONSUMABLE, PHOTO, SCHEMA, SECTION, STEP
from jobs.calculations.pump_variables import nearest

_VALIDATOR = Draft202012Validator(SCHEMA)
_TYPES = {
    "string": "text",
    "integer": "a whole number",
    "boolean": "true or false",
    "array": "a list",
    "object": "a mapping",
}
_EMPTY: tuple[Any, ...] = (None, "", [], {})


@dataclass(frozen=True)
class Finding:
    """Something about a place of a document. ``stops``: ``draft`` it cannot be kept so, ``review`` it cannot be handed
    in for review so, empty for a warning."""

    pointer: str
    code: str
    sentence: str
    stops: str = ""

    @property
    def severity(self) -> str:
        return "error" if self.stops else "warning"


def shape_findings(document: Any) -> list[Finding]:
    """Places that do not have the form of `procedure_format.SCHEMA`; empty values count as left out."""
    if not isinstance(document, Mapping):
        return [Finding("#", "shape", "A procedure is a mapping of named fields.", "draft")]
    found: dict[tuple[str, str], Finding] = {}
    for error in _VALIDATOR.iter_errors(without_empty(document)):
        for pointer, sentence in _said(error):
            found.setdefault((pointer, sentence), Finding(pointer, "shape", sentence, "draft"))
    return sorted(found.values(), key=lambda one: one.pointer)


def pointer_to(path: Iterator[Any] | list[Any]) -> str:
    """A JSON Pointer (RFC 6901) as a URI fragment, from keys and indices."""
    return "#" + "".join(f"/{str(one).replace('~', '~0').replace('/', '~1')}" for one in path)


def _said(error: ValidationError) -> Iterator[tuple[str, str]]:
    path, instance, wanted = list(error.absolute_path), error.instance, error.validator_value
    name = str(path[-1]) if path else "the document"
    match error.validator:
        case "additionalProperties":
            known = list(error.schema["properties"])
            for key in instance:
                if key not in known:
                    shown = str(key)[:40]
                    sentence = f"{shown!r} is not known here.{nearest(shown, known)} Known: {', '.join(known)}."
                    yield pointer_to([*path, key]), sentence
        case "required":
            for key in wanted:
                if key not in instance:
                    yield pointer_to([*path, key]), f"{key} is missing."
        case "type":
            kinds = [wanted] if isinstance(wanted, str) else wanted
            yield pointer_to(path), f"{name} must be {' or '.join(_TYPES[one] for one in kinds)}."
        case "enum":
            words = [str(one) for one in wanted]
            near = nearest(str(instance), words)
            yield pointer_to(path), f"{str(instance)[:60]!r} is none of {', '.join(words)}.{near}"
        case "maxLength":
            yield pointer_to(path), f"{name} has {len(instance)} characters; {wanted} are the most."
        case "minimum" | "maximum":
            ends = f"{error.schema['minimum']} to {error.schema['maximum']}"
            yield pointer_to(path), f"{name} is {instance}; it must be from {ends}."
        case "pattern":
            yield pointer_to(path), f"{name} holds a NUL character." if "\x00" in instance else f"{name} is blank."
        case _:
            yield pointer_to(path), f"{name} is empty."


def rows_of(value: Any, name: str, pointer: str) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """The mappings in a list of a mapping, each with its pointer."""
    for place, one in enumerate(value.get(name) or []):
        yield f"{pointer}/{name}/{place}", one


def steps_of(document: Mapping[str, Any]) -> Iterator[tuple[str, str, Mapping[str, Any]]]:
    """(pointer, section, step) of every step."""
    for pointer, section in rows_of(document, "sections", "#"):
        for place, step in rows_of(section, "steps", pointer):
            yield place, str(section["section"]), step


def without_empty(document: Mapping[str, Any]) -> dict[str, Any]:
    """The document without known keys that hold nothing; keys that are not known stay, to be refused."""
    found = _pruned(document, SCHEMA)
    found["sections"] = _each(found.get("sections"), _section_without_empty)
    return {key: value for key, value in found.items() if key != "sections" or value is not None}


def _section_without_empty(section: Mapping[str, Any]) -> dict[str, Any]:
    found = _pruned(section, SECTION)
    if "steps" in found:
        found["steps"] = _each(found["steps"], _step_without_empty)
    return found


def _step_without_empty(step: Mapping[str, Any]) -> dict[str, Any]:
    found = _pruned(step, STEP)
    for name, schema in (("characteristics", CHARACTERISTIC), ("consumables", CONSUMABLE), ("photos", PHOTO)):
        if name in found:
            found[name] = _each(found[name], partial(_pruned, schema=schema))
    return found


def _pruned(value: Mapping[str, Any], schema: Mapping[str, Any]) -> dict[str, Any]:
    return {key: one for key, one in value.items() if key not in schema["properties"] or one not in _EMPTY}


def _each(value: Any, change: Any) -> Any:
    if not isinstance(value, list):
        return value
    return [change(one) if isinstance(one, Mapping) else one for one in value]


def plain(value: Any) -> Any:
    """YAML's values as JSON has them: floats and dates as the text that was written."""
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(one) for one in value]
    if isinstance(value, bool) or value is None or isinstance(value, (int, str)):
        return value
    return str(value)


def signal_word(step: Mapping[str, Any]) -> str:
    """The word over a step's caution, empty where there is none."""
    word = step.get("signal_word") or ""
    return "" if word == "none" else str(word)


def computation_of(step: Mapping[str, Any]) -> dict[str, Any] | None:
    """What a step asks to have worked out, as ``{"kind": ...}`` with its arguments; None for nothing or nonsense."""
    wanted = step.get("computes")
    if not wanted or wanted == "none":
        return None
    if isinstance(wanted, str):
        return {"kind": wanted}
    if "kind" in wanted:
        return dict(plain(wanted))
    kind, arguments = next(iter(wanted.items()))
    return {"kind": str(kind), **(plain(arguments) if isinstance(arguments, Mapping) else {})}
