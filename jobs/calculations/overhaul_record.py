"""An overhaul record as it is set: what was measured and judged, fitted, conceded and signed, and how to verify it."""

import io
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

import segno

from assets.calculations.position_words import position_words
from jobs.calculations.failure_codes import condition_words
from jobs.calculations.paper_words import (
    FOOT,
    RECORD_WORDS,
    SECTIONS,
    day,
    facts,
    figure,
    moment,
    never_below_zero,
    words,
)
from jobs.calculations.printed_quantities import System, amount, limits, measured, to_the_place, units_to_write
from jobs.calculations.printed_sentences import as_written
from jobs.calculations.recorded_execution import execution_content, hours, results_beside
from jobs.calculations.trend_plot import Point, trend_plot
from jobs.calculations.verdict import verdict_words

DISPOSITIONS = {"use-as-is": "use as is, under a concession", "": "not decided"}
SIGNED = {"hold-point": "Hold point, step {step}", "concession": "Concession", "completion": "Sign-off of the job"}


def verify_address(public_address: str, content_hash: str) -> str:
    """The address in the QR code of a signed record."""
    return f"{public_address}/records/{content_hash.removeprefix('sha256:')}"


def overhaul_record_content(data: Mapping[str, Any], *, units: System, public_address: str) -> dict[str, Any]:
    """What the template is given; ``public_address`` is where phones reach the service."""
    job, zone = data["job"], data["job"]["site_time_zone"]
    signed = next((one for one in data["signatures"] if one["kind"] == "completion"), None)
    return {
        "kind": "Overhaul record",
        "number": job["number"],
        "about": f"{job['pump_tag']} · {job['site_name']}",
        "state": words(job["state"]),
        "foot": FOOT,
        "words": RECORD_WORDS,
        "draft": "" if signed else _unsigned(str(job["state"])),
        "facts": [
            *[one for one in facts(job, units) if one[0] not in {"Planned", "Hazard", "Fitter"}],
            *_fitter(data),
            ["Begun", moment(job["started_at"], zone)],
            ["Finished", moment(job["finished_at"], zone)],
        ],
        "zone": f"Times are those of {zone}.",
        "result": _result(data),
        "measurements": _measurements(data, units, zone),
        "fitted": [
            [
                position_words(one["role"]), one["part__number"], one["part__name"], figure(one["quantity"]),
                one["lot__number"] or "",
            ]
            for one in data["fitted"]
        ],
        "removed": [
            [
                position_words(one["role"]), one["part__number"], figure(one["quantity"]),
                f"{day(one['fitted_at'])}, {one['job__number']}",
                condition_words(one["removed_condition"] or "not stated"),
            ]
            for one in data["removed"]
        ],
        "nonconformities": [_nonconformity(one, data["signatures"], zone, units) for one in data["nonconformities"]],
        **execution_content(data, zone),
        "steps": _steps(data["steps"], zone),
        "signatures": [
            [
                SIGNED[one["kind"]].format(step=one["step_number"]), f"{one['by__name']}, {words(one['role'])}",
                moment(one["at"], zone), one["remark"], one["content_hash"].removeprefix("sha256:"),
            ]
            for one in data["signatures"]
        ],
        "trends": [_trend(one, units) for one in data["earlier"]],
        "proof": None if signed is None else _proof(signed, data["link"], public_address),
    }  # fmt: skip


def _unsigned(state: str) -> str:
    """A job is closed by its sign-off; one that is closed without was so when its records came."""
    if state == "closed":
        return "Not signed off here: it was taken over, closed, from earlier records."
    return f"Not signed off: the job is {words(state)}, and this is how it stands."


def _fitter(data: Mapping[str, Any]) -> list[list[str]]:
    """Whoever the job was given to; where nobody was named, those who did its steps."""
    did = dict.fromkeys(one["done_by"] for one in data["steps"] if one["done_by"])
    named = data["job"]["assignee_name"] or ", ".join(did)
    return [["Fitter", named]] if named else []


def _result(data: Mapping[str, Any]) -> list[list[str]]:
    last = [one["measurements"][-1] for step in data["steps"] for one in step["characteristics"] if one["measurements"]]
    attempts = sum(len(one["measurements"]) for step in data["steps"] for one in step["characteristics"])
    accepted = sum(one["verdict"] == "accept" for one in last)
    conceded = sum(one["disposition"] == "use-as-is" for one in data["nonconformities"])
    done = sum(step["state"] == "done" for step in data["steps"])
    applicable = sum(step["state"] != "not-applicable" for step in data["steps"])
    held = [step for step in data["steps"] if step["hold_point"] and step["state"] != "not-applicable"]
    return [
        [f"{done} of {applicable}", "steps done"],
        [f"{sum(bool(step['released_by']) for step in held)} of {len(held)}", "hold points released"],
        [f"{accepted} of {len(last)}", f"characteristics accepted, {attempts} measurements in all"],
        [
            str(len(data["nonconformities"])),
            f"{'nonconformity' if len(data['nonconformities']) == 1 else 'nonconformities'}, {conceded} conceded",
        ],
        [str(len(data["fitted"])), "positions with new parts"],
        [hours(data["work"]["minutes"]) if data["work"]["minutes"] else "none", "time booked"],
    ]


