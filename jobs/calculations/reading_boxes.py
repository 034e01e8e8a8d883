"""Boxes on paper for what is read: groups and places by name, further values to write in, and how they become a value.

The same rules that an app asks by (`evaluation_rules`) say what stands on the job sheet.
"""

from collections.abc import Mapping
from typing import Any

from jobs.calculations.evaluation_rules import asked_of
from jobs.calculations.given_values import ENDS, unit_of_given
from jobs.calculations.paper_words import words
from jobs.calculations.printed_quantities import System, units_to_write

RULES = {
    "single": "one reading",
    "mean": "the mean counts",
    "max": "the largest counts",
    "min": "the smallest counts",
    "range": "largest less smallest counts",
    "total-indicator-reading": "largest less smallest over one turn counts",
    "eccentricity": "half of largest less smallest over one turn counts",
    "ovality": "largest less smallest diameter counts",
    "light-bands": "the most bands counted on the optical flat, times half a wavelength",
    "diameter": "the mean, reckoned to 20 °C, counts",
    "diametral-clearance": "mean bore less mean shaft counts, each reckoned to 20 °C",
    "taper": "mean at one end less mean at the other counts",
    "rim-and-face": "dials zeroed at the top, both shafts turned together",
    "reverse-indicator": "dials zeroed at the top, both shafts turned together",
}
MOST_BOXES = 20
# Half widths, coefficients and tolerances have their usual values; whoever knows better sends them with the record.
NOT_ON_PAPER = ("half_width", "expansion", "tolerance", "wavelength")


def reading_boxes(asked: Mapping[str, Any], units: System) -> dict[str, Any]:
    """``groups`` of boxes with their places, ``given`` values with their unit, ``rule`` in words, and ``unit``."""
    set_up = asked.get("set_up") or {}
    wanted = asked_of(asked["rule"], asked["readings"], set_up, asked["unit"])
    return {
        "groups": [
            {
                "name": words((one["name"] or "").replace("_", "-")),
                "places": list(one["places"]) or [""] * min(one["count"], MOST_BOXES),
            }
            for one in wanted["groups"]
        ],
        "given": [
            _given(one, units) for one in wanted["given"] if not any(part in one["name"] for part in NOT_ON_PAPER)
        ],
        "rule": _rule(asked["rule"], set_up),
        "unit": "bands" if wanted["unit"] == "piece" else units_to_write(wanted["unit"], units),
    }


def _rule(rule: str, set_up: Mapping[str, Any]) -> str:
    judged = f"; the {words(set_up.get('judged') or 'offset')} counts" if "-and-" in rule or "reverse" in rule else ""
    return f"{RULES[rule]}{judged}"


def _given(one: Mapping[str, Any], units: System) -> dict[str, str]:
    unit, end = unit_of_given(one["name"]), next((end for end in ENDS if one["name"].endswith(end)), "")
    name = words(one["name"].removesuffix(end).replace("_", "-"))
    if one["default"] is not None:
        name += f" ({words(one['default'])} if nothing is written)"
    elif not one["needed"]:
        name += " (if known)"
    return {"name": name, "unit": units_to_write(unit, units) if unit else ""}
