"""What makers say kits are for: declared, its days changed. It never overrules the computed fit."""

import datetime
import uuid
from collections.abc import Iterable, Mapping
from typing import Any

from django.db import transaction

from assets.access import require_operator_wide
from assets.calculations.serial_ranges import RangeRefused, SerialRange, read_range
from assets.operations.build_classes import add_serial_cut_points, add_variant_cut_points
from assets.queries.pump_models import pump_models
from kits.models import Coverage, Kit
from kits.operations.parts import OWNERS
from services.api.refusals import InvalidValue, NotThere
from services.api.versions import version_changed
from services.changes.recording import record_change
from services.identity.callers import Caller


@transaction.atomic(savepoint=False)
def declare_coverage(
    *,
    by: Caller,
    kit_id: uuid.UUID,
    model_id: uuid.UUID,
    serial_from: str = "",
    serial_to: str = "",
    variant: Mapping[str, str] | None = None,
    valid_from: datetime.date | None = None,
    valid_to: datetime.date | None = None,
) -> Coverage:
    """What the maker says a kit is for; said twice it is kept once. Raises `InvalidValue`."""
    require_operator_wide(by, *OWNERS)
    if not Kit.objects.filter(pk=kit_id).exists():
        raise InvalidValue("There is no such kit.", remedy="GET /kits lists them.", pointer="#/kit")
    if not pump_models(by=by).filter(pk=model_id).exists():
        raise InvalidValue("There is no such model.", remedy="GET /pump-models lists them.", pointer="#/pump_model")
    try:
        serials = read_range(serial_from, serial_to)
    except RangeRefused as error:
        raise InvalidValue(error.what, remedy=error.remedy, pointer=f"#/{error.field}") from error
    _check_days(valid_from, valid_to)
    made, new = Coverage.objects.get_or_create(
        kit_id=kit_id,
        pump_model_id=model_id,
        serial_from=serials.start,
        serial_to=serials.end,
        variant=dict(variant or {}),
        valid_from=valid_from,
        defaults={"valid_to": valid_to},
    )
    if new:
        tell_classes_apart([made])
        _tell("coverage.declared", made, by)
    return made


@transaction.atomic(savepoint=False)
def change_coverage(*, by: Caller, coverage_id: uuid.UUID, expected_version: int, **changes: Any) -> Coverage:
    """Change the days on which a word holds. Raises `NotThere`, `VersionChanged`, `InvalidValue`."""
    require_operator_wide(by, *OWNERS)
    kept = Coverage.objects.filter(pk=coverage_id).first()
    if kept is None:
        raise NotThere("The declaration is not here.", remedy="GET /coverage lists them.")
    _check_days(changes.get("valid_from", kept.valid_from), changes.get("valid_to", kept.valid_to))
    done = Coverage.objects.filter(pk=coverage_id, version=expected_version).update(**changes) if changes else 1
    kept.refresh_from_db()
    if not done:
        raise version_changed("The declaration", kept.version)
    _tell("coverage.changed", kept, by)
    return kept


def tell_classes_apart(some: Iterable[Coverage]) -> None:
    """Make known where belonging to these declarations begins and ends, and by which as-built entries."""
    fresh = list(some)
    add_serial_cut_points(
        (one.pump_model_id, cut) for one in fresh for cut in SerialRange(one.serial_from, one.serial_to).cuts()
    )
    add_variant_cut_points((one.pump_model_id, name) for one in fresh for name in one.variant)


def _check_days(valid_from: datetime.date | None, valid_to: datetime.date | None) -> None:
    if valid_from is not None and valid_to is not None and valid_to < valid_from:
        raise InvalidValue("It ends before it begins.", remedy="Swap the two days.", pointer="#/valid_to")


def _tell(kind: str, made: Coverage, by: Caller) -> None:
    record_change(
        kind,
        noun="coverage",
        noun_id=made.pk,
        version=made.version,
        by=by,
        body={
            "kit": made.kit_id,
            "pump_model": made.pump_model_id,
            "serial_from": made.serial_from,
            "serial_to": made.serial_to,
            "variant": made.variant,
            "valid_from": made.valid_from,
            "valid_to": made.valid_to,
        },
    )
