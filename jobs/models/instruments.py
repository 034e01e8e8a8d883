"""Measuring instruments with their uncertainty and calibration."""

from django.db import models
from django.db.models import F, Q

from assets.models import Site
from services.api.models import Record


class Instrument(Record):
    number = models.CharField(max_length=40, unique=True)
    type = models.CharField(max_length=60)
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    range_from = models.DecimalField(max_digits=14, decimal_places=6)
    range_to = models.DecimalField(max_digits=14, decimal_places=6)
    unit = models.CharField(max_length=20)
    resolution = models.DecimalField(max_digits=14, decimal_places=6)
    expanded_uncertainty = models.DecimalField(max_digits=14, decimal_places=6, help_text="k = 2, in its unit.")
    calibrated_on = models.DateField()
    calibration_due = models.DateField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(range_from__lt=F("range_to"), resolution__gt=0, expanded_uncertainty__gt=0),
                name="instrument_figures_are_sound",
            ),
            models.CheckConstraint(
                condition=Q(calibrated_on__lt=F("calibration_due")), name="calibration_falls_due_later"
            ),
        ]

    def __str__(self) -> str:
        return self.number
