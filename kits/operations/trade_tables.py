"""The trade's tables that kits need, put in where they are missing; what the data owner changed stays."""

from decimal import Decimal
from typing import Any

from django.db import transaction

import kits
from assets.operations.build_classes import add_temperature_cut_points
from assets.queries.pump_models import fluid_family_ids, position_role_ids
from kits.models import (
    KitScope,
    Lubricant,
    LubricantAdvice,
    Material,
    MaterialRating,
    ServiceTarget,
    StorageGroup,
)
from kits.queries.materials import suitability_tables
from services.api.trade_tables import read_trade_table


@transaction.atomic(savepoint=False)
def load_trade_tables() -> dict[str, int]:
    """Insert missing rows of every table; how many of each were new. For the installer only: it passes no gate.

    Temperatures at which a material's verdict changes become cut points of build classes.
    """
    counts = {
        "storage groups": _storage_groups(),
        "materials": _materials(),
        "material ratings": _ratings(),
        "lubricants": _lubricants(),
        "lubricant advice": _advice(),
        "kit scopes": _scopes(),
        "service targets": _targets(),
    }
    add_temperature_cut_points(suitability_tables().cut_points())
    return counts


def _storage_groups() -> int:
    known = set(StorageGroup.objects.values_list("code", flat=True))
    fresh = [
        StorageGroup(
            code=row["code"],
            initial_years=int(row["initial_years"]),
            extension_years=int(row["extension_years"]),
            source=row["source"],
        )
        for row in read_trade_table(kits.__file__, "storage_groups")
        if row["code"] not in known
    ]
    StorageGroup.objects.bulk_create(fresh)
    return len(fresh)


def _materials() -> int:
    known = set(Material.objects.values_list("code", flat=True))
    groups = dict(StorageGroup.objects.values_list("code", "id"))
    fresh = [
        Material(
            code=row["code"],
            name=row["name"],
            aliases=[one for one in row["aliases"].split("|") if one],
            air_min_c=_degrees(row["air_min_c"]),
            air_max_c=_degrees(row["air_max_c"]),
            hot_water_max_c=_degrees(row["hot_water_max_c"]),
            storage_group_id=groups.get(row["storage_group"]),
            note=row["note"],
            source=row["source"],
        )
        for row in read_trade_table(kits.__file__, "materials")
        if row["code"] not in known
    ]
    Material.objects.bulk_create(fresh)
    return len(fresh)


def _degrees(text: str) -> Decimal | None:
    return Decimal(text) if text else None


def _ratings() -> int:
    materials = dict(Material.objects.values_list("code", "id"))
    families = fluid_family_ids()
    known = set(MaterialRating.objects.values_list("material_id", "fluid_family_id", "up_to_c"))
    fresh = [
        MaterialRating(material_id=key[0], fluid_family_id=key[1], up_to_c=key[2], rating=rating, source=source)
        for row in read_trade_table(kits.__file__, "material_ratings")
        for rating, source in [(row["rating"], row["source"])]
        for key in [(materials[row["material"]], families[row["fluid_family"]], Decimal(row["up_to_c"]))]
        if key not in known
    ]
    MaterialRating.objects.bulk_create(fresh)
    return len(fresh)


def _lubricants() -> int:
    known = set(Lubricant.objects.values_list("code", flat=True))
    fresh = [
        Lubricant(code=row["code"], name=row["name"])
        for row in read_trade_table(kits.__file__, "lubricants")
        if row["code"] not in known
    ]
    Lubricant.objects.bulk_create(fresh)
    return len(fresh)


def _advice() -> int:
    materials = dict(Material.objects.values_list("code", "id"))
    lubricants = dict(Lubricant.objects.values_list("code", "id"))
    known = set(LubricantAdvice.objects.values_list("material_id", "lubricant_id"))
    fresh = [
        LubricantAdvice(
            material_id=materials[row["material"]],
            lubricant_id=lubricants[row["lubricant"]],
            verdict=row["verdict"],
            note=row["note"],
            source=row["source"],
        )
        for row in read_trade_table(kits.__file__, "lubricant_advice")
        if (materials[row["material"]], lubricants[row["lubricant"]]) not in known
    ]
    LubricantAdvice.objects.bulk_create(fresh)
    return len(fresh)


def _scopes() -> int:
    roles = position_role_ids()
    count = 0
    known = set(KitScope.objects.values_list("code", flat=True))
    for row in read_trade_table(kits.__file__, "kit_scopes"):
        if row["code"] not in known:
            scope = KitScope.objects.create(code=row["code"], name=row["name"])
            wanted: Any = [roles[code] for code in row["roles"].split("|")]
            scope.roles.set(wanted)
            count += 1
    return count


def _targets() -> int:
    known = set(ServiceTarget.objects.values_list("criticality", flat=True))
    fresh = [
        ServiceTarget(criticality=row["criticality"], fill_rate=Decimal(row["fill_rate"]), source=row["source"])
        for row in read_trade_table(kits.__file__, "service_targets")
        if row["criticality"] not in known
    ]
    ServiceTarget.objects.bulk_create(fresh)
    return len(fresh)
