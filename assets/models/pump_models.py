"""Pump models and the positions that an overhaul of one replaces."""

from django.contrib.postgres.indexes import GinIndex, OpClass
from django.db import models
from django.db.models import F, Func, Q, Value
from django.db.models.functions import Concat

from services.api.models import Record

UNSOURCED = "term of the trade, no source"


def normalised(path: str) -> Func:
    """A part number as compared: in the database what `assets.calculations.part_numbers` is in Python."""
    return Func(F(path), function="normalised_part_number", output_field=models.TextField())


def nameplate_key(text: F | Concat) -> Func:
    """A text as nameplates are searched: in the database what `assets.calculations.plate_text.search_key` is."""
    return Func(text, function="nameplate_key", output_field=models.TextField())


def type_key() -> Func:
    """Series and designation of a model as searched by nameplate."""
    return nameplate_key(Concat("series", Value(" "), "designation", output_field=models.TextField()))


class Maker(Record):
    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)

    def __str__(self) -> str:
        return self.code


class PositionRole(Record):
    """What a position does in the pump: shaft seal, drive-end bearing, casing O-ring. Data, not code."""

    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    source = models.CharField(max_length=300, default=UNSOURCED, db_default=UNSOURCED)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(source=""), name="position_role_names_its_source")]

    def __str__(self) -> str:
        return self.code


class Configuration(models.TextChoices):
    CLOSE_COUPLED = "close-coupled"
    BACK_PULL_OUT = "long-coupled-back-pull-out"
    IN_LINE = "in-line"
    BETWEEN_BEARINGS = "between-bearings"


class PumpModel(Record):
    code = models.CharField(max_length=60, unique=True, help_text="The key under which an ERP knows it.")
    maker = models.ForeignKey(Maker, models.PROTECT, related_name="pump_models")
    series = models.CharField(max_length=60)
    designation = models.CharField(max_length=60, help_text="Size, in the ISO 2858 or EN 733 form where it applies.")
    configuration = models.CharField(max_length=40, choices=Configuration.choices)
    shaft_diameter_at_seal_mm = models.DecimalField(max_digits=8, decimal_places=3)
    rated_speed_rpm = models.DecimalField(max_digits=8, decimal_places=1)
    rated_power_kw = models.DecimalField(max_digits=9, decimal_places=3)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["maker", "series", "designation", "configuration"], name="pump_model_is_described_once"
            ),
            models.CheckConstraint(condition=Q(configuration__in=Configuration.values), name="configuration_is_known"),
            models.CheckConstraint(
                condition=Q(shaft_diameter_at_seal_mm__gt=0, rated_speed_rpm__gt=0, rated_power_kw__gt=0),
                name="pump_model_ratings_are_positive",
            ),
        ]
        indexes = [GinIndex(OpClass(type_key(), name="gin_trgm_ops"), name="pump_model_by_type_trigrams")]

    def __str__(self) -> str:
        return self.code


class WearPosition(Record):
    """One position of a model: what it asks for, on which serial numbers and variants."""

    pump_model = models.ForeignKey(PumpModel, models.CASCADE, related_name="positions")
    role = models.ForeignKey(PositionRole, models.PROTECT, related_name="+", to_field="code", db_column="role")
    quantity = models.DecimalField(max_digits=9, decimal_places=3)
    mandatory = models.BooleanField(default=True)
    serial_from = models.CharField(max_length=40, blank=True)
    serial_to = models.CharField(max_length=40, blank=True)
    variant = models.JSONField(default=dict, blank=True, help_text='As-built conditions, {"elastomer": "EPDM"}.')
    part_number = models.CharField(max_length=60, blank=True)
    specification = models.JSONField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="position_quantity_is_positive"),
            models.CheckConstraint(
                condition=~Q(part_number="") | Q(specification__isnull=False), name="position_asks_for_something"
            ),
            models.UniqueConstraint(
                fields=["pump_model", "role", "serial_from", "serial_to", "variant", "part_number"],
                name="position_is_described_once",
            ),
        ]
        indexes = [models.Index(normalised("part_number"), name="position_by_number", condition=~Q(part_number=""))]

    def __str__(self) -> str:
        return f"{self.pump_model_id} {self.role_id}"
