"""Reading the tables of materials, seal faces, lubricants and storage. Every signed-in principal may."""

import datetime
import uuid
from collections.abc import Iterable
from decimal import Decimal
from functools import lru_cache
from typing import Any

from django.db.models import QuerySet

from assets.models import FluidFamily
from kits.calculations.assembly_lubricants import (
    CautionRow,
    LubricantRow,
    cautions_for,
    lubricant_advice,
    unknown_materials,
)
from kits.calculations.material_suitability import LimitRow, MaterialVerdict, RatingRow, SuitabilityTables
from kits.calculations.storage_life import GroupRow, StorageGroup, StorageLife, storage_lives
from kits.models import (
    AssemblyCaution,
    Lubricant,
    LubricantAdvice,
    Material,
    MaterialLimit,
    MaterialRating,
    MaterialStorageGroup,
    SealFaceRating,
)
from kits.models import StorageGroup as StoredGroup
from services.api.refusals import Malformed
from services.identity.callers import Caller

_Row = tuple[Any, ...]
COUNTED_FROM_CURE = "counted from cure, extended once after inspection (ISO 2230:2002)."


def suitability_tables() -> SuitabilityTables:
    """Ratings, limits and seal faces, as they stand. Four queries."""
    columns = ("up_to_c", "rating", "source", "note", "chosen_because")
    ratings = MaterialRating.objects.values_list("material__code", "fluid_family__code", *columns)
    limits = MaterialLimit.objects.values_list(
        "material__code", "air_min_c", "air_max_c", "hot_water_max_c", "source", "chosen_because"
    )
    faces = SealFaceRating.objects.values_list("seal_face__letters", "fluid_family__code", "seal_face__name", *columns)
    water = FluidFamily.objects.filter(is_water=True).values_list("code", flat=True)
    return _indexed(tuple(ratings), tuple(limits), tuple(faces), tuple(water))


@lru_cache(maxsize=2)
def _indexed(
    ratings: tuple[_Row, ...], limits: tuple[_Row, ...], faces: tuple[_Row, ...], water: tuple[str, ...]
) -> SuitabilityTables:
    """The tables made of these rows: kept as long as the same rows are read, since rows seldom change."""
    return SuitabilityTables(
        ratings=[RatingRow(*row) for row in ratings],
        limits=[LimitRow(*row) for row in limits],
        water_families=frozenset(water),
        faces=[RatingRow(letters, family, *rest) for letters, family, _, *rest in faces],
        face_names={letters: name for letters, _, name, *_ in faces},
    )


def material_suitability(
    *,
    by: Caller,
    fluid_family: str,
    temperature_min_c: Decimal,
    temperature_max_c: Decimal,
    materials: Iterable[str] = (),
    seal_faces: Iterable[str] = (),
) -> dict[str, Any]:
    """Verdicts on materials and seal faces in a family; on all that the tables hold where none is named.

    Six queries. Raises `Malformed` for a family that is not known.
    """
    families = list(FluidFamily.objects.order_by("code").values_list("code", flat=True))
    if fluid_family not in families:
        raise Malformed(
            f"{fluid_family!r} is no fluid family.", remedy=f"Known: {', '.join(families)}.", pointer="?fluid_family"
        )
    tables, codes = suitability_tables(), _codes_by_name()
    asked, faces = [codes.get(one, one) for one in materials], list(seal_faces)
    if not asked and not faces:
        asked, faces = sorted(set(codes.values())), sorted(tables.face_names)
    span = (fluid_family, temperature_min_c, temperature_max_c)
    return {
        "fluid_family": fluid_family,
        "temperature_min_c": temperature_min_c,
        "temperature_max_c": temperature_max_c,
        "materials": [_shape_verdict(tables.judge(one, *span)) for one in asked],
        "seal_faces": [_shape_verdict(tables.judge_face(one, *span)) for one in faces],
    }


def _shape_verdict(one: MaterialVerdict) -> dict[str, Any]:
    return {
        "material": one.material,
        "result": one.result,
        "rating": one.rating,
        "sentences": list(one.sentences),
        "sources": list(one.sources),
        "differing": [
            {
                "figure": each.figure,
                "because": each.because,
                "values": [{"value": said.value, "source": said.source, "counts": said.counts} for said in each.values],
            }
            for each in one.differing
        ],
    }


def _codes_by_name() -> dict[str, str]:
    """ISO 1629 codes by code and by older name. One query."""
    found: dict[str, str] = {}
    for code, aliases in Material.objects.values_list("code", "aliases"):
        found |= dict.fromkeys([code, *aliases], code)
    return found


def lubricant_advice_for(elastomers: Iterable[str]) -> list[dict[str, Any]]:
    """What may be used to fit parts of these elastomers, what is usable first. Three queries."""
    return _advised(elastomers)["lubricants"]


def assembly_advice(*, by: Caller, elastomers: Iterable[str]) -> dict[str, Any]:
    """The same, with the elastomers that the table does not know and the cautions that go with it. Four queries."""
    return _advised(elastomers, with_cautions=True)


