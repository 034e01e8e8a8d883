"""A job sheet as it is set: steps by section, cautions with their steps, limits in both systems, boxes to write in."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from assets.calculations.position_words import position_words
from jobs.calculations.paper_words import FOOT, SAFETY, SECTIONS, day, facts, figure, never_below_zero, words
from jobs.calculations.printed_quantities import System, limits
from jobs.calculations.printed_sentences import as_written, worked_out
from jobs.calculations.reading_boxes import reading_boxes
from jobs.calculations.written_limits import lower_limit, upper_limit

# A step of more than so many characters may run over the page; its head and caution still stay together.
LONGEST_WHOLE = 1800
CONSUMABLES = {
    "lubricant": "Lubricants",
    "cleaner": "Cleaners",
    "sealant": "Sealants",
    "adhesive": "Adhesives",
    "cloth": "Cloths",
    "protection": "Protection",
    "other": "Other",
}
TONES = {"ok": "good", "forbidden": "bad", "caution": "careful"}
VERDICTS = {"ok": "may be used", "caution": "with care"}


def job_sheet_content(data: Mapping[str, Any], *, units: System) -> dict[str, Any]:
    """What the template is given. Every caution of every step that applies, or may apply, is in it."""
    job, steps = data["job"], data["steps"]
    doing = [one for one in steps if one["state"] != "not-applicable"]
    return {
        "kind": "Job sheet",
        "number": job["number"],
        "about": f"{job['pump_tag']} · {job['site_name']}",
        "state": words(job["state"]),
        "foot": FOOT,
        "safety": list(SAFETY),
        "facts": facts(job, units),
        "units": _units_words(units),
        "kit": _kit(data["kit"]),
        "tools": _gathered(doing, "tools"),
        "consumables": _consumables(doing),
        "photos": _photos(doing),
        "instruments": _instruments(doing),
        "hold_points": [
            {
                "number": one["number"],
                "title": one["title"],
                "look_at": as_written(one.get("look_at") or "", units),
            }
            for one in doing
            if one["hold_point"]
        ],
        "lubricants": _lubricants(doing),
        "sections": [
            {
                "name": name,
                "steps": [_step(one, units, data.get("unresolved", {})) for one in doing if one["section"] == code],
            }
            for code, name in SECTIONS.items()
            if any(one["section"] == code for one in doing)
        ],
        "left_out": [
            {"number": one["number"], "title": one["title"], "why": one["why"]}
            for one in steps
            if one["state"] == "not-applicable"
        ],
    }


def _units_words(units: System) -> str:
    named = "metric units, inch units in brackets" if units == "metric" else "inch units, metric units in brackets"
    return (
        f"Limits are in {named}. A limit that was converted is rounded to the safe side; the one in the procedure's "
        "own unit counts. Instructions stand as they are written, with figures of the other system in brackets where "
        "they are not in that of this sheet. Write down the unit of what you read."
    )


def _kit(kit: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "lots": [
            f"lot {one['lot']}"
            + (f", bin {one['bin']}" if one.get("bin") else "")
            + (f", to be fitted by {day(one['expires_on'])}" if one.get("expires_on") else "")
            for one in kit["held"]
        ],
        "lines": [
            {
                "line": str(one["line"]),
                "role": position_words(one["role"]),
                "number": one["number"],
                "name": one["name"],
                "quantity": figure(one["quantity"]) + (" (if needed)" if one.get("optional") else ""),
            }
            for one in kit["lines"]
        ],
    }


def _gathered(steps: Sequence[Mapping[str, Any]], what: str) -> list[dict[str, str]]:
    """Each thing once, with the steps that need it, in the order in which it is first needed."""
    found: dict[str, list[int]] = {}
    for step in steps:
        for one in step[what]:
            found.setdefault(str(one), []).append(step["number"])
    return [{"name": name, "steps": _steps_named(numbers)} for name, numbers in found.items()]


def _steps_named(numbers: Sequence[int]) -> str:
    return f"step{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}"


def _consumables(steps: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """By kind, lubricants first: a wrong one spoils a seal."""
    found: dict[str, list[Mapping[str, Any]]] = {}
    for step in steps:
        for one in step["consumables"]:
            row = {"number": step["number"], "things": [_consumable(one)]}
            found.setdefault(_kind(one), []).append(row)
    return [
        {"kind": name, "rows": _gathered(found[kind], "things")} for kind, name in CONSUMABLES.items() if kind in found
    ]


def _kind(one: Any) -> str:
    kind = one.get("kind") if isinstance(one, Mapping) else ""
    return kind if kind in CONSUMABLES else "other"


def _consumable(one: Any) -> str:
    """Its name, with the author's note."""
    if not isinstance(one, Mapping):
        return str(one)
    return f"{one['name']} ({one['note']})" if one.get("note") else str(one["name"])


