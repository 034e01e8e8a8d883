"""What makers say kits are for, handed in as rows of files."""

import uuid
from collections.abc import Sequence
from typing import Any

from django.db import transaction

from assets.access import require_operator_wide
from assets.calculations.build_class import read_conditions
from assets.calculations.serial_ranges import RangeRefused, read_range
from assets.queries.pump_models import pump_models_by_code
from kits.models import Coverage
from kits.operations.coverage import tell_classes_apart
from kits.operations.parts import OWNERS
from kits.operations.row_figures import versions_of
from kits.queries.kits import kits_by_number
from services.api.loading import LoadRow, RowOutcome
from services.api.many_rows import insert_many, update_many
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller


@transaction.atomic(savepoint=False)
def load_coverage(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """What makers say kits are for, keyed by kit, revision, model, serial range, variant and first day. A last day that
    is known stays where a row names none. A fixed number of queries for any number of rows."""
    require_operator_wide(by, *OWNERS)
    kits = kits_by_number({str(row.values["kit"]) for row in rows})
    models = pump_models_by_code({str(row.values["model"]) for row in rows})
    known = {_key_of(one): one for one in Coverage.objects.filter(kit_id__in=kits.values())}
    outcomes: list[RowOutcome] = []
    fresh: list[Coverage] = []
    changed: dict[uuid.UUID, Coverage] = {}
    for row in rows:
        key = f"{row.values['kit']} {row.values['revision']} {row.values['model']}"
        made = _declaration(row, key, kits, models)
        if isinstance(made, RowOutcome):
            outcomes.append(made)
            continue
        old = known.get(_key_of(made))
        if old is None:
            known[_key_of(made)] = made
            fresh.append(made)
            outcomes.append(RowOutcome(row.number, key, "created"))
        elif made.valid_to is not None and made.valid_to != old.valid_to:
            old.valid_to = made.valid_to
            if old not in fresh:
                changed[old.pk] = old
            outcomes.append(RowOutcome(row.number, key, "changed"))
        else:
            outcomes.append(RowOutcome(row.number, key, "unchanged"))
    insert_many(fresh)
    update_many(list(changed.values()), ["valid_to"])
    tell_classes_apart(fresh)
    versions = versions_of(list(changed.values()))
    record_changes(
        [
            Recorded(
                kind,
                "coverage",
                one.pk,
                versions.get(one.pk, one.version),
                None,
                {"kit": one.kit_id, "model": one.pump_model_id},
            )
            for kind, some in (("coverage.declared", fresh), ("coverage.changed", list(changed.values())))
            for one in some
        ],
        by=by,
    )
    return outcomes


def _key_of(one: Coverage) -> tuple[Any, ...]:
    variant = tuple(sorted((one.variant or {}).items()))
    return one.kit_id, one.pump_model_id, one.serial_from, one.serial_to, variant, one.valid_from


def _declaration(
    row: LoadRow, key: str, kits: dict[tuple[str, str], uuid.UUID], models: dict[str, uuid.UUID]
) -> Coverage | RowOutcome:
    values = row.values
    kit_id, model_id = kits.get((str(values["kit"]), str(values["revision"]))), models.get(str(values["model"]))
    if kit_id is None:
        return RowOutcome.refused(row, key, "kit", "No such revision of a kit.", "Load the kits first.")
    if model_id is None:
        return RowOutcome.refused(row, key, "model", "No such model.", "Load the pump models first.")
    try:
        serials = read_range(str(values.get("serial_from") or ""), str(values.get("serial_to") or ""))
    except RangeRefused as error:
        return RowOutcome.refused(row, key, error.field, error.what, error.remedy)
    variant = read_conditions(str(values.get("variant") or ""))
    if variant is None:
        return RowOutcome.refused(
            row, key, "variant", "It is no list of conditions.", "Write name=value, separated by semicolons."
        )
    if any(len(name) > 60 for name in variant):
        return RowOutcome.refused(row, key, "variant", "A name is longer than 60 characters.", "Shorten it.")
    first, last = values.get("valid_from"), values.get("valid_to")
    if first is not None and last is not None and last < first:
        return RowOutcome.refused(row, key, "valid_to", "It ends before it begins.", "Swap the two days.")
    return Coverage(
        kit_id=kit_id,
        pump_model_id=model_id,
        serial_from=serials.start,
        serial_to=serials.end,
        variant=variant,
        valid_from=first,
        valid_to=last,
    )
