"""Families of fluids, the row headings of the material tables. The data owner keeps them."""

from assets.models import FluidFamily
from assets.operations.table_rows import Table

FLUID_FAMILIES = Table(
    FluidFamily,
    "fluid-family",
    "The fluid family",
    lambda one: {"code": one.code, "name": one.name, "is_water": one.is_water},
)
