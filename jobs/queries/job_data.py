"""What is known about a job's pump and kit, by the names that conditions and limits use."""

import uuid
from decimal import Decimal
from typing import Any

from assets.calculations.part_specifications import RollingBearing, specification_from_json
from jobs.models import Job
from kits.models import KitLine

VARIABLES = {
    "elastomer": "the pump's elastomer as built, an ISO 1629 code",
    "kit_elastomers": "the elastomers that the kit brings",
    "seal_type": "mechanical or packed",
    "configuration": "the model's configuration",
    "fluid_family": "the family of the fluid pumped",
    "temperature_max_c": "the hottest the pump gets",
    "criticality": "vital, essential or desirable",
    "rated_power_kw": "the model's rated power",
    "rated_speed_rpm": "the model's rated speed",
    "shaft_diameter_at_seal_mm": "the shaft where the seal sits",
    "bearing_bore_mm": "the bore of the drive-end bearing in the kit",
    "bearing_sealed": "yes where the drive-end bearing is sealed or greased for life",
}


def job_data(job_id: uuid.UUID) -> dict[str, Any]:
    """Values of `VARIABLES` that are known for this job; what is not known is left out. Two queries."""
    row = (
        Job.objects.filter(pk=job_id)
        .values(
            "kit_id",
            "pump__variant",
            "pump__temperature_max_c",
            "pump__criticality",
            "pump__fluid__family__code",
            "pump__pump_model__configuration",
            "pump__pump_model__rated_power_kw",
            "pump__pump_model__rated_speed_rpm",
            "pump__pump_model__shaft_diameter_at_seal_mm",
        )
        .get()
    )
    data: dict[str, Any] = {
        "configuration": row["pump__pump_model__configuration"],
        "fluid_family": row["pump__fluid__family__code"],
        "temperature_max_c": row["pump__temperature_max_c"],
        "criticality": row["pump__criticality"],
        "rated_power_kw": row["pump__pump_model__rated_power_kw"],
        "rated_speed_rpm": row["pump__pump_model__rated_speed_rpm"],
        "shaft_diameter_at_seal_mm": row["pump__pump_model__shaft_diameter_at_seal_mm"],
    }
    if row["pump__variant"].get("elastomer"):
        data["elastomer"] = row["pump__variant"]["elastomer"]
    return data | kit_data(row["kit_id"])


def kit_data(kit_id: uuid.UUID) -> dict[str, Any]:
    """What the kit's lines tell."""
    data: dict[str, Any] = {}
    elastomers: set[str] = set()
    roles: set[str] = set()
    for role, specification, brought in KitLine.objects.filter(kit_id=kit_id).values_list(
        "role", "part__specification", "part__elastomers"
    ):
        roles.add(str(role))
        elastomers.update(brought)
        if role == "bearing-de":
            bearing = specification_from_json(specification)
            if isinstance(bearing, RollingBearing):
                data["bearing_bore_mm"] = Decimal(bearing.bore_mm)
                data["bearing_sealed"] = "no" if bearing.sealing == "open" else "yes"
    data["kit_elastomers"] = sorted(elastomers)
    data["seal_type"] = "packed" if "packing" in roles and "shaft-seal" not in roles else "mechanical"
    return data