def _photos(steps: Sequence[Mapping[str, Any]]) -> list[dict[str, str]]:
    return [
        {
            "step": str(step["number"]),
            "shows": one["shows"],
            "needed": "needed" if one.get("needed", True) else "welcome",
        }
        for step in steps
        for one in step.get("photos") or []
    ]


def _instruments(steps: Sequence[Mapping[str, Any]]) -> list[dict[str, str]]:
    found: dict[str, list[int]] = {}
    for step in steps:
        for one in step["characteristics"]:
            for kind in filter(None, (one["instrument_type"], one.get("second_instrument_type"))):
                numbers = found.setdefault(words(kind), [])
                if step["number"] not in numbers:
                    numbers.append(step["number"])
    return [{"name": name, "steps": _steps_named(numbers)} for name, numbers in found.items()]


def _lubricants(steps: Sequence[Mapping[str, Any]]) -> list[dict[str, str]]:
    found: dict[str, dict[str, str]] = {}
    for step in steps:
        for one in step["advice"]:
            if one.get("kind") == "lubricant":
                found.setdefault(str(one["lubricant"]), _lubricant(one))
    return list(found.values())


def _lubricant(one: Mapping[str, Any]) -> dict[str, str]:
    return {
        "name": str(one.get("name") or words(one["lubricant"])),
        "verdict": VERDICTS.get(str(one["verdict"]), words(one["verdict"])),
        "tone": TONES.get(str(one["verdict"]), "careful"),
        "reason": " ".join(filter(None, (one.get("note"), f"Source: {one['source']}." if one.get("source") else ""))),
    }


def _step(step: Mapping[str, Any], units: System, unresolved: Mapping[int, Sequence[str]]) -> dict[str, Any]:
    characteristics = [_characteristic(one, units) for one in step["characteristics"]]
    advice = [text for one in step["advice"] for text in _advice(one, units)]
    rows = sum(2 + len(one["groups"]) + len(one["given"]) for one in characteristics)
    length = len(step["instruction"]) + len(step["caution"]) + 60 * rows + sum(map(len, advice))
    return {
        "number": step["number"],
        "title": step["title"],
        "instruction": as_written(step["instruction"], units),
        "signal_word": step["signal_word"],
        "caution": as_written(step["caution"], units),
        "hold_point": step["hold_point"],
        "why": as_written((step["why"] or "").removeprefix("Applies: "), units),
        "advice": advice,
        "tools": ", ".join(map(str, step["tools"])),
        "consumables": ", ".join(map(_consumable, step["consumables"])),
        "photos": "; ".join(
            one["shows"] + ("" if one.get("needed", True) else " (if it helps)") for one in step.get("photos") or []
        ),
        "look_at": as_written(step.get("look_at") or "", units),
        "positions": "; ".join(position_words(one) for one in step["positions"]),
        "characteristics": characteristics,
        "unresolved": [worked_out(one, units) for one in unresolved.get(step["number"], [])],
        "whole": length <= LONGEST_WHOLE,
    }


def _advice(one: Mapping[str, Any], units: System) -> list[str]:
    """Sentences of what was worked out, its figures and its own cautions among them."""
    if one.get("kind") == "lubricant":
        lubricant = _lubricant(one)
        return [f"{lubricant['name']}: {lubricant['verdict']}. {lubricant['reason']}".strip()]
    found = [worked_out(str(one.get("sentence", "")), units)]
    cautions = [as_written(str(text), units) for text in one.get("cautions", [])]
    return [text for text in [*found, *cautions] if text]


def _characteristic(one: Mapping[str, Any], units: System) -> dict[str, Any]:
    lower = None if never_below_zero(one) else one["lower"]
    asked = limits(lower, one["upper"], one["unit"], units)
    return {
        "name": one["name"],
        "limits": asked.main,
        "other": asked.other,
        "words": "" if _says_no_more(one) else worked_out(one["words"], units),
        "instrument": ", ".join(
            words(kind) for kind in (one["instrument_type"], one.get("second_instrument_type")) if kind
        ),
        **reading_boxes(one, units),
    }


def _says_no_more(one: Mapping[str, Any]) -> bool:
    """Whether the words of limits are but the limits, which stand beside them already."""
    lower, upper = one["lower"], one["upper"]
    ends = [f"at least {lower_limit(lower, one['unit'])}"] if lower is not None else []
    ends += [f"at most {upper_limit(upper, one['unit'])}"] if upper is not None else []
    told = re.fullmatch(r"(.*\d)(?: \S+)?\.", str(one["words"]))
    return told is not None and bool(ends) and told[1].lower() == " and ".join(ends)
