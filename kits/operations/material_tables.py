"""Materials with their limits, ratings and storage groups, a row a source. The data owner keeps them."""

import uuid
from typing import Any

from django.db import transaction

from assets.access import require_operator_wide
from assets.operations.build_classes import add_temperature_cut_points
from assets.operations.table_rows import OWNERS, Table, add_row, change_row, lock_row, named_id, remove_row
from assets.queries.pump_models import fluid_family_ids
from kits.models import Material, MaterialLimit, MaterialRating, MaterialStorageGroup, StorageGroup
from kits.operations.storage_of_materials import parts_follow, settle_storage_groups
from kits.queries.materials import material_ids, storage_group_ids, suitability_tables
from kits.queries.parts import numbers_of_parts_with
from services.api.refusals import StillNeeded
from services.identity.callers import Caller

MATERIALS = Table(
    Material, "material", "The material", lambda one: {"code": one.code, "name": one.name, "aliases": one.aliases}
)
LIMITS = Table(
    MaterialLimit,
    "material-limit",
    "The limit",
    lambda one: {
        "material": one.material.code,
        "air_min_c": one.air_min_c,
        "air_max_c": one.air_max_c,
        "hot_water_max_c": one.hot_water_max_c,
        "chosen_because": one.chosen_because,
        "source": one.source,
    },
)
RATINGS = Table(
    MaterialRating,
    "material-rating",
    "The rating",
    lambda one: {
        "material": one.material.code,
        "fluid_family": one.fluid_family.code,
        "up_to_c": one.up_to_c,
        "rating": one.rating,
        "chosen_because": one.chosen_because,
        "source": one.source,
    },
)
GROUPS = Table(
    StorageGroup,
    "storage-group",
    "The storage group",
    lambda one: {
        "code": one.code,
        "initial_years": one.initial_years,
        "extension_years": one.extension_years,
        "source": one.source,
    },
)
GROUPS_OF_MATERIALS = Table(
    MaterialStorageGroup,
    "material-storage-group",
    "The storage group of the material",
    lambda one: {
        "material": one.material.code,
        "storage_group": one.storage_group.code,
        "chosen_because": one.chosen_because,
        "source": one.source,
    },
)


@transaction.atomic(savepoint=False)
def remove_material(*, by: Caller, row_id: uuid.UUID, expected_version: int) -> Material:
    """Take out a material that no part is made of and no row of another table judges. Raises `StillNeeded`."""
    found = lock_row(MATERIALS, by=by, row_id=row_id, expected_version=expected_version)
    numbers = numbers_of_parts_with(found.code)
    if numbers:
        raise StillNeeded(
            f"Parts are made of {found.code}, such as {', '.join(numbers)}.", remedy="Change those parts first."
        )
    return remove_row(MATERIALS, by=by, row_id=row_id, expected_version=expected_version)


@transaction.atomic(savepoint=False)
def add_limit(*, by: Caller, material: str, row_id: uuid.UUID | None = None, **figures: Any) -> MaterialLimit:
    """Temperature limits of a material after one more source. Raises `InvalidValue`, `AlreadyThere`."""
    require_operator_wide(by, *OWNERS)
    material_id = named_id("material", material, material_ids())
    made = add_row(LIMITS, by=by, row_id=row_id, material_id=material_id, **figures)
    cut_where_verdicts_change()
    return made


@transaction.atomic(savepoint=False)
def change_limit(*, by: Caller, row_id: uuid.UUID, expected_version: int, **figures: Any) -> MaterialLimit:
    """Change limits, or choose them. Raises `NotThere`, `VersionChanged`, `InvalidValue`."""
    made = change_row(LIMITS, by=by, row_id=row_id, expected_version=expected_version, **figures)
    cut_where_verdicts_change()
    return made