def _measurements(data: Mapping[str, Any], units: System, zone: str) -> list[dict[str, Any]]:
    """Every measurement in the order of the steps; one that a later one replaced, or that was conceded, is marked."""
    conceded = {one["measurement_id"] for one in data["nonconformities"] if one["disposition"] == "use-as-is"}
    found = []
    for step in data["steps"]:
        for asked in step["characteristics"]:
            for one in asked["measurements"]:
                value = measured(one["value"], one["expanded_uncertainty"], one["limits_unit"], units)
                lower = None if never_below_zero(asked) else one["lower"]
                within = limits(lower, one["upper"], one["limits_unit"], units)
                room = one["room_left"]
                found.append(
                    {
                        "step": str(step["number"]),
                        "name": asked["name"],
                        "attempt": one["attempt"],
                        "replaced": one is not asked["measurements"][-1],
                        "value": value.main,
                        "other": value.other,
                        "limits": within.main,
                        "limits_other": within.other,
                        "conceded": one["id"] in conceded,
                        "verdict": one["verdict"],
                        "verdict_words": verdict_words(one["verdict"], one["lower"], one["upper"]),
                        "room": "" if room is None else _room(room, one, units),
                        "results": results_beside(one, units),
                        "instrument": " and ".join(filter(None, (one["instrument"], one.get("second_instrument")))),
                        "by": f"{one['by']}, {moment(one['occurred_at'], zone)}",
                        "rule": words(one["decision_rule"]),
                    }
                )
    return found


def _room(room: Decimal, one: Mapping[str, Any], units: System) -> str:
    return to_the_place(room, one["expanded_uncertainty"], one["limits_unit"], units).main


def _nonconformity(
    one: Mapping[str, Any], signatures: Sequence[Mapping[str, Any]], zone: str, units: System
) -> dict[str, Any]:
    signed = next((each for each in signatures if each["nonconformity_id"] == one["id"]), None)
    step = one["job_characteristic__job_step__number"]
    return {
        "what": as_written(one["description"], units),
        "where": f"step {step}" if step else position_words(one["role"]),
        "raised": one["raised_by__name"],
        "disposition": DISPOSITIONS.get(one["disposition"], words(one["disposition"])),
        "state": words(one["state"]),
        "conceded": one["disposition"] == "use-as-is",
        "reason": one["decision_reason"],
        "extent": one["extent"],
        "decided": f"{one['decided_by__name']}, {moment(one['decided_at'], zone)}" if one["decided_by__name"] else "",
        "hash": signed["content_hash"].removeprefix("sha256:") if signed else "",
    }


def _steps(steps: Sequence[Mapping[str, Any]], zone: str) -> list[dict[str, Any]]:
    return [
        {
            "section": SECTIONS.get(one["section"], words(one["section"])),
            "number": str(one["number"]),
            "title": one["title"],
            "state": words(one["state"]),
            "done": f"{one['done_by']}, {moment(one['done_at'], zone)}" if one["done_by"] else "",
            "released": f"{one['released_by']}, {moment(one['released_at'], zone)}" if one["released_by"] else "",
            "note": one["note"] or (one["why"] if one["state"] == "not-applicable" else ""),
        }
        for one in steps
    ]


def _trend(one: Mapping[str, Any], units: System) -> dict[str, str]:
    """In the unit of the system asked for; figures of a plot are for looking at, so floats do."""

    def there(value: Decimal, *, difference: bool = False) -> float:
        return float(amount(value, one["unit"], units, difference=difference).main.split(" ")[0])

    points = [
        Point(
            each["occurred_at"].date(),
            there(each["value"]),
            there(each["expanded_uncertainty"], difference=True),
        )
        for each in one["points"]
    ]
    unit = units_to_write(one["unit"], units)
    # As the table of measurements prints them: "at least 1.57489 in", "at most 0.0019 in".
    low = limits(one["lower"], None, one["unit"], units).main.split(" ")
    high = limits(None, one["upper"], one["unit"], units).main.split(" ")
    lower = None if one["lower"] is None else float(low[2])
    upper = None if one["upper"] is None else float(high[2])
    return {
        "name": f"{one['name']}, {unit}",
        "svg": trend_plot(points, lower=lower, upper=upper),
        "words": f"{len(points)} overhauls from {points[0].on.isoformat()} to {points[-1].on.isoformat()}.",
    }


def _proof(signed: Mapping[str, Any], link: Mapping[str, Any] | None, public_address: str) -> dict[str, Any]:
    address = verify_address(public_address, signed["content_hash"])
    made = segno.make(address, error="m", boost_error=False, micro=False)
    buffer = io.BytesIO()
    made.save(buffer, kind="svg", border=4, light="white", xmldecl=False, omitsize=True)
    return {
        "hash": signed["content_hash"].removeprefix("sha256:"),
        "address": address,
        "symbol": buffer.getvalue().decode(),
        "link": "none: verify before relying on this record" if link is None else str(link["number"]),
        "mac": "" if link is None else link["mac"],
        "key": "" if link is None else link["key_id"],
    }
