"""What the forms of a job sheet offer: instruments, positions, codes, photos wanted, parts that may come back."""

import datetime
import uuid
from typing import Any

from django.http import QueryDict

from assets.queries.people import people_at
from assets.queries.pump_models import wear_positions_of
from jobs.calculations.failure_codes import (
    BEARING_DAMAGE,
    FAILURE_MECHANISMS,
    FAILURE_MODES,
    REPLACEMENT_REASONS,
    is_bearing,
)
from jobs.operations.steps import FITTERS
from jobs.pages.measuring_form import fields_of
from kits.queries.kits import kit_lines
from services.api.identifiers import new_id


def finding_form(step: dict[str, Any] | None, positions: list[str]) -> dict[str, Any]:
    """Positions of the step, else all of the pump; codes with what they mean, the vaguest last."""
    offered = list(step["positions"]) if step and step["positions"] else positions
    modes = sorted(FAILURE_MODES.values(), key=lambda one: (one.code in {"OTH", "UNK"}, one.words))
    return {
        "id": new_id(),
        "positions": offered,
        "modes": modes,
        "mechanisms": list(FAILURE_MECHANISMS.values()),
        "bearing_damage": list(BEARING_DAMAGE.values()) if any(map(is_bearing, offered)) else [],
        "reasons": list(REPLACEMENT_REASONS.items()),
    }


def positions_of(model_id: uuid.UUID) -> list[str]:
    """Positions at which a pump of this model wears. One query."""
    return list(dict.fromkeys(one.role_id for one in wear_positions_of([model_id]).get(model_id, [])))


def photos_of(step: dict[str, Any], attached: list[dict[str, Any]]) -> dict[str, Any]:
    """Photos that a step wants, those that are there, and how many that it insists on are lacking."""
    here = [one for one in attached if one["step_number"] == step["number"]]
    pictures = [one for one in here if one["file__media_type"].startswith("image/")]
    captions = {one["caption"] for one in pictures}
    wanted = [one | {"there": one["shows"] in captions, "id": new_id()} for one in step["photos"]]
    needed = sum(bool(one.get("needed", True)) for one in wanted)
    return {"wanted": wanted, "here": here, "lacking": max(0, needed - len(pictures)), "needed": needed}


def may_come_back(job: Any, extra: list[dict[str, Any]], *, kit_out: bool) -> list[tuple[str, str]]:
    """What may be given back: the kit as a whole, single parts of it, extra parts that were taken."""
    taken = [
        (f"extra:{one['id']}", f"{one['part__number']} taken beside the kit")
        for one in extra
        if one["state"] == "taken"
    ]
    if not kit_out:
        return taken
    lines = [(f"part:{one['part_id']}", f"{one['number']} {one['name']} of the kit") for one in kit_lines(job.kit_id)]
    return [(f"kit:{job.kit_id}", "the whole kit, unopened"), *lines, *taken]


def fitters_of(job: Any) -> list[dict[str, Any]]:
    """Who may take the job over. One query."""
    return [one for one in people_at(job.site_id, *FITTERS) if one["id"] != job.assignee_id]


def reading_form(asked: dict[str, Any], tools: list[dict[str, Any]], sent: QueryDict) -> dict[str, Any]:
    """What a measurement asks for; what was refused stands in it again."""
    kinds = (asked["instrument_type"], asked["second_instrument_type"])
    first, second = ([one for one in tools if one["type"] == kind] for kind in kinds)
    again = sent.get("of") == asked["code"]
    return fields_of(asked["asks"], sent if again else None) | {
        "id": new_id(),
        "unit": asked["asks"]["unit"],
        "tools": first,
        "second_tools": second,
        "missing": [kind for kind, found in zip(kinds, (first, second), strict=True) if kind and not found],
        "again": again,
    }


def tool_shown(instrument: dict[str, Any], today: datetime.date) -> dict[str, Any]:
    """An instrument, and whether its calibration ran out."""
    return instrument | {"overdue": instrument["calibration_due"] < today}
