"""Registering instruments and renewing their calibration."""

import uuid
from typing import Any

from django.db import transaction

from assets.access import narrow, require_role
from assets.calculations.units import UnknownUnit, known_units
from assets.calculations.written_units import unit_written
from jobs.models import Instrument
from services.api.refusals import InvalidValue, NotThere
from services.api.versions import version_changed
from services.changes.recording import record_change
from services.identity.callers import Caller

KEEPERS = ("supervisor", "planner", "integrator", "admin")


@transaction.atomic(savepoint=False)
def register_instrument(*, by: Caller, site_id: uuid.UUID, **figures: Any) -> Instrument:
    """A new instrument at a site, its unit by its usual name. Raises `NotThere`, `NotAllowed`, `AlreadyThere`,
    `InvalidValue`."""
    require_role(by, site_id, *KEEPERS, what="The site")
    figures["unit"] = usual_unit(str(figures["unit"]))
    instrument = Instrument.objects.create(site_id=site_id, **figures)
    _tell("instrument.registered", instrument, by)
    return instrument


@transaction.atomic(savepoint=False)
def change_instrument(*, by: Caller, instrument_id: uuid.UUID, expected_version: int, **figures: Any) -> Instrument:
    """Change figures or calibration dates. Raises `NotThere`, `NotAllowed`, `VersionChanged`."""
    instrument = narrow(Instrument.objects.select_for_update(no_key=True), by).filter(pk=instrument_id).first()
    if instrument is None:
        raise NotThere("The instrument is not here.", remedy="Check the id, or ask for a role at its site.")
    require_role(by, instrument.site_id, *KEEPERS)
    if instrument.version != expected_version:
        raise version_changed("The instrument", instrument.version)
    Instrument.objects.filter(pk=instrument.pk).update(**figures)
    instrument.refresh_from_db()
    _tell("instrument.changed", instrument, by)
    return instrument


def usual_unit(written: str) -> str:
    """A unit by the name it is known by here: nothing could be judged in another. Raises `InvalidValue`."""
    try:
        return unit_written(written)
    except UnknownUnit as error:
        raise InvalidValue(
            f"{written[:20]!r} is no unit known here.",
            remedy=f"Known: {', '.join(known_units())}.",
            pointer="#/unit",
        ) from error


def _tell(kind: str, instrument: Instrument, by: Caller) -> None:
    record_change(
        kind,
        noun="instrument",
        noun_id=instrument.pk,
        version=instrument.version,
        site_id=instrument.site_id,
        by=by,
        body={"number": instrument.number, "type": instrument.type, "calibration_due": instrument.calibration_due},
    )
