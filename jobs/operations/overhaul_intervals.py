"""How long pumps may run between overhauls. The data owner keeps it."""

import uuid
from functools import partial
from typing import Any

from assets.operations.table_rows import Table, add_row, change_row, remove_row
from assets.queries.pump_models import pump_models
from jobs.models import OverhaulInterval
from services.api.refusals import InvalidValue
from services.identity.callers import Caller

INTERVALS = Table(
    OverhaulInterval,
    "overhaul-interval",
    "The overhaul interval",
    lambda one: {
        "criticality": one.criticality,
        "pump_model": one.pump_model_id,
        "months": one.months,
        "running_hours": one.running_hours,
        "accepted_chance": one.accepted_chance,
        "months_ahead": one.months_ahead,
        "source": one.source,
    },
)


def add_interval(
    *, by: Caller, row_id: uuid.UUID | None, pump_model: uuid.UUID | None = None, **fields: Any
) -> OverhaulInterval:
    """A row for a criticality, or for a model in it. Raises `NotAllowed`, `AlreadyThere`, `InvalidValue`."""
    if pump_model is not None and not pump_models(by=by).filter(pk=pump_model).exists():
        raise InvalidValue(
            "There is no such pump model.", remedy="GET /pump-models lists them.", pointer="#/pump_model"
        )
    return add_row(INTERVALS, by=by, row_id=row_id, pump_model_id=pump_model, **fields)


change_interval = partial(change_row, INTERVALS)
remove_interval = partial(remove_row, INTERVALS)
