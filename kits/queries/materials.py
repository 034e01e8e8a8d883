"""Reading the tables of materials, lubricants and storage."""

import uuid
from collections.abc import Iterable
from typing import Any

from kits.calculations.material_suitability import (
    LimitRow,
    LubricantRow,
    RatingRow,
    SuitabilityTables,
    lubricant_advice,
)
from kits.models import LubricantAdvice, Material, MaterialRating

FALLBACK = "soft-soap"


def suitability_tables() -> SuitabilityTables:
    """Ratings and limits of all materials. Two queries."""
    water = set()
    ratings = []
    for material, family, is_water, up_to_c, rating, source in MaterialRating.objects.values_list(
        "material__code", "fluid_family__code", "fluid_family__is_water", "up_to_c", "rating", "source"
    ):
        ratings.append(RatingRow(material, family, up_to_c, rating, source))
        if is_water:
            water.add(family)
    limits = [
        LimitRow(code, low, high, hot, source)
        for code, low, high, hot, source in Material.objects.values_list(
            "code", "air_min_c", "air_max_c", "hot_water_max_c", "source"
        )
    ]
    return SuitabilityTables(ratings, limits, frozenset(water))


def lubricant_advice_for(elastomers: Iterable[str]) -> list[dict[str, Any]]:
    """What may be used to fit parts of these elastomers, what is usable first. One query."""
    rows = [
        LubricantRow(material, lubricant, name, verdict, note, source)
        for material, lubricant, name, verdict, note, source in LubricantAdvice.objects.values_list(
            "material__code", "lubricant__code", "lubricant__name", "verdict", "note", "source"
        )
    ]
    return [
        {
            "lubricant": one.lubricant,
            "name": one.name,
            "verdict": one.verdict,
            "material": one.material,
            "note": one.note,
            "source": one.source,
        }
        for one in lubricant_advice(elastomers, rows, FALLBACK)
    ]


def storage_groups_of_materials() -> dict[str, tuple[int, uuid.UUID]]:
    """(years it keeps, the storage group's id) of each material that ages, by ISO 1629 code. One query."""
    rows = Material.objects.filter(storage_group__isnull=False).values_list(
        "code", "storage_group__initial_years", "storage_group_id"
    )
    return {code: (years, group) for code, years, group in rows}
