"""Sites with their stores and bins."""

from django.db import models
from django.db.models import Q

from services.api.models import Record


class Site(Record):
    """A place with pumps and a store, in its own time zone."""

    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    time_zone = models.CharField(max_length=60)
    is_central_store = models.BooleanField(default=False)
    latitude = models.DecimalField(max_digits=8, decimal_places=5, null=True, help_text="Degrees, north positive.")
    longitude = models.DecimalField(max_digits=8, decimal_places=5, null=True, help_text="Degrees, east positive.")
    external_ids = models.JSONField(default=dict, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(latitude__isnull=True, longitude__isnull=True)
                | Q(latitude__gte=-90, latitude__lte=90, longitude__gte=-180, longitude__lte=180),
                name="site_lies_on_the_earth",
            )
        ]

    def __str__(self) -> str:
        return self.code


class Bin(Record):
    """A place on a site's shelves. Every site has one default bin."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="bins")
    code = models.CharField(max_length=40)
    name = models.CharField(max_length=120, blank=True)
    is_default = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "code"], name="bin_code_is_used_once_a_site"),
            models.UniqueConstraint(fields=["site"], condition=Q(is_default=True), name="site_has_one_default_bin"),
        ]

    def __str__(self) -> str:
        return self.code
