"""The tables of the trade as they are shipped, in the shapes that the calculations take."""

from decimal import Decimal
from functools import cache

import assets
import kits
from kits.calculations.assembly_lubricants import CautionRow, LubricantRow
from kits.calculations.material_suitability import LimitRow, RatingRow, SuitabilityTables
from kits.calculations.storage_life import GroupRow, StorageGroup
from services.api.trade_tables import read_trade_table


@cache
def rows_of(name):
    return read_trade_table(kits.__file__, name)


@cache
def families():
    return [one["code"] for one in read_trade_table(assets.__file__, "fluid_families")]


def _degrees(text):
    return Decimal(text) if text else None


def _rating(row, of):
    return RatingRow(
        row[of],
        row["fluid_family"],
        Decimal(row["up_to_c"]),
        row["rating"],
        row["source"],
        row["note"],
        row["chosen_because"],
    )


@cache
def shipped_tables():
    """Ratings, limits and seal faces."""
    water = {one["code"] for one in read_trade_table(assets.__file__, "fluid_families") if one["is_water"] == "yes"}
    return SuitabilityTables(
        ratings=[_rating(one, "material") for one in rows_of("material_ratings")],
        limits=[
            LimitRow(
                one["material"],
                _degrees(one["air_min_c"]),
                _degrees(one["air_max_c"]),
                _degrees(one["hot_water_max_c"]),
                one["source"],
                one["chosen_because"],
            )
            for one in rows_of("material_limits")
        ],
        water_families=frozenset(water),
        faces=[_rating(one, "seal_face") for one in rows_of("seal_face_ratings")],
        face_names={one["letters"]: one["name"] for one in rows_of("seal_faces")},
    )


def shipped_verdicts():
    """Which lubricant each material bears."""
    names = {one["code"]: one["name"] for one in rows_of("lubricants")}
    return [
        LubricantRow(
            one["material"], one["lubricant"], names[one["lubricant"]], one["verdict"], one["note"], one["source"],
            one["chosen_because"],
        )
        for one in rows_of("lubricant_verdicts")
    ]  # fmt: skip


def shipped_cautions():
    """Cautions of assembly."""
    return [
        CautionRow(one["code"], one["sentence"], one["occasion"], one["lubricant"], one["source"])
        for one in rows_of("assembly_cautions")
    ]


def shipped_groups(material):
    """The storage groups that sources name for a material."""
    groups = {
        one["code"]: StorageGroup(one["code"], int(one["initial_years"]), int(one["extension_years"]))
        for one in rows_of("storage_groups")
    }
    return [
        GroupRow(groups[one["storage_group"]], one["source"], one["chosen_because"])
        for one in rows_of("material_storage_groups")
        if one["material"] == material
    ]
