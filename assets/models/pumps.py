"""Pumps as installed, and their running hours."""

from django.contrib.postgres.indexes import GinIndex
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Now

from assets.models.build_classes import BuildClass
from assets.models.fluids import Fluid
from assets.models.pump_models import PumpModel, nameplate_key
from assets.models.sites import Site
from services.api.identifiers import new_id
from services.api.models import Record


class Criticality(models.TextChoices):
    VITAL = "vital"
    ESSENTIAL = "essential"
    DESIRABLE = "desirable"


class PumpState(models.TextChoices):
    IN_SERVICE = "in-service"
    STANDBY = "standby"
    IN_WORKSHOP = "in-workshop"
    WITHDRAWN = "withdrawn"


class Pump(Record):
    tag = models.CharField(max_length=40)
    site = models.ForeignKey(Site, models.PROTECT, related_name="pumps")
    pump_model = models.ForeignKey(PumpModel, models.PROTECT, related_name="pumps")
    serial_number = models.CharField(max_length=40)
    variant = models.JSONField(default=dict, blank=True, help_text="As built: elastomer, seal faces, impeller.")
    fluid = models.ForeignKey(Fluid, models.PROTECT, related_name="pumps")
    temperature_min_c = models.DecimalField(max_digits=6, decimal_places=2)
    temperature_max_c = models.DecimalField(max_digits=6, decimal_places=2)
    criticality = models.CharField(max_length=12, choices=Criticality.choices)
    state = models.CharField(max_length=12, choices=PumpState.choices, default=PumpState.IN_SERVICE)
    installed_on = models.DateField(null=True)
    external_ids = models.JSONField(default=dict, blank=True)
    build_class = models.ForeignKey(BuildClass, models.PROTECT, null=True, related_name="pumps")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "tag"], name="tag_is_used_once_a_site"),
            models.UniqueConstraint(fields=["pump_model", "serial_number"], name="serial_is_used_once_a_model"),
            models.CheckConstraint(
                condition=Q(temperature_min_c__lte=F("temperature_max_c")), name="temperatures_are_in_order"
            ),
            models.CheckConstraint(condition=Q(criticality__in=Criticality.values), name="criticality_is_known"),
            models.CheckConstraint(condition=Q(state__in=PumpState.values), name="pump_state_is_known"),
        ]
        indexes = [
            models.Index(fields=["site", "tag", "id"], name="pump_by_site_and_tag"),
            models.Index(fields=["tag", "id"], name="pump_by_tag"),
            GinIndex(fields=["external_ids"], name="pump_by_external_id"),
            models.Index(nameplate_key(F("serial_number")), name="pump_by_serial_key"),
        ]

    def __str__(self) -> str:
        return self.tag


class RunningHours(models.Model):
    """A reading of a pump's hour meter, or the change of the meter; append-only."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    pump = models.ForeignKey(Pump, models.PROTECT, related_name="running_hours")
    read_at = models.DateTimeField()
    hours = models.DecimalField(max_digits=10, decimal_places=1)
    meter_change = models.BooleanField(default=False, help_text="A new meter begins with this reading.")
    recorded_at = models.DateTimeField(db_default=Now(), editable=False)
    by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["pump", "read_at"], name="hours_are_read_once_at_a_time"),
            models.CheckConstraint(condition=Q(hours__gte=0), name="hours_are_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.pump_id} {self.hours} h"
