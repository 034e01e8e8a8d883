"""Findings, parts, time, files and offline records of a job as the overhaul record shows them."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from assets.calculations.position_words import position_words
from jobs.calculations.failure_codes import (
    BEARING_DAMAGE,
    FAILURE_MECHANISMS,
    FAILURE_MODES,
    REPLACEMENT_REASONS,
    FailureCode,
)
from jobs.calculations.paper_words import SECTIONS, figure, moment, words
from jobs.calculations.printed_quantities import System, amount
from jobs.calculations.printed_sentences import worked_out

OFFLINE_STATES = {"set-aside": "set aside", "waiting": "waits", "conflict": "not settled"}
# Places after the point of a result that is for information.
PLACES = 4


def execution_content(data: Mapping[str, Any], zone: str) -> dict[str, Any]:
    """What the template shows of a job's execution; empty lists where there is nothing."""
    return {
        "findings": [_finding(one, data["attachments"], zone) for one in data["findings"]],
        "extra_parts": [
            [
                position_words(one["role"]), one["part__number"], one["part__name"], figure(one["quantity"]),
                ", ".join(str(lot["lot"]) for lot in one["taken_from"] if lot.get("lot")) or words(one["state"]),
                one["reason"],
            ]
            for one in data["extra_parts"]
        ],
        "returns": [
            [
                one["item__number"], one["item__name"], figure(one["quantity"]), one["lot__number"] or "",
                words(one["condition"]), f"{one['reason']} ({one['by__name']}, {moment(one['at'], zone)})",
            ]
            for one in data["returns"]
        ],
        "work": _work(data["work"]),
        "attachments": [
            [one["name"], one["caption"], _of_what(one), one["by__name"], one["file__sha256"]]
            for one in data["attachments"]
        ],
        "offline_records": [_kept_beside(one, zone) for one in data["offline_records"]],
    }  # fmt: skip


def results_beside(one: Mapping[str, Any], units: System) -> list[str]:
    """What else the readings told, for information: *vertical offset 0.02 mm, the movable shaft is high*.

    What repeats the value is left out, and so is where the shaft lies in the planes of the dials.
    """
    found = []
    for result in one.get("results") or []:
        name, value = str(result["name"]), round(Decimal(str(result["value"])), PLACES)
        repeated = value == round(one["value"], PLACES) and result["unit"] == one["limits_unit"]
        if repeated or name.endswith("-plane"):
            continue
        if name.endswith(("shims", "move")):
            found.append(worked_out(str(result["words"]), units))
            continue
        if name == "bands":
            found.append(f"{figure(value)} light band{'' if value == 1 else 's'}")
            continue
        unit = "" if result["unit"] == "piece" else result["unit"]
        text = figure(value) if not unit else amount(value, unit, units, difference=True).main
        which_way = f", {result['words']}" if name in {"vertical-offset", "horizontal-offset"} else ""
        found.append(f"{words(name.replace('_', '-'))} {text}{which_way}")
    return found


def _finding(one: Mapping[str, Any], files: Sequence[Mapping[str, Any]], zone: str) -> dict[str, Any]:
    codes = [
        _code("Failure mode", FAILURE_MODES, one["mode"], "ISO 14224"),
        _code("Mechanism", FAILURE_MECHANISMS, one["mechanism"], "ISO 14224"),
        _code("Bearing damage", BEARING_DAMAGE, one["bearing_damage"], "ISO 15243"),
    ]
    reason = one["replacement_reason"]
    return {
        "where": position_words(one["role"]) + (f", step {one['step_number']}" if one["step_number"] else ""),
        "observed": one["observed"],
        "codes": [text for text in codes if text],
        "cause": one["cause"],
        "replaced": f"{reason}: {REPLACEMENT_REASONS[reason]}" if reason in REPLACEMENT_REASONS else reason,
        "photos": ", ".join(file["name"] for file in files if file["finding_id"] == one["id"]),
        "by": f"{one['by__name']}, {moment(one['occurred_at'], zone)}",
    }


def _code(what: str, table: Mapping[str, FailureCode], code: str, standard: str) -> str:
    if not code:
        return ""
    known = table.get(code)
    return f"{what} {code} ({standard}): {known.words if known else 'not known here'}"


def _work(totals: Mapping[str, Any]) -> dict[str, Any]:
    sections = {**SECTIONS, "whole-job": "The job as a whole"}
    return {
        "total": hours(totals["minutes"]) if totals["minutes"] else "",
        "by_section": [[sections.get(one["section"], one["section"]), hours(one["minutes"])]
                       for one in totals["by_section"]],
        "by_person": [[one["person"], hours(one["minutes"])] for one in totals["by_person"]],
    }  # fmt: skip


def hours(minutes: int) -> str:
    """*3 h 20 min*, *45 min*."""
    whole, rest = divmod(minutes, 60)
    return " ".join(
        text for text in (f"{whole} h" if whole else "", f"{rest} min" if rest or not whole else "") if text
    )


def _of_what(one: Mapping[str, Any]) -> str:
    if one["finding_id"]:
        return f"finding, {position_words(one['finding__role'])}"
    return f"step {one['step_number']}" if one["step_number"] else "the job"


def _kept_beside(one: Mapping[str, Any], zone: str) -> dict[str, str]:
    content = one["content"]
    told = [f"step {content['step']}"] if content.get("step") else []
    told += [words(content["characteristic"])] if content.get("characteristic") else []
    told += [f"{_readings(content['readings'])} {content.get('unit', '')}"] if content.get("readings") else []
    told += [str(content[name]) for name in ("observed", "description", "note") if content.get(name)]
    told += [f"{content['minutes']} min"] if content.get("minutes") else []
    return {
        "what": ", ".join([words(one["kind"]), *told]),
        "made": f"{one['by__name']}, {moment(one['occurred_at'], zone)}",
        "state": OFFLINE_STATES.get(one["state"], words(one["state"])),
        "why": one["sentence"],
        "settled": f"{one['settled_by__name']}: {one['settled_because']}" if one["settled_by__name"] else "",
    }


def _readings(readings: Any) -> str:
    if isinstance(readings, Mapping):
        return "; ".join(f"{words(name.replace('_', '-'))} {_readings(one)}" for name, one in readings.items())
    return " | ".join(map(str, readings)) if isinstance(readings, list) else str(readings)