@transaction.atomic(savepoint=False)
def remove_limit(*, by: Caller, row_id: uuid.UUID, expected_version: int) -> MaterialLimit:
    """Take out what one source says of a material's limits; what counts may be another figure then."""
    gone = remove_row(LIMITS, by=by, row_id=row_id, expected_version=expected_version)
    cut_where_verdicts_change()
    return gone


@transaction.atomic(savepoint=False)
def add_rating(
    *, by: Caller, material: str, fluid_family: str, row_id: uuid.UUID | None = None, **figures: Any
) -> MaterialRating:
    """A rating of a material in a family after one source. Raises `InvalidValue`, `AlreadyThere`."""
    require_operator_wide(by, *OWNERS)
    made = add_row(
        RATINGS,
        by=by,
        row_id=row_id,
        material_id=named_id("material", material, material_ids()),
        fluid_family_id=named_id("fluid_family", fluid_family, fluid_family_ids()),
        **figures,
    )
    cut_where_verdicts_change()
    return made


@transaction.atomic(savepoint=False)
def change_rating(*, by: Caller, row_id: uuid.UUID, expected_version: int, **figures: Any) -> MaterialRating:
    """Change a rating or its temperature, or choose it. Raises `NotThere`, `VersionChanged`, `InvalidValue`."""
    made = change_row(RATINGS, by=by, row_id=row_id, expected_version=expected_version, **figures)
    cut_where_verdicts_change()
    return made


def cut_where_verdicts_change() -> None:
    """Make every temperature at which a verdict changes a cut point of build classes. Must run inside a transaction."""
    add_temperature_cut_points(suitability_tables().cut_points())


@transaction.atomic(savepoint=False)
def add_group_of_material(
    *, by: Caller, material: str, storage_group: str, row_id: uuid.UUID | None = None, **figures: Any
) -> MaterialStorageGroup:
    """The group into which one source puts a material; its parts follow, lots keep the expiry they were given."""
    require_operator_wide(by, *OWNERS)
    made = add_row(
        GROUPS_OF_MATERIALS,
        by=by,
        row_id=row_id,
        material_id=named_id("material", material, material_ids()),
        storage_group_id=named_id("storage_group", storage_group, storage_group_ids()),
        **figures,
    )
    settle_storage_groups([made.material_id], by=by)
    return made


@transaction.atomic(savepoint=False)
def change_group_of_material(
    *, by: Caller, row_id: uuid.UUID, expected_version: int, **figures: Any
) -> MaterialStorageGroup:
    """Another group, or the choice of it; its parts follow, lots keep the expiry they were given."""
    require_operator_wide(by, *OWNERS)
    if "storage_group" in figures:
        figures["storage_group_id"] = named_id("storage_group", figures.pop("storage_group"), storage_group_ids())
    made = change_row(GROUPS_OF_MATERIALS, by=by, row_id=row_id, expected_version=expected_version, **figures)
    settle_storage_groups([made.material_id], by=by)
    return made


@transaction.atomic(savepoint=False)
def remove_group_of_material(*, by: Caller, row_id: uuid.UUID, expected_version: int) -> MaterialStorageGroup:
    """Take out what one source says; without any the material and its parts do not age from then on."""
    gone = remove_row(GROUPS_OF_MATERIALS, by=by, row_id=row_id, expected_version=expected_version)
    settle_storage_groups([gone.material_id], by=by)
    return gone


@transaction.atomic(savepoint=False)
def change_storage_group(*, by: Caller, row_id: uuid.UUID, expected_version: int, **figures: Any) -> StorageGroup:
    """Other years. Which group counts for a material, and for a part of several, may change by it; lots keep the expiry
    they were given."""
    made = change_row(GROUPS, by=by, row_id=row_id, expected_version=expected_version, **figures)
    rows = MaterialStorageGroup.objects.filter(storage_group=made)
    settle_storage_groups(set(rows.values_list("material_id", flat=True)), by=by)
    parts_follow(Material.objects.filter(storage_group=made).values_list("code", flat=True), by=by)
    return made
