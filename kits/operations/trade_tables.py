"""The trade's tables that kits need, put in where they are missing; what the data owner changed stays."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import Model

import kits
from assets.operations.build_classes import add_temperature_cut_points
from assets.queries.pump_models import fluid_family_ids, position_role_ids
from kits.models import (
    AssemblyCaution,
    KitScope,
    Lubricant,
    LubricantAdvice,
    Material,
    MaterialLimit,
    MaterialRating,
    MaterialStorageGroup,
    SealFace,
    SealFaceRating,
    ServiceTarget,
    StorageGroup,
)
from kits.operations.storage_of_materials import settle_storage_groups
from kits.queries.materials import material_ids, storage_group_ids, suitability_tables
from kits.queries.trade_tables import lubricant_ids, seal_face_ids
from services.api.trade_tables import read_trade_table

Row = dict[str, str]


@transaction.atomic(savepoint=False)
def load_trade_tables() -> dict[str, int]:
    """Insert missing rows of every table; how many of each were new. For the installer only: it passes no gate.

    Figures that several sources may give go in together where none is there yet, so that what the data owner took out
    does not return. Temperatures at which a material's verdict changes become cut points of build classes.
    """
    counts = {
        "storage groups": _missing(StorageGroup, "storage_groups", ("code",), _storage_group),
        "materials": _missing(Material, "materials", ("code",), _material),
        "lubricants": _missing(Lubricant, "lubricants", ("code",), _lubricant),
        "seal faces": _missing(SealFace, "seal_faces", ("letters",), dict),
        "service targets": _missing(ServiceTarget, "service_targets", ("criticality",), dict),
        "kit scopes": _scopes(),
    }
    materials, families = material_ids(), fluid_family_ids()
    groups, lubricants, faces = storage_group_ids(), lubricant_ids(), seal_face_ids()
    counts |= {
        "material limits": _missing(
            MaterialLimit,
            "material_limits",
            ("material_id",),
            lambda row: _figure(row, material_id=materials) | {name: _degrees(row[name]) for name in LIMITS},
        ),
        "material ratings": _missing(
            MaterialRating,
            "material_ratings",
            ("material_id", "fluid_family_id"),
            lambda row: _figure(row, material_id=materials, fluid_family_id=families) | _rating(row),
        ),
        "material storage groups": _missing(
            MaterialStorageGroup,
            "material_storage_groups",
            ("material_id",),
            lambda row: _figure(row, material_id=materials, storage_group_id=groups),
        ),
        "seal face ratings": _missing(
            SealFaceRating,
            "seal_face_ratings",
            ("seal_face_id", "fluid_family_id"),
            lambda row: _figure(row, seal_face_id=faces, fluid_family_id=families) | _rating(row),
        ),
        "lubricant verdicts": _missing(
            LubricantAdvice,
            "lubricant_verdicts",
            ("material_id", "lubricant_id"),
            lambda row: _figure(row, material_id=materials, lubricant_id=lubricants) | {"verdict": row["verdict"]},
        ),
        "assembly cautions": _missing(
            AssemblyCaution,
            "assembly_cautions",
            ("code",),
            lambda row: (
                {name: row[name] for name in ("code", "sentence", "occasion", "source")}
                | {"lubricant_id": lubricants.get(row["lubricant"])}
            ),
        ),
    }
    settle_storage_groups(material_ids().values(), by=None)
    add_temperature_cut_points(suitability_tables().cut_points())
    return counts


LIMITS = ("air_min_c", "air_max_c", "hot_water_max_c")


def _missing(model: type[Model], table: str, key: tuple[str, ...], fields: Callable[[Row], dict[str, Any]]) -> int:
    """Insert the rows of a table whose key no stored row has; several rows of one key go in together."""
    known = set(model._default_manager.values_list(*key))
    rows = [fields(row) for row in read_trade_table(kits.__file__, table)]
    fresh = [model(**row) for row in rows if tuple(row[name] for name in key) not in known]
    model._default_manager.bulk_create(fresh)
    return len(fresh)


def _figure(row: Row, **ids: dict[str, Any]) -> dict[str, Any]:
    found = {name: known[row[name.removesuffix("_id")]] for name, known in ids.items()}
    return found | {"note": row["note"], "chosen_because": row["chosen_because"], "source": row["source"]}


def _rating(row: Row) -> dict[str, Any]:
    return {"up_to_c": Decimal(row["up_to_c"]), "rating": row["rating"]}


def _degrees(text: str) -> Decimal | None:
    return Decimal(text) if text else None


def _storage_group(row: Row) -> dict[str, Any]:
    years = {name: int(row[name]) for name in ("initial_years", "extension_years")}
    return row | years


def _material(row: Row) -> dict[str, Any]:
    return row | {"aliases": [one for one in row["aliases"].split("|") if one]}


def _lubricant(row: Row) -> dict[str, Any]:
    return row | {"suits_unknown": row["suits_unknown"] == "yes"}


def _scopes() -> int:
    roles = position_role_ids()
    count = 0
    known = set(KitScope.objects.values_list("code", flat=True))
    for row in read_trade_table(kits.__file__, "kit_scopes"):
        if row["code"] not in known:
            scope = KitScope.objects.create(code=row["code"], name=row["name"], source=row["source"])
            wanted: Any = [roles[code] for code in row["roles"].split("|")]
            scope.roles.set(wanted)
            count += 1
    return count
