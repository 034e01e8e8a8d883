"""What is known about a job's pump and kit, by the names that conditions and limits use."""

import uuid
from collections.abc import Collection, Iterable, Mapping
from decimal import Decimal
from typing import Any

from assets.calculations.part_specifications import MechanicalSeal, RollingBearing, specification_from_json
from jobs.calculations.pump_variables import AS_BUILT, PUMP_VARIABLES
from jobs.models import Job
from kits.models import KitLine
from services.api.rows import plain_rows

VARIABLES = {name: one.words for name, one in PUMP_VARIABLES.items()}


def job_data(job_id: uuid.UUID) -> dict[str, Any]:
    """Values of `VARIABLES` that are known for this job; what is not known is left out. Two queries."""
    return data_of_jobs([job_id])[job_id]


def data_of_jobs(job_ids: Collection[uuid.UUID]) -> dict[uuid.UUID, dict[str, Any]]:
    """What is known of several jobs. Two queries, however many."""
    rows = Job.objects.filter(pk__in=job_ids).values(
        "id",
        "kit_id",
        "pump__variant",
        "pump__temperature_max_c",
        "pump__criticality",
        "pump__fluid__family__code",
        "pump__fluid__hazard",
        "pump__pump_model__designation",
        "pump__pump_model__configuration",
        "pump__pump_model__rated_power_kw",
        "pump__pump_model__rated_speed_rpm",
        "pump__pump_model__shaft_diameter_at_seal_mm",
    )
    jobs = plain_rows(rows)
    kits = data_of_kits({row["kit_id"] for row in jobs})
    return {row["id"]: _pump_data(row) | kits[row["kit_id"]] for row in jobs}


def _pump_data(row: Mapping[str, Any]) -> dict[str, Any]:
    data: dict[str, Any] = {
        "configuration": row["pump__pump_model__configuration"],
        "size_designation": row["pump__pump_model__designation"],
        "fluid_family": row["pump__fluid__family__code"],
        "fluid_hazardous": "yes" if row["pump__fluid__hazard"].strip() else "no",
        "temperature_max_c": row["pump__temperature_max_c"],
        "criticality": row["pump__criticality"],
        "rated_power_kw": row["pump__pump_model__rated_power_kw"],
        "rated_speed_rpm": row["pump__pump_model__rated_speed_rpm"],
        "shaft_diameter_at_seal_mm": row["pump__pump_model__shaft_diameter_at_seal_mm"],
    }
    for name in ("elastomer", *AS_BUILT):
        if row["pump__variant"].get(name):
            data[name] = row["pump__variant"][name]
    return data


def kit_data(kit_id: uuid.UUID) -> dict[str, Any]:
    """What the kit's lines tell. One query."""
    return data_of_kits([kit_id])[kit_id]


def data_of_kits(kit_ids: Collection[uuid.UUID]) -> dict[uuid.UUID, dict[str, Any]]:
    """What the lines of several kits tell. One query."""
    lines: dict[uuid.UUID, list[tuple[Any, ...]]] = {one: [] for one in kit_ids}
    for kit_id, *line in KitLine.objects.filter(kit_id__in=kit_ids).values_list(
        "kit_id", "role", "part__specification", "part__elastomers"
    ):
        lines[kit_id].append(tuple(line))
    return {kit_id: _told_by(rows) for kit_id, rows in lines.items()}


def _told_by(lines: Iterable[tuple[Any, ...]]) -> dict[str, Any]:
    data: dict[str, Any] = {}
    elastomers: set[str] = set()
    roles: set[str] = set()
    for role, specification, brought in lines:
        roles.add(str(role))
        elastomers.update(brought)
        if role == "bearing-de":
            bearing = specification_from_json(specification)
            if isinstance(bearing, RollingBearing):
                data["bearing_bore_mm"] = Decimal(bearing.bore_mm)
                data["bearing_sealed"] = "no" if bearing.sealing == "open" else "yes"
        elif role == "shaft-seal" and specification:
            seal = specification_from_json(specification)
            if isinstance(seal, MechanicalSeal):
                data["seal_form"] = seal.balance
    data["kit_elastomers"] = sorted(elastomers)
    data["seal_type"] = "packed" if "packing" in roles and "shaft-seal" not in roles else "mechanical"
    return data
