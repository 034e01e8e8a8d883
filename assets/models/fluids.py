"""Fluids that pumps move, in families that materials are judged against."""

from django.db import models

from services.api.models import Record


class FluidFamily(Record):
    """A row heading of the material tables."""

    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    is_water = models.BooleanField(default=False, help_text="A compound's hot-water limit applies.")
    note = models.TextField(blank=True)

    def __str__(self) -> str:
        return self.code


class Fluid(Record):
    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    family = models.ForeignKey(FluidFamily, models.PROTECT, related_name="fluids")
    hazard = models.TextField(blank=True)

    def __str__(self) -> str:
        return self.code
