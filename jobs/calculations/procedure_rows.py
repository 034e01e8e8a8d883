"""A procedure document as the rows it is kept in, and the document again: there and back changes nothing.

What a document leaves out and what it writes as the usual value are the same; in the document made of rows the usual
values are left out.
"""

import itertools
from collections.abc import Mapping, Sequence
from typing import Any

from jobs.calculations.procedure_shape import computation_of, plain, signal_word, steps_of, without_empty

HEAD = ("code", "title", "configuration", "revision", "prepared_by", "scope_words")
USUAL_RULE, USUAL_KIND = "guard-band", "other"


def steps_from(document: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The steps of a document of sound form, with every key, in the order written."""
    return [_step_row(section, step) for _, section, step in steps_of(without_empty(document))]


def head_from(document: Mapping[str, Any]) -> dict[str, Any]:
    """What a document says of the whole revision."""
    head = {name: document.get(name) or "" for name in HEAD}
    return {**head, "revision": int(document["revision"]), "scope_words": str(head["scope_words"]).strip()}


def _step_row(section: str, step: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "number": int(step["number"]),
        "section": section,
        "title": step["title"],
        "instruction": step["instruction"].strip(),
        "signal_word": signal_word(step),
        "caution": str(step.get("caution") or "").strip(),
        "achieves": list(step.get("achieves") or []),
        "tools": list(step.get("tools") or []),
        "consumables": [_consumable_row(one) for one in step.get("consumables") or []],
        "positions": list(step.get("positions") or []),
        "conditions": plain(list(step.get("conditions") or [])),
        "hold_point": bool(step.get("hold_point")),
        "look_at": str(step.get("look_at") or "").strip(),
        "photos": [_photo_row(one) for one in step.get("photos") or []],
        "computes": computation_of(step),
        "characteristics": [_characteristic_row(one) for one in step.get("characteristics") or []],
    }


def _consumable_row(one: Any) -> dict[str, Any]:
    given = one if isinstance(one, Mapping) else {"name": one}
    return {"name": given["name"], "kind": given.get("kind") or USUAL_KIND, "note": given.get("note") or ""}


def _photo_row(one: Any) -> dict[str, Any]:
    given = one if isinstance(one, Mapping) else {"shows": one}
    needed = given.get("needed")
    return {"shows": given["shows"], "needed": True if needed is None else bool(needed)}


def _characteristic_row(asked: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "code": asked["code"],
        "name": asked["name"],
        "quantity": asked["quantity"],
        "unit": asked["unit"],
        "readings": int(asked.get("readings") or 1),
        "rule": asked["rule"],
        "limits": plain(asked.get("limits") or {}),
        "set_up": plain(asked.get("set_up") or {}),
        "instrument_type": asked["instrument_type"],
        "second_instrument_type": asked.get("second_instrument_type") or "",
        "decision_rule": asked.get("decision_rule") or USUAL_RULE,
    }


def document_from(head: Mapping[str, Any], steps: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """The document that rows stand for, its keys in the order of the format."""
    ordered = sorted(steps, key=lambda one: one["number"])
    sections = [
        {"section": section, "steps": [_step_written(one) for one in some]}
        for section, some in itertools.groupby(ordered, key=lambda one: str(one["section"]))
    ]
    written = {name: head[name] for name in HEAD if head[name] not in ("", None)}
    return {**written, "sections": sections}


def canonical(document: Mapping[str, Any]) -> dict[str, Any]:
    """The one form of all documents that mean the same; of a document of sound form."""
    return document_from(head_from(document), steps_from(document))


_STEP_ORDER = (
    "number", "title", "instruction", "signal_word", "caution", "achieves", "tools", "consumables", "positions",
    "conditions", "hold_point", "look_at", "photos", "computes", "characteristics",
)  # fmt: skip


def _step_written(step: Mapping[str, Any]) -> dict[str, Any]:
    shaped: dict[str, Any] = {
        **step,
        "consumables": [_consumable_written(one) for one in step["consumables"]],
        "photos": [one["shows"] if one["needed"] else dict(one) for one in step["photos"]],
        "computes": _computation_written(step["computes"]),
        "characteristics": [_characteristic_written(one) for one in step["characteristics"]],
    }
    return {key: shaped[key] for key in _STEP_ORDER if shaped[key] not in (None, "", [], {}, False)}


def _consumable_written(one: Any) -> Any:
    if isinstance(one, str):
        return one
    if one["kind"] == USUAL_KIND and not one["note"]:
        return one["name"]
    usual = {"kind": USUAL_KIND, "note": ""}
    return {key: value for key, value in one.items() if usual.get(key) != value}


def _computation_written(wanted: Mapping[str, Any] | None) -> Any:
    return wanted["kind"] if wanted and set(wanted) == {"kind"} else wanted


def _characteristic_written(asked: Mapping[str, Any]) -> dict[str, Any]:
    usual = {"readings": 1, "limits": {}, "set_up": {}, "second_instrument_type": "", "decision_rule": USUAL_RULE}
    keys = (
        "code", "name", "quantity", "unit", "readings", "rule", "set_up", "limits", "instrument_type",
        "second_instrument_type", "decision_rule",
    )  # fmt: skip
    return {key: asked[key] for key in keys if asked[key] != usual.get(key)}
