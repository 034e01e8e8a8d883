"""The format of a procedure as it is written in a file: its keys, its words, and its JSON Schema (draft 2020-12)."""

from typing import Any

from assets.calculations.units import known_units
from jobs.calculations.limits import KINDS
from jobs.calculations.pump_variables import CONFIGURATIONS
from jobs.calculations.readings import RULES as READING_RULES
from jobs.calculations.verdict import DECISION_RULES

SECTIONS = ("make-safe", "dismantle", "clean-and-inspect", "assemble", "close-up", "test")
# After ANSI Z535.4 and ISO 3864-2: danger will kill or maim, warning can, caution can hurt, notice is for things.
SIGNAL_WORDS = ("danger", "warning", "caution", "notice")
CONSUMABLE_KINDS = ("lubricant", "cleaner", "sealant", "adhesive", "cloth", "protection", "other")
COMPUTATIONS = ("lubricant-advice", "bearing-heating")
# What a step brings about that the order of a job hangs on.
ACHIEVEMENTS = (
    "isolate", "lock-and-tag", "prove-dead", "depressurise", "drain", "cool", "guards-off", "guards-on",
    "prove-direction", "start",
)  # fmt: skip
# Quantities by name, with a unit that measures them.
QUANTITIES = {
    "length": "mm", "temperature": "degC", "temperature-difference": "K", "pressure": "bar", "torque": "N*m",
    "velocity": "mm/s", "rotational-speed": "rpm", "force": "N", "mass": "kg", "time": "h", "angle": "deg",
    "flow": "m3/h", "volume": "L", "power": "kW", "current": "A", "voltage": "V", "unbalance": "g*mm",
    "count": "piece", "ratio": "%", "slope": "mm/m",
}  # fmt: skip
LARGEST_NUMBER, MOST_READINGS = 2_147_483_647, 200
ADDRESS = "https://json-schema.org/draft/2020-12/schema"
# Something to read in it, and no NUL: a database cannot hold that.
_TEXT = "^(?=[\\s\\S]*\\S)[^\\u0000]*$"


def _text(says: str, longest: int = 0, **more: Any) -> dict[str, Any]:
    found: dict[str, Any] = {"type": "string", "minLength": 1, "pattern": _TEXT, "description": says}
    return {**found, **({"maxLength": longest} if longest else {}), **more}


def _one_of(words: tuple[str, ...] | list[str], says: str) -> dict[str, Any]:
    return {"type": "string", "enum": list(words), "description": says}


def _list(items: dict[str, Any], says: str) -> dict[str, Any]:
    return {"type": "array", "items": items, "description": says}


def _number(says: str, most: int = LARGEST_NUMBER) -> dict[str, Any]:
    return {"type": "integer", "minimum": 1, "maximum": most, "description": says}


def _mapping(properties: dict[str, Any], needed: tuple[str, ...], says: str, **more: Any) -> dict[str, Any]:
    found = {"type": "object", "description": says, "properties": properties, "required": list(needed)}
    return {**found, "additionalProperties": False, **more}


CHARACTERISTIC = _mapping(
    {
        "code": _text("Stands once in its step; results are found by it.", 60),
        "name": _text("What is measured, in words.", 200),
        "quantity": _text(f"What kind of thing: {', '.join(QUANTITIES)}.", 40),
        "unit": _one_of(known_units(), "The unit in which it is judged."),
        "readings": _number("How many readings are taken; 1 where left out.", MOST_READINGS),
        "rule": _one_of(list(READING_RULES), "How readings become the value."),
        "limits": {
            "type": "object",
            "description": f"A kind ({', '.join(KINDS)}) with its figures; nothing is judged where left out.",
        },
        "set_up": {"type": "object", "description": "What the rule must know besides readings; see docs/measuring.md."},
        "instrument_type": _text("With what it is measured, as instruments are registered.", 60),
        "second_instrument_type": _text("With what the other of two sizes is measured, where the rule has two.", 60),
        "decision_rule": _one_of(list(DECISION_RULES), "guard-band where left out."),
    },
    ("code", "name", "quantity", "unit", "rule", "instrument_type"),
    "What the step has measured.",
)
CONSUMABLE = {
    **_mapping(
        {
            "name": _text("What it is.", 200),
            "kind": _one_of(CONSUMABLE_KINDS, "other where left out."),
            "note": _text("Where or how it is used.", 500),
        },
        ("name",),
        "A text alone is the name of something of kind other.",
    ),
    "type": ["string", "object"],
    "minLength": 1,
    "maxLength": 200,
    "pattern": _TEXT,
}
PHOTO = {
    **_mapping(
        {
            "shows": _text("What must be seen on it.", 300),
            "needed": {"type": "boolean", "description": "true where left out."},
        },
        ("shows",),
        "A text alone is what a needed photo shows.",
    ),
    "type": ["string", "object"],
    "minLength": 1,
    "maxLength": 300,
    "pattern": _TEXT,
}
STEP = _mapping(
    {
        "number": _number("Stands once; numbers rise through the document."),
        "title": _text("The step in a line.", 200),
        "instruction": _text("What to do."),
        "signal_word": _one_of(
            [*SIGNAL_WORDS, "none"], "How grave the caution is, as in ANSI Z535.4 and ISO 3864-2; with a caution only."
        ),
        "caution": _text("What to beware of; always shown with the step."),
        "achieves": _list(_one_of(ACHIEVEMENTS, ""), "What it brings about that other steps rely on."),
        "tools": _list(_text("", 200), "Tools to have at hand."),
        "consumables": _list(CONSUMABLE, "What is used up: lubricants, cleaners, sealants."),
        "positions": _list(_text("", 40), "Roles of the positions touched."),
        "conditions": _list(
            {"type": ["string", "object"], "minLength": 1, "description": "An expression, or a mapping with of."},
            "The step applies where all hold.",
        ),
        "hold_point": {"type": "boolean", "description": "Another person must look before later steps open."},
        "look_at": _text("What that other person looks at.", 500),
        "photos": _list(PHOTO, "Photos that are wanted."),
        "computes": {
            "type": ["string", "object"],
            "description": f"Advice worked out for this pump and kit: {', '.join(COMPUTATIONS)}.",
        },
        "characteristics": _list(CHARACTERISTIC, "What is measured."),
    },
    ("number", "title", "instruction"),
    "One step.",
)
SECTION = _mapping(
    {
        "section": _one_of(SECTIONS, "Which; each at most once, in this order."),
        "steps": {**_list(STEP, "In the order of their numbers."), "minItems": 1},
    },
    ("section", "steps"),
    "The steps of one part of the job.",
)
SCHEMA: dict[str, Any] = {
    "$schema": ADDRESS,
    "$id": "urn:backpull:procedure",
    "title": "Procedure",
    **_mapping(
        {
            "code": _text("The same for all revisions.", 40),
            "title": _text("What is overhauled, in a line.", 200),
            "configuration": _one_of(CONFIGURATIONS, "The pumps it is for."),
            "revision": _number("Counts up."),
            "prepared_by": _text("Who stands for its content.", 120),
            "scope_words": _text("What it covers, what it does not, and what comes before it."),
            "sections": {**_list(SECTION, "From making safe to the test."), "minItems": 1},
        },
        ("code", "title", "configuration", "revision", "sections"),
        "One revision of a procedure.",
    ),
}
