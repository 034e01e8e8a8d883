"""Pump models and their wear positions handed in as rows of files."""

import uuid
from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from django.db import transaction

from assets.access import require_operator_wide
from assets.calculations.build_class import read_conditions
from assets.calculations.part_specifications import SpecificationError, parse_specification
from assets.calculations.serial_ranges import RangeRefused, SerialRange, read_range
from assets.models import Configuration, Maker, PositionRole, PumpModel, WearPosition
from assets.operations.build_classes import add_serial_cut_points, replace_pumps_of
from assets.operations.pump_models import OWNERS
from assets.queries.pump_models import pump_models_by_code
from services.api.loading import LoadRow, RowOutcome
from services.api.sorting_rows import SortedRows
from services.changes.sorted_rows import write_sorted
from services.identity.callers import Caller

MODEL_FIGURES = (
    "series",
    "designation",
    "configuration",
    "shaft_diameter_at_seal_mm",
    "rated_speed_rpm",
    "rated_power_kw",
)
IDENTITY = ("pump_model_id", "role_id", "serial_from", "serial_to", "variant", "part_number")
RATINGS = ("shaft_diameter_at_seal_mm", "rated_speed_rpm", "rated_power_kw")


@transaction.atomic(savepoint=False)
def load_pump_models(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Pump models keyed by external id, which becomes their code."""
    require_operator_wide(by, *OWNERS)
    makers = dict(Maker.objects.values_list("code", "id"))
    names = [str(row.values["external_id"]) for row in rows]
    found = SortedRows({one.code: one for one in PumpModel.objects.filter(code__among=names)})
    outcomes = []
    for row, key in zip(rows, names, strict=True):
        wrong = _unsound_model(row, makers)
        if wrong:
            outcomes.append(RowOutcome.refused(row, key, *wrong))
            continue
        figures = {name: row.values[name] for name in MODEL_FIGURES} | {"maker_id": makers[str(row.values["maker"])]}
        outcomes.append(found.take(row, key, key, figures, partial(PumpModel, code=key, **figures)))
    write_sorted(found, [*MODEL_FIGURES, "maker"], by=by, noun="pump-model", told=lambda one: {"code": one.code})
    return outcomes


def _unsound_model(row: LoadRow, makers: dict[str, uuid.UUID]) -> tuple[str, str, str] | None:
    if str(row.values["maker"]) not in makers:
        return "maker", "No such maker is known.", "Load the makers first; check the code."
    if row.values["configuration"] not in Configuration.values:
        return "configuration", "No such configuration.", f"Known: {', '.join(Configuration.values)}."
    for name in RATINGS:
        if row.values[name] <= 0:
            return name, "It must be above zero.", "Give the figure of the nameplate or the drawing."
    return None


@transaction.atomic(savepoint=False)
def load_wear_positions(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Positions keyed by model, role, serial range, variant and part number."""
    require_operator_wide(by, *OWNERS)
    models = pump_models_by_code({str(row.values["model"]) for row in rows})
    roles = set(PositionRole.objects.values_list("code", flat=True))
    kept = WearPosition.objects.filter(pump_model_id__in=models.values())
    found = SortedRows({_key_of(**{name: getattr(one, name) for name in IDENTITY}): one for one in kept})
    outcomes = []
    for row in rows:
        key = f"{row.values['model']} {row.values['role']}"
        made = _position(row, key, models, roles)
        if isinstance(made, RowOutcome):
            outcomes.append(made)
            continue
        identity, figures = made
        make = partial(WearPosition, **identity, **figures)
        outcomes.append(found.take(row, key, _key_of(**identity), figures, make))
    write_sorted(
        found,
        ["quantity", "mandatory", "specification"],
        by=by,
        noun="wear-position",
        told=lambda one: {"role": one.role_id},
    )
    touched = [*found.fresh, *found.changed]
    add_serial_cut_points(
        (one.pump_model_id, cut) for one in touched for cut in SerialRange(one.serial_from, one.serial_to).cuts()
    )
    replace_pumps_of({one.pump_model_id for one in touched})
    return outcomes


def _key_of(variant: Mapping[str, str] | None, **others: Any) -> tuple[Any, ...]:
    return *(others[name] for name in IDENTITY if name != "variant"), tuple(sorted((variant or {}).items()))


def _position(
    row: LoadRow, key: str, models: dict[str, uuid.UUID], roles: set[str]
) -> tuple[dict[str, Any], dict[str, Any]] | RowOutcome:
    """What tells the position from others, and its figures; or the refusal of the row."""
    values = row.values
    model_id = models.get(str(values["model"]))
    if model_id is None:
        return RowOutcome.refused(row, key, "model", "No such pump model is known.", "Load the pump models first.")
    if values["role"] not in roles:
        return RowOutcome.refused(row, key, "role", "No such position role.", f"Known: {', '.join(sorted(roles))}.")
    if values["quantity"] <= 0:
        return RowOutcome.refused(row, key, "quantity", "It must be above zero.", "Say how many are renewed.")
    try:
        serials = read_range(str(values.get("serial_from") or ""), str(values.get("serial_to") or ""))
    except RangeRefused as error:
        return RowOutcome.refused(row, key, error.field, error.what, error.remedy)
    specification = None
    number, text = str(values.get("part_number") or "").strip(), str(values.get("specification") or "")
    if text:
        try:
            specification = parse_specification(str(values.get("category") or ""), text).to_json()
        except SpecificationError as error:
            column = "category" if error.field == "category" else "specification"
            return RowOutcome.refused(row, key, column, error.what, error.remedy)
    elif not number:
        return RowOutcome.refused(row, key, "part_number", "It asks for nothing.", "Give a number or a specification.")
    variant = read_conditions(str(values.get("variant") or ""))
    if variant is None:
        return RowOutcome.refused(
            row, key, "variant", "It is no list of conditions.", "Write name=value, separated by semicolons."
        )
    mandatory = values.get("mandatory")
    identity = {
        "pump_model_id": model_id,
        "role_id": str(values["role"]),
        "serial_from": serials.start,
        "serial_to": serials.end,
        "variant": variant,
        "part_number": number,
    }
    return identity, {
        "quantity": values["quantity"],
        "mandatory": True if mandatory is None else bool(mandatory),
        "specification": specification,
    }
