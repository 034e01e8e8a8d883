"""The tables that everybody reads and the data owner keeps: their routes, a row of each, and a body for each write."""

from typing import Any

from assets.models import FluidFamily, PositionRole
from jobs.models import OverhaulInterval
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

# The noun in the address, and the name of a row's id in it.
TABLES = {
    "fluid-families": "fluid_family",
    "position-roles": "position_role",
    "materials": "material",
    "material-limits": "material_limit",
    "material-ratings": "material_rating",
    "material-storage-groups": "material_storage_group",
    "storage-groups": "storage_group",
    "seal-faces": "seal_face",
    "seal-face-ratings": "seal_face_rating",
    "lubricants": "lubricant",
    "lubricant-verdicts": "lubricant_verdict",
    "assembly-cautions": "assembly_caution",
    "kit-scopes": "kit_scope",
    "service-targets": "service_target",
    "overhaul-intervals": "overhaul_interval",
}
TABLE_READS = {f"GET {noun}" for noun in TABLES} | {f"GET {noun}/<uuid:{name}>" for noun, name in TABLES.items()}
TABLE_WRITES = {f"POST {noun}" for noun in TABLES} | {
    f"{verb} {noun}/<uuid:{name}>" for noun, name in TABLES.items() for verb in ("PATCH", "DELETE")
}
# Answers worked out from the tables, for whoever is signed in; what they need is asked for in the address.
WORKED_OUT = {
    "GET material-suitability": "fluid_family=water&temperature_min_c=5&temperature_max_c=60",
    "GET lubricant-advice": "elastomers=EPDM,FKM",
    "GET storage-life": "material=NBR&cure_date=3Q2021",
}
TABLE_BODIES: dict[str, dict[str, Any]] = {
    "POST fluid-families": {"code": "b-brine", "name": "Brine", "is_water": True, "source": "none"},
    "PATCH fluid-families/<uuid:fluid_family>": {"name": "Brine again"},
    "POST position-roles": {"code": "b-drum", "name": "Drum", "source": "none"},
    "PATCH position-roles/<uuid:position_role>": {"name": "Drum again"},
    "POST materials": {"code": "XNBR", "name": "carboxylated", "source": "none"},
    "PATCH materials/<uuid:material>": {"name": "rubber"},
    "POST material-limits": {"material": "NBR", "air_max_c": "110", "source": "own"},
    "PATCH material-limits/<uuid:material_limit>": {"note": "Seen."},
    "POST material-ratings": {
        "material": "NBR",
        "fluid_family": "water",
        "up_to_c": "60",
        "rating": "B",
        "source": "own",
    },
    "PATCH material-ratings/<uuid:material_rating>": {"note": "Seen."},
    "POST material-storage-groups": {"material": "NBR", "storage_group": "A", "source": "own"},
    "PATCH material-storage-groups/<uuid:material_storage_group>": {"note": "Seen."},
    "POST storage-groups": {"code": "4+2", "initial_years": 4, "extension_years": 2, "source": "own"},
    "PATCH storage-groups/<uuid:storage_group>": {"source": "seen"},
    "POST seal-faces": {"letters": "Q9", "name": "carbide", "source": "own"},
    "PATCH seal-faces/<uuid:seal_face>": {"note": "Seen."},
    "POST seal-face-ratings": {
        "seal_face": "G",
        "fluid_family": "water",
        "up_to_c": "40",
        "rating": "B",
        "source": "own",
    },
    "PATCH seal-face-ratings/<uuid:seal_face_rating>": {"note": "Seen."},
    "POST lubricants": {"code": "water", "name": "Water", "source": "own"},
    "PATCH lubricants/<uuid:lubricant>": {"name": "Grease"},
    "POST lubricant-verdicts": {
        "material": "CR",
        "lubricant": "soft-soap",
        "verdict": "ok",
        "source": "own",
    },
    "PATCH lubricant-verdicts/<uuid:lubricant_verdict>": {"note": "Seen."},
    "POST assembly-cautions": {"code": "hands", "sentence": "Clean.", "occasion": "always", "source": "own"},
    "PATCH assembly-cautions/<uuid:assembly_caution>": {"sentence": "Clean hands."},
    "POST kit-scopes": {"code": "drum", "name": "Drum", "roles": ["a-drum"], "source": "own"},
    "PATCH kit-scopes/<uuid:kit_scope>": {"name": "Scope"},
    "POST service-targets": {"criticality": "vital", "fill_rate": "0.98", "source": "own"},
    "PATCH service-targets/<uuid:service_target>": {"fill_rate": "0.98"},
    "POST overhaul-intervals": {"criticality": "vital", "accepted_chance": "0.05", "months_ahead": 6, "source": "own"},
    "PATCH overhaul-intervals/<uuid:overhaul_interval>": {"months": 24},
}


def rows_of_tables() -> dict[str, Any]:
    """A row of each table of the trade; of families and roles one that nothing refers to."""
    FluidFamily.objects.create(code="a-brine", name="Brine")
    PositionRole.objects.create(code="a-drum", name="Drum")
    rows: dict[str, Any] = {
        "fluid_family": FluidFamily.objects.get(code="a-brine"),
        "position_role": PositionRole.objects.get(code="a-drum"),
        "material": Material.objects.all()[0],
        "material_limit": MaterialLimit.objects.all()[0],
        "material_rating": MaterialRating.objects.all()[0],
        "material_storage_group": MaterialStorageGroup.objects.all()[0],
        "storage_group": StorageGroup.objects.all()[0],
        "seal_face": SealFace.objects.all()[0],
        "seal_face_rating": SealFaceRating.objects.all()[0],
        "lubricant": Lubricant.objects.all()[0],
        "lubricant_verdict": LubricantAdvice.objects.all()[0],
        "assembly_caution": AssemblyCaution.objects.all()[0],
        "kit_scope": KitScope.objects.all()[0],
        "service_target": ServiceTarget.objects.all()[0],
        "overhaul_interval": OverhaulInterval.objects.all()[0],
    }
    return {name: row.pk for name, row in rows.items()}
