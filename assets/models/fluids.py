"""Fluids that pumps move, in families that materials are judged against."""

from django.db import models
from django.db.models import Q

from services.api.models import Record

UNSOURCED = "common practice, no source"


class FluidFamily(Record):
    """A row heading of the material tables."""

    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    is_water = models.BooleanField(default=False, help_text="A compound's hot-water limit applies.")
    note = models.TextField(blank=True)
    source = models.CharField(max_length=300, default=UNSOURCED, db_default=UNSOURCED)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(source=""), name="fluid_family_names_its_source")]

    def __str__(self) -> str:
        return self.code


class Fluid(Record):
    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    family = models.ForeignKey(FluidFamily, models.PROTECT, related_name="fluids")
    hazard = models.TextField(blank=True)

    def __str__(self) -> str:
        return self.code
