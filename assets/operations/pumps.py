"""Pumps: registering and changing them; each finds its build class anew."""

import datetime
import uuid
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db import transaction

from assets.access import require_role
from assets.calculations.serial_ranges import normalise_serial
from assets.models import Fluid, Pump
from assets.operations.build_classes import place_pumps
from assets.queries.build_classes import as_built
from assets.queries.pump_models import pump_model_for
from assets.queries.pumps import pump_for
from services.api.refusals import InvalidValue
from services.api.versions import version_changed
from services.changes.recording import record_change
from services.identity.callers import Caller

KEEPERS = ("planner", "supervisor", "integrator", "admin")


@transaction.atomic(savepoint=False)
def register_pump(
    *,
    by: Caller,
    site_id: uuid.UUID,
    pump_model_id: uuid.UUID,
    tag: str,
    serial_number: str,
    fluid_id: uuid.UUID,
    temperature_min_c: Decimal,
    temperature_max_c: Decimal,
    criticality: str,
    variant: Mapping[str, str] | None = None,
    state: str = "in-service",
    installed_on: datetime.date | None = None,
    external_ids: Mapping[str, str] | None = None,
    pump_id: uuid.UUID | None = None,
) -> Pump:
    """A pump as its nameplate and its place say. Raises `NotThere`, `NotAllowed`, `InvalidValue`, `AlreadyThere`."""
    require_role(by, site_id, *KEEPERS, what="The site")
    pump_model_for(pump_model_id)
    _check_fluid(fluid_id)
    pump = Pump.objects.create(
        site_id=site_id,
        pump_model_id=pump_model_id,
        tag=tag.strip(),
        serial_number=normalise_serial(serial_number)[0],
        variant=as_built(variant or {}),
        fluid_id=fluid_id,
        temperature_min_c=temperature_min_c,
        temperature_max_c=temperature_max_c,
        criticality=criticality,
        state=state,
        installed_on=installed_on,
        external_ids=dict(external_ids or {}),
        **({"id": pump_id} if pump_id else {}),
    )
    return _placed("pump.registered", pump, by)


@transaction.atomic(savepoint=False)
def change_pump(*, by: Caller, pump_id: uuid.UUID, expected_version: int, **changes: Any) -> Pump:
    """Change a pump's data, or move it to another site where the caller may keep pumps too.

    Raises `VersionChanged`, `NotThere`, `NotAllowed`, `InvalidValue`.
    """
    pump_for(by, pump_id, *KEEPERS)
    if "site_id" in changes:
        require_role(by, changes["site_id"], *KEEPERS, what="The site")
    if "fluid_id" in changes:
        _check_fluid(changes["fluid_id"])
    if "serial_number" in changes:
        changes["serial_number"] = normalise_serial(changes["serial_number"])[0]
    if "variant" in changes:
        changes["variant"] = as_built(changes["variant"])
    pump = Pump.objects.select_for_update(no_key=True).get(pk=pump_id)
    if pump.version != expected_version:
        raise version_changed("The pump", pump.version)
    if changes:
        Pump.objects.filter(pk=pump_id).update(**changes)
    return _placed("pump.changed", pump, by)


def _check_fluid(fluid_id: uuid.UUID) -> None:
    if not Fluid.objects.filter(pk=fluid_id).exists():
        raise InvalidValue("There is no such fluid.", remedy="GET /fluids lists them.", pointer="#/fluid")


def _placed(kind: str, pump: Pump, by: Caller) -> Pump:
    kept = Pump.objects.select_related("fluid__family").get(pk=pump.pk)
    place_pumps([kept])
    kept.refresh_from_db()
    record_change(
        kind,
        noun="pump",
        noun_id=kept.pk,
        version=kept.version,
        site_id=kept.site_id,
        by=by,
        body={
            "tag": kept.tag,
            "serial_number": kept.serial_number,
            "state": kept.state,
            "pump_model": kept.pump_model_id,
        },
    )
    return kept
