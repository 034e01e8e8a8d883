"""How long pumps may run between overhauls, and which chance is accepted: kept by the data owner."""

from django.db import models
from django.db.models import Q

from assets.models import Criticality, PumpModel
from services.api.models import Record


class OverhaulInterval(Record):
    """For a criticality, or for one model in it, which then counts instead. An empty interval sets no day."""

    criticality = models.CharField(max_length=12, choices=Criticality.choices)
    pump_model = models.ForeignKey(PumpModel, models.PROTECT, null=True, related_name="+")
    months = models.PositiveSmallIntegerField(null=True)
    running_hours = models.PositiveIntegerField(null=True)
    accepted_chance = models.DecimalField(
        max_digits=4, decimal_places=3, help_text="Of an overhaul that comes up, and of wear beyond its limit."
    )
    months_ahead = models.PositiveSmallIntegerField(help_text="The time over which that chance is looked at.")
    source = models.CharField(max_length=300)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["criticality", "pump_model"], name="one_overhaul_interval_each", nulls_distinct=False
            ),
            models.CheckConstraint(
                condition=Q(criticality__in=Criticality.values), name="overhaul_interval_criticality_is_known"
            ),
            models.CheckConstraint(
                condition=(Q(months__isnull=True) | Q(months__gt=0))
                & (Q(running_hours__isnull=True) | Q(running_hours__gt=0)),
                name="overhaul_interval_is_a_while",
            ),
            models.CheckConstraint(
                condition=Q(accepted_chance__gt=0, accepted_chance__lt=0.5), name="accepted_chance_is_below_one_half"
            ),
            models.CheckConstraint(
                condition=Q(months_ahead__gte=1, months_ahead__lte=60),
                name="chance_is_looked_at_up_to_five_years_ahead",
            ),
            models.CheckConstraint(condition=~Q(source=""), name="overhaul_interval_names_its_source"),
        ]

    def __str__(self) -> str:
        return f"{self.criticality} {self.pump_model_id or ''}".strip()
