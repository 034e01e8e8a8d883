"""Build classes: the pumps that no rule of fit can tell apart; and the cut points that tell them apart."""

from django.db import models

from assets.models.fluids import FluidFamily
from assets.models.pump_models import PumpModel
from services.api.models import Record


class SerialCutPoint(Record):
    """A serial number of a model at which something begins to differ: the first of a new segment."""

    pump_model = models.ForeignKey(PumpModel, models.CASCADE, related_name="serial_cut_points")
    serial = models.CharField(max_length=40)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["pump_model", "serial"], name="serial_cut_is_named_once")]

    def __str__(self) -> str:
        return self.serial


class VariantCutPoint(Record):
    """An as-built entry of a model, such as its elastomer, by which something beside its wear positions tells pumps
    apart."""

    pump_model = models.ForeignKey(PumpModel, models.CASCADE, related_name="variant_cut_points")
    name = models.CharField(max_length=60)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["pump_model", "name"], name="variant_cut_is_named_once")]

    def __str__(self) -> str:
        return self.name


class TemperatureCutPoint(Record):
    """A temperature at which some material's verdict changes; a pump on it belongs to the bracket below."""

    celsius = models.DecimalField(max_digits=6, decimal_places=2, unique=True)

    def __str__(self) -> str:
        return str(self.celsius)


class BuildClass(Record):
    pump_model = models.ForeignKey(PumpModel, models.PROTECT, related_name="build_classes")
    key = models.CharField(max_length=300, unique=True)
    serial_segment = models.PositiveIntegerField()
    sample_serial = models.CharField(max_length=40, help_text="A serial of the segment, for rules of serial ranges.")
    variant = models.JSONField(default=dict)
    fluid_family = models.ForeignKey(FluidFamily, models.PROTECT, related_name="+")
    temperature_bracket = models.PositiveIntegerField()
    temperature_min_c = models.DecimalField(max_digits=6, decimal_places=2)
    temperature_max_c = models.DecimalField(max_digits=6, decimal_places=2)

    def __str__(self) -> str:
        return self.key
