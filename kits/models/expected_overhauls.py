"""What the installed pumps of a site will need, as worked out from their running hours."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Now

from assets.models import Site
from kits.models.items import Item
from services.api.identifiers import new_id


class ExpectedOverhauls(models.Model):
    """Overhauls of a month that need an item at a site. The first month is what is left of the one of ``as_of``.

    Written as a whole for a site. ``mean`` and ``variance`` are of overhauls that nobody has planned yet, from the
    installed pumps alone; what is planned is ``certain``; quantiles hold both. ``*_until`` is from ``as_of`` to the
    month's end.
    """

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    site = models.ForeignKey(Site, models.CASCADE, related_name="+")
    item = models.ForeignKey(Item, models.CASCADE, related_name="expected_overhauls")
    month = models.DateField(help_text="Its first day.")
    mean = models.FloatField()
    variance = models.FloatField()
    no_overhaul = models.FloatField(help_text="The chance that none comes up that is not planned.")
    q95 = models.PositiveIntegerField()
    certain = models.PositiveIntegerField(help_text="Planned jobs.")
    mean_until = models.FloatField()
    variance_until = models.FloatField()
    q95_until = models.PositiveIntegerField()
    certain_until = models.PositiveIntegerField()
    pumps = models.PositiveIntegerField(help_text="Pumps whose overhaul may use it.")
    weight_of_history = models.FloatField()
    history_mean = models.FloatField()
    walk_in_mean = models.FloatField()
    walk_in_variance = models.FloatField()
    blended_mean = models.FloatField(help_text="Of what is not planned: pumps and history joined, walk-in added.")
    blended_variance = models.FloatField()
    families = models.JSONField(default=list, help_text="By pump model: its fit, pumps counted and what they add.")
    planned = models.JSONField(default=list, help_text="Jobs of the month: number, day, chance of a need before it.")
    working = models.JSONField(default=dict)
    as_of = models.DateField()
    computed_at = models.DateTimeField(db_default=Now(), editable=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "item", "month"], name="overhauls_are_expected_once_a_month"),
            models.CheckConstraint(
                condition=Q(mean__gte=0, variance__gte=0, mean_until__gte=0, variance_until__gte=0),
                name="expected_overhauls_are_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(no_overhaul__gte=0, no_overhaul__lte=1, weight_of_history__gte=0, weight_of_history__lte=1),
                name="chances_of_overhauls_are_chances",
            ),
            models.CheckConstraint(condition=Q(month__day=1), name="overhauls_are_expected_by_month"),
        ]

    def __str__(self) -> str:
        return f"{self.site_id} {self.item_id} {self.month}"
