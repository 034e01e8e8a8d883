"""Makers, fluids, pump models and the positions that an overhaul of one renews. The data owner keeps them."""

import uuid
from collections.abc import Mapping
from decimal import Decimal
from typing import Any, TypeVar

from django.db import transaction

from assets.access import require_operator_wide
from assets.calculations.part_specifications import SpecificationError, parse_specification
from assets.calculations.serial_ranges import RangeRefused, SerialRange, read_range
from assets.models import Fluid, FluidFamily, Maker, PositionRole, PumpModel, WearPosition
from assets.operations.build_classes import add_serial_cut_points, replace_pumps_of
from assets.queries.pump_models import pump_model_for
from assets.queries.specifications import unreadable
from assets.refusals import PositionClash
from services.api.models import Record
from services.api.refusals import InvalidValue, NotThere
from services.api.versions import version_changed
from services.changes.recording import record_change
from services.identity.callers import Caller

OWNERS = ("data-owner", "integrator", "admin")
R = TypeVar("R", bound=Record)


@transaction.atomic(savepoint=False)
def register_maker(*, by: Caller, code: str, name: str, maker_id: uuid.UUID | None = None) -> Maker:
    """A new maker."""
    require_operator_wide(by, *OWNERS)
    made = Maker.objects.create(code=code, name=name, **({"id": maker_id} if maker_id else {}))
    _tell("maker.registered", made, by, code=code, name=name)
    return made


@transaction.atomic(savepoint=False)
def change_maker(*, by: Caller, maker_id: uuid.UUID, expected_version: int, name: str) -> Maker:
    """Another name."""
    require_operator_wide(by, *OWNERS)
    made = _changed(Maker, maker_id, expected_version, {"name": name}, "The maker")
    _tell("maker.changed", made, by, code=made.code, name=name)
    return made


@transaction.atomic(savepoint=False)
def register_fluid(
    *, by: Caller, code: str, name: str, family: str, hazard: str = "", fluid_id: uuid.UUID | None = None
) -> Fluid:
    """A new fluid in a family of the material tables."""
    require_operator_wide(by, *OWNERS)
    given = {"id": fluid_id} if fluid_id else {}
    made = Fluid.objects.create(code=code, name=name, family=_family(family), hazard=hazard, **given)
    _tell("fluid.registered", made, by, code=code, family=family)
    return made


@transaction.atomic(savepoint=False)
def change_fluid(*, by: Caller, fluid_id: uuid.UUID, expected_version: int, **changes: Any) -> Fluid:
    """Change name, hazard or family; the family decides which materials bear it, so pumps are placed anew."""
    require_operator_wide(by, *OWNERS)
    family = changes.pop("family", None)
    if family is not None:
        changes["family_id"] = _family(family).pk
    made = _changed(Fluid, fluid_id, expected_version, changes, "The fluid")
    if family is not None:
        replace_pumps_of(set(made.pumps.values_list("pump_model_id", flat=True)))
    _tell("fluid.changed", made, by, code=made.code)
    return made


def _family(code: str) -> FluidFamily:
    found = FluidFamily.objects.filter(code=code).first()
    if found is None:
        known = ", ".join(FluidFamily.objects.order_by("code").values_list("code", flat=True))
        raise InvalidValue(f"{code!r} is no fluid family.", remedy=f"Known: {known or 'none yet'}.", pointer="#/family")
    return found


@transaction.atomic(savepoint=False)
def register_pump_model(*, by: Caller, model_id: uuid.UUID | None = None, **fields: Any) -> PumpModel:
    """A new model; fields as in `PumpModel`, with ``maker_id``."""
    require_operator_wide(by, *OWNERS)
    _check_maker(fields.get("maker_id"))
    made = PumpModel.objects.create(**fields, **({"id": model_id} if model_id else {}))
    _tell("pump-model.registered", made, by, code=made.code)
    return made


@transaction.atomic(savepoint=False)
def change_pump_model(*, by: Caller, model_id: uuid.UUID, expected_version: int, **changes: Any) -> PumpModel:
    """Change a model's data. Raises `VersionChanged`."""
    require_operator_wide(by, *OWNERS)
    if "maker_id" in changes:
        _check_maker(changes["maker_id"])
    made = _changed(PumpModel, model_id, expected_version, changes, "The pump model")
    _tell("pump-model.changed", made, by, code=made.code)
    return made


