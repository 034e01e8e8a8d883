"""Materials of seal faces and how they bear fluids, a row a source. The data owner keeps them."""

import uuid
from typing import Any

from django.db import transaction

from assets.access import require_operator_wide
from assets.operations.table_rows import OWNERS, Table, add_row, change_row, named_id
from assets.queries.pump_models import fluid_family_ids
from kits.models import SealFace, SealFaceRating
from kits.operations.material_tables import cut_where_verdicts_change
from kits.queries.trade_tables import seal_face_ids
from services.identity.callers import Caller

SEAL_FACES = Table(SealFace, "seal-face", "The seal face", lambda one: {"letters": one.letters, "name": one.name})
SEAL_FACE_RATINGS = Table(
    SealFaceRating,
    "seal-face-rating",
    "The rating of the seal face",
    lambda one: {
        "seal_face": one.seal_face.letters,
        "fluid_family": one.fluid_family.code,
        "up_to_c": one.up_to_c,
        "rating": one.rating,
        "chosen_because": one.chosen_because,
        "source": one.source,
    },
)


@transaction.atomic(savepoint=False)
def add_face_rating(
    *, by: Caller, seal_face: str, fluid_family: str, row_id: uuid.UUID | None = None, **figures: Any
) -> SealFaceRating:
    """A rating of a seal face in a family after one source. Raises `InvalidValue`, `AlreadyThere`."""
    require_operator_wide(by, *OWNERS)
    made = add_row(
        SEAL_FACE_RATINGS,
        by=by,
        row_id=row_id,
        seal_face_id=named_id("seal_face", seal_face, seal_face_ids()),
        fluid_family_id=named_id("fluid_family", fluid_family, fluid_family_ids()),
        **figures,
    )
    cut_where_verdicts_change()
    return made


@transaction.atomic(savepoint=False)
def change_face_rating(*, by: Caller, row_id: uuid.UUID, expected_version: int, **figures: Any) -> SealFaceRating:
    """Change a rating or its temperature, or choose it. Raises `NotThere`, `VersionChanged`."""
    made = change_row(SEAL_FACE_RATINGS, by=by, row_id=row_id, expected_version=expected_version, **figures)
    cut_where_verdicts_change()
    return made
