"""Advice worked out for a step: which lubricant these elastomers bear, how far to heat this bearing."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from assets.calculations.units import UnitMismatch, UnknownUnit, convert
from jobs.calculations.bearing_heating import HeatingAdvice, heating_advice
from jobs.calculations.limits_and_fits import SizeOutsideTable
from kits.queries.materials import lubricant_advice_for

DEFAULT_CLEARANCE_MM = Decimal("0.02")


def advice_for(
    computes: Mapping[str, Any] | None, data: Mapping[str, Any], measured: Mapping[str, Decimal]
) -> list[dict[str, Any]]:
    """Advice of a step as it is stored and answered; ``measured`` holds accepted values by characteristic code.

    What is still missing is said, not guessed.
    """
    if not computes:
        return []
    if computes["kind"] == "lubricant-advice":
        return _lubricants(data)
    return [_heating(computes, data, measured)]


def _lubricants(data: Mapping[str, Any]) -> list[dict[str, Any]]:
    elastomers = list(data.get("kit_elastomers") or [])
    return [{"kind": "lubricant", **one} for one in lubricant_advice_for(elastomers)]


def _heating(computes: Mapping[str, Any], data: Mapping[str, Any], measured: Mapping[str, Decimal]) -> dict[str, Any]:
    shaft_code, room_code = str(computes["bore_from"]), str(computes["room_temperature_from"])
    missing = [code for code in (shaft_code, room_code) if code not in measured]
    if data.get("bearing_bore_mm") is None:
        missing.append("the bearing's bore (the kit brings no drive-end bearing)")
    if missing:
        return {
            "kind": "bearing-heating",
            "waiting_for": missing,
            "sentence": f"Heating is worked out once these are known: {', '.join(map(_words, missing))}.",
        }
    try:
        advice = heating_advice(
            bore_mm=data["bearing_bore_mm"],
            shaft_diameter_mm=measured[shaft_code],
            room_temperature_c=measured[room_code],
            extra_clearance_mm=Decimal(str(computes.get("clearance_mm") or DEFAULT_CLEARANCE_MM)),
            sealed=data.get("bearing_sealed") == "yes",
        )
    except SizeOutsideTable as error:
        return {
            "kind": "bearing-heating",
            "waiting_for": ["a bearing bore within the tables"],
            "sentence": f"Heating is not worked out: {error} Follow the bearing maker's instructions.",
        }
    return _shape(advice, measured[shaft_code], measured[room_code], data["bearing_bore_mm"])


def as_worked_out(value: Decimal, unit: str) -> Decimal:
    """A measured value as heating is worked out in: a length in mm, a temperature in degC; another as it is."""
    for working in ("mm", "degC"):
        if unit == working:
            return value
        try:
            # As finely as a measurement is kept.
            return round(convert(value, unit, working), 6)
        except (UnknownUnit, UnitMismatch):
            continue
    return value


def _words(code: str) -> str:
    """A code as words; a sentence stays as it is."""
    return code if " " in code else code.replace("-", " ")


def _shape(advice: HeatingAdvice, shaft: Decimal, room: Decimal, bore: Decimal) -> dict[str, Any]:
    return {
        "kind": "bearing-heating",
        "sentence": advice.sentence,
        "inputs": {
            "shaft_diameter": {"value": str(shaft), "unit": "mm"},
            "bearing_bore": {"value": str(bore), "unit": "mm"},
            "room_temperature": {"value": str(room), "unit": "degC"},
        },
        "interference": {"value": str(advice.interference_mm), "unit": "mm"},
        "temperature_rise": {"value": str(advice.temperature_rise_k), "unit": "K"},
        "target": {"value": str(advice.target_c), "unit": "degC"},
        "warn_above": {"value": str(advice.warn_above_c), "unit": "degC"},
        "ceiling": {"value": str(advice.ceiling_c), "unit": "degC"},
        "within_ceiling": advice.within_ceiling,
        "formula": advice.formula,
        "source": advice.source,
        "cautions": list(advice.cautions),
    }
