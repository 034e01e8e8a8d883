"""Assembly lubricants, which material bears which, and the cautions of assembly. The data owner keeps them."""

import uuid
from typing import Any

from django.db import transaction

from assets.access import require_operator_wide
from assets.operations.table_rows import OWNERS, Table, add_row, change_row, named_id
from kits.models import AssemblyCaution, Lubricant, LubricantAdvice
from kits.queries.materials import material_ids
from kits.queries.trade_tables import lubricant_ids
from services.identity.callers import Caller

LUBRICANTS = Table(
    Lubricant,
    "lubricant",
    "The lubricant",
    lambda one: {"code": one.code, "name": one.name, "suits_unknown": one.suits_unknown},
)
VERDICTS = Table(
    LubricantAdvice,
    "lubricant-verdict",
    "The verdict on the lubricant",
    lambda one: {
        "material": one.material.code,
        "lubricant": one.lubricant.code,
        "verdict": one.verdict,
        "chosen_because": one.chosen_because,
        "source": one.source,
    },
)
CAUTIONS = Table(
    AssemblyCaution,
    "assembly-caution",
    "The caution",
    lambda one: {"code": one.code, "sentence": one.sentence, "occasion": one.occasion},
)


@transaction.atomic(savepoint=False)
def add_lubricant_verdict(
    *, by: Caller, material: str, lubricant: str, row_id: uuid.UUID | None = None, **figures: Any
) -> LubricantAdvice:
    """Whether a lubricant may touch a material after one source. Raises `InvalidValue`, `AlreadyThere`."""
    require_operator_wide(by, *OWNERS)
    return add_row(
        VERDICTS,
        by=by,
        row_id=row_id,
        material_id=named_id("material", material, material_ids()),
        lubricant_id=named_id("lubricant", lubricant, lubricant_ids()),
        **figures,
    )


@transaction.atomic(savepoint=False)
def add_caution(
    *, by: Caller, lubricant: str | None = None, row_id: uuid.UUID | None = None, **figures: Any
) -> AssemblyCaution:
    """A caution of assembly; one for a usable lubricant names it. Raises `InvalidValue`, `AlreadyThere`."""
    require_operator_wide(by, *OWNERS)
    lubricant_id = named_id("lubricant", lubricant, lubricant_ids()) if lubricant else None
    return add_row(CAUTIONS, by=by, row_id=row_id, lubricant_id=lubricant_id, **figures)


@transaction.atomic(savepoint=False)
def change_caution(*, by: Caller, row_id: uuid.UUID, expected_version: int, **figures: Any) -> AssemblyCaution:
    """Other words, or another occasion. Raises `NotThere`, `VersionChanged`, `InvalidValue`."""
    require_operator_wide(by, *OWNERS)
    if "lubricant" in figures:
        code = figures.pop("lubricant")
        figures["lubricant_id"] = named_id("lubricant", code, lubricant_ids()) if code else None
    return change_row(CAUTIONS, by=by, row_id=row_id, expected_version=expected_version, **figures)