def _check_maker(maker_id: Any) -> None:
    if not Maker.objects.filter(pk=maker_id).exists():
        raise InvalidValue("There is no such maker.", remedy="GET /makers lists them.", pointer="#/maker")


@transaction.atomic(savepoint=False)
def register_wear_position(
    *,
    by: Caller,
    model_id: uuid.UUID,
    role: str,
    quantity: Decimal,
    mandatory: bool = True,
    serial_from: str = "",
    serial_to: str = "",
    variant: Mapping[str, str] | None = None,
    part_number: str = "",
    category: str = "",
    specification: str = "",
    position_id: uuid.UUID | None = None,
) -> WearPosition:
    """A position of a model: what an overhaul renews there and what it asks for, by number, specification or both.

    Raises `InvalidValue`, `SpecificationUnreadable`, `PositionClash`, `NotThere`.
    """
    require_operator_wide(by, *OWNERS)
    pump_model_for(model_id)
    if not PositionRole.objects.filter(code=role).exists():
        raise InvalidValue(f"{role!r} is no position role.", remedy="GET /position-roles lists them.", pointer="#/role")
    serials = _range(serial_from, serial_to)
    made = WearPosition.objects.create(
        pump_model_id=model_id,
        role_id=role,
        quantity=quantity,
        mandatory=mandatory,
        serial_from=serials.start,
        serial_to=serials.end,
        variant=dict(variant or {}),
        part_number=part_number,
        specification=asked_for(part_number, category, specification),
        **({"id": position_id} if position_id else {}),
    )
    _after_positions({model_id}, [(model_id, cut) for cut in serials.cuts()])
    _tell("wear-position.registered", made, by, pump_model=model_id, role=role)
    return made


@transaction.atomic(savepoint=False)
def change_wear_position(*, by: Caller, position_id: uuid.UUID, expected_version: int, **changes: Any) -> WearPosition:
    """Change quantity, part number, specification or whether it is mandatory. Raises `VersionChanged`."""
    require_operator_wide(by, *OWNERS)
    kept = WearPosition.objects.filter(pk=position_id).first()
    if kept is None:
        raise NotThere("The wear position is not here.", remedy="Check the id.")
    if "specification" in changes or "category" in changes:
        number = changes.get("part_number", kept.part_number)
        category = changes.pop("category", "") or str((kept.specification or {}).get("category", ""))
        changes["specification"] = asked_for(number, category, changes.get("specification", ""))
    made = _changed(WearPosition, position_id, expected_version, changes, "The wear position")
    _after_positions({made.pump_model_id}, [])
    _tell("wear-position.changed", made, by, pump_model=made.pump_model_id, role=made.role_id)
    return made


def asked_for(part_number: str, category: str, text: str) -> dict[str, Any] | None:
    """The typed specification a position asks for, None where only a number is. Raises `SpecificationUnreadable`,
    `InvalidValue` where it asks for nothing."""
    if not text:
        if not part_number:
            raise InvalidValue(
                "The position asks for nothing.",
                remedy="Give a part number, or a category with a specification.",
                pointer="#/part_number",
            )
        return None
    try:
        return parse_specification(category, text).to_json()
    except SpecificationError as error:
        raise unreadable(error) from error


def _range(serial_from: str, serial_to: str) -> SerialRange:
    try:
        return read_range(serial_from, serial_to)
    except RangeRefused as error:
        raise PositionClash(error.what, remedy=error.remedy, pointer=f"#/{error.field}") from error


def _after_positions(models: set[uuid.UUID], cuts: list[tuple[uuid.UUID, str]]) -> None:
    add_serial_cut_points(cuts)
    replace_pumps_of(models)


def _changed(kind: type[R], pk: uuid.UUID, expected_version: int, changes: dict[str, Any], what: str) -> R:
    done = kind._default_manager.filter(pk=pk, version=expected_version).update(**changes) if changes else 1
    found = kind._default_manager.filter(pk=pk).first()
    if found is None:
        raise NotThere(f"{what} is not here.", remedy="Check the id.")
    if not done:
        raise version_changed(what, found.version)
    return found


def _tell(kind: str, made: Record, by: Caller, **facts: Any) -> None:
    record_change(kind, noun=kind.split(".")[0], noun_id=made.pk, version=made.version, by=by, body=facts)