def _advised(elastomers: Iterable[str], *, with_cautions: bool = False) -> dict[str, Any]:
    rows = [
        LubricantRow(*row)
        for row in LubricantAdvice.objects.order_by("source").values_list(
            "material__code", "lubricant__code", "lubricant__name", "verdict", "note", "source", "chosen_because"
        )
    ]
    codes = _codes_by_name()
    wanted = sorted({codes.get(one, one) for one in elastomers})
    for_unknown = set(Lubricant.objects.filter(suits_unknown=True).values_list("code", flat=True))
    advice = lubricant_advice(wanted, rows, for_unknown)
    unknown = unknown_materials(wanted, rows)
    answer: dict[str, Any] = {
        "elastomers": wanted,
        "unknown": unknown,
        "lubricants": [
            {
                "lubricant": one.lubricant,
                "name": one.name,
                "verdict": one.verdict,
                "material": one.material,
                "note": one.note,
                "source": one.source,
                "differing": list(one.differing),
            }
            for one in advice
        ],
    }
    if with_cautions:
        cautions = [
            CautionRow(code, sentence, occasion, lubricant or "", source)  # type: ignore[arg-type]
            for code, sentence, occasion, lubricant, source in AssemblyCaution.objects.values_list(
                "code", "sentence", "occasion", "lubricant__code", "source"
            )
        ]
        answer["cautions"] = [
            {"code": one.code, "sentence": one.sentence, "source": one.source}
            for one in cautions_for(cautions, advice, any_unknown=bool(unknown) or not wanted)
        ]
    return answer


def storage_life_of(
    *, by: Caller, material: str, cured: datetime.date, on: datetime.date | None = None
) -> dict[str, Any]:
    """How long a material keeps from its cure date after every source, the one that counts first. Two queries."""
    code = _codes_by_name().get(material, material)
    rows = [
        GroupRow(StorageGroup(group, first, more), source, because)
        for group, first, more, source, because in MaterialStorageGroup.objects.filter(material__code=code).values_list(
            "storage_group__code", "storage_group__initial_years", "storage_group__extension_years", "source",
            "chosen_because",
        )
    ]  # fmt: skip
    lives = storage_lives(cured, rows)
    answer: dict[str, Any] = {
        "material": code,
        "cure_date": cured,
        "result": "known" if lives else "not-known",
        "group": None,
        "initial_end": None,
        "extension_end": None,
        "source": "",
        "on": on,
        "state": None,
        "sentences": [],
        "by_source": [
            {
                "group": one.row.group.code,
                "initial_years": one.row.group.initial_years,
                "extension_years": one.row.group.extension_years,
                "initial_end": one.initial_end,
                "extension_end": one.extension_end,
                "source": one.row.source,
                "counts": one.counts,
                "chosen_because": one.row.chosen_because,
            }
            for one in lives
        ],
    }
    if not lives:
        answer["sentences"] = [f"The tables put {code} into no storage group; ask whoever made the compound."]
        return answer
    counted = lives[0]
    answer |= {
        "group": counted.row.group.code,
        "initial_end": counted.initial_end,
        "extension_end": counted.extension_end,
        "source": counted.row.source,
        "state": counted.state_on(on) if on else None,
        "sentences": [
            f"{code} of group {counted.row.group.code} keeps to {counted.initial_end}, {_after_inspection(counted)}; "
            + COUNTED_FROM_CURE
        ],
    }
    if len({(one.initial_end, one.extension_end) for one in lives}) > 1:
        told = "; ".join(f"{one.initial_end} ({one.row.source})" for one in lives)
        why = counted.row.chosen_because.rstrip(".")
        answer["sentences"].append(
            f"Sources differ on how long {code} keeps: {told}. What counts is {counted.initial_end}, "
            f"{f'chosen because: {why}' if why else 'the shortest life'}."
        )
    return answer


def _after_inspection(one: StorageLife) -> str:
    if one.extension_end == one.initial_end:
        return "without an extension"
    return f"and after a recorded inspection to {one.extension_end}"


def storage_groups_of_materials() -> dict[str, tuple[int, uuid.UUID]]:
    """(years it keeps, the storage group's id) of each material that ages, by ISO 1629 code. One query."""
    rows = Material.objects.filter(storage_group__isnull=False).values_list(
        "code", "storage_group__initial_years", "storage_group_id"
    )
    return {code: (years, group) for code, years, group in rows}


def materials(*, by: Caller) -> QuerySet[Material]:
    """All materials."""
    return Material.objects.all()


def material_limits(*, by: Caller) -> QuerySet[MaterialLimit]:
    """Temperature limits of all materials, a row a source."""
    return MaterialLimit.objects.all()


def material_ratings(*, by: Caller) -> QuerySet[MaterialRating]:
    """Ratings of all materials, a row a source."""
    return MaterialRating.objects.all()


def material_storage_groups(*, by: Caller) -> QuerySet[MaterialStorageGroup]:
    """Into which group each source puts a material."""
    return MaterialStorageGroup.objects.all()


def storage_groups(*, by: Caller) -> QuerySet[StoredGroup]:
    """All storage groups."""
    return StoredGroup.objects.all()


def material_ids() -> dict[str, uuid.UUID]:
    """Ids of materials by code. One query."""
    return dict(Material.objects.values_list("code", "id"))


def storage_group_ids() -> dict[str, uuid.UUID]:
    """Ids of storage groups by code. One query."""
    return dict(StoredGroup.objects.values_list("code", "id"))
