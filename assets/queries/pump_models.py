"""Reading makers, pump models with their wear positions, roles and fluids. Every signed-in principal may."""

import uuid
from collections.abc import Iterable
from typing import Any

from django.db.models import QuerySet

from assets.models import Fluid, FluidFamily, Maker, PositionRole, PumpModel, VariantCutPoint, WearPosition
from services.api.models import as_uuid
from services.api.refusals import NotThere
from services.identity.callers import Caller


def makers(*, by: Caller) -> QuerySet[Maker]:
    """All makers."""
    return Maker.objects.all()


def pump_models(*, by: Caller) -> QuerySet[PumpModel]:
    """All pump models."""
    return PumpModel.objects.all()


def position_roles(*, by: Caller) -> QuerySet[PositionRole]:
    """All roles that positions have."""
    return PositionRole.objects.all()


def fluid_families(*, by: Caller) -> QuerySet[FluidFamily]:
    """All families of fluids."""
    return FluidFamily.objects.all()


def fluids(*, by: Caller) -> QuerySet[Fluid]:
    """All fluids."""
    return Fluid.objects.all()


def pump_model_for(model_id: Any) -> PumpModel:
    """One model. Raises `NotThere`."""
    found = PumpModel.objects.filter(pk=as_uuid(model_id)).first()
    if found is None:
        raise NotThere("The pump model is not here.", remedy="GET /pump-models lists them.")
    return found


def pump_models_by_code(codes: Iterable[str]) -> dict[str, uuid.UUID]:
    """Ids by code. One query."""
    return dict(PumpModel.objects.filter(code__in=list(codes)).values_list("code", "id"))


def wear_positions_of(model_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[WearPosition]]:
    """Positions of models by model, in the order of their roles. One query."""
    found: dict[uuid.UUID, list[WearPosition]] = {}
    for one in WearPosition.objects.filter(pump_model_id__in=list(model_ids)).order_by("role_id", "serial_from", "id"):
        found.setdefault(one.pump_model_id, []).append(one)
    return found


def wear_positions(*, by: Caller) -> QuerySet[WearPosition]:
    """All wear positions."""
    return WearPosition.objects.all()


def variant_conditions(model_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[dict[str, str]]]:
    """As-built conditions that something asks about, by model: a wear position, or what has a cut point. Two
    queries."""
    models = list(model_ids)
    found: dict[uuid.UUID, list[dict[str, str]]] = {}
    asked = WearPosition.objects.filter(pump_model_id__in=models).exclude(variant={})
    for model_id, variant in asked.values_list("pump_model_id", "variant").distinct():
        found.setdefault(model_id, []).append(variant)
    for model_id, name in VariantCutPoint.objects.filter(pump_model_id__in=models).values_list("pump_model_id", "name"):
        found.setdefault(model_id, []).append({name: ""})
    return found


def fluid_family_ids() -> dict[str, uuid.UUID]:
    """Ids of fluid families by code."""
    return dict(FluidFamily.objects.values_list("code", "id"))


def position_role_ids() -> dict[str, uuid.UUID]:
    """Ids of position roles by code."""
    return dict(PositionRole.objects.values_list("code", "id"))


def maker_ids() -> dict[str, uuid.UUID]:
    """Ids of makers by code."""
    return dict(Maker.objects.values_list("code", "id"))


def maker_exists(maker_id: uuid.UUID) -> bool:
    """Whether there is such a maker."""
    return Maker.objects.filter(pk=maker_id).exists()


def role_codes() -> set[str]:
    """Codes of all position roles."""
    return set(PositionRole.objects.values_list("code", flat=True))
