"""Tables of what is installed where."""

from assets.models.build_classes import BuildClass, SerialCutPoint, TemperatureCutPoint, VariantCutPoint
from assets.models.fluids import Fluid, FluidFamily
from assets.models.grants import Grant, Role
from assets.models.pump_models import Configuration, Maker, PositionRole, PumpModel, WearPosition, normalised
from assets.models.pumps import Criticality, Pump, PumpState, RunningHours
from assets.models.sites import Bin, Site

__all__ = [
    "Bin",
    "BuildClass",
    "Configuration",
    "Criticality",
    "Fluid",
    "FluidFamily",
    "Grant",
    "Maker",
    "PositionRole",
    "Pump",
    "PumpModel",
    "PumpState",
    "Role",
    "RunningHours",
    "SerialCutPoint",
    "Site",
    "TemperatureCutPoint",
    "VariantCutPoint",
    "WearPosition",
    "normalised",
]
