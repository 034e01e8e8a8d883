"""Computed fit of each kit for each build class, and marks of what has to be computed again."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Now

from assets.models import BuildClass
from kits.models.items import Kit


class FitResult(models.Model):
    """A verdict. No fit at all is not stored. The reasons are computed when asked for, by the same function."""

    id = models.BigAutoField(primary_key=True)
    kit = models.ForeignKey(Kit, models.CASCADE, related_name="fits")
    build_class = models.ForeignKey(BuildClass, models.CASCADE, related_name="fits")
    verdict = models.CharField(max_length=20)
    matched = models.PositiveSmallIntegerField()
    asked = models.PositiveSmallIntegerField()
    declared = models.BooleanField(default=False)
    computed_from = models.CharField(max_length=71, help_text="SHA-256 over everything the verdict came from.")
    computed_at = models.DateTimeField(db_default=Now())

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kit", "build_class"], name="fit_is_judged_once"),
            models.CheckConstraint(
                condition=Q(verdict__in=["fits", "fits-with-notes", "incomplete", "unsuitable"]),
                name="fit_verdict_is_known",
            ),
        ]
        indexes = [models.Index(fields=["build_class", "verdict"], name="fit_of_build_class")]

    def __str__(self) -> str:
        return f"{self.kit_id} {self.build_class_id} {self.verdict}"


class FitDay(models.Model):
    """The day up to which supersessions that begin to hold have marked the kits. One row."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    day = models.DateField()

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(id=1), name="fit_day_is_one_row")]

    def __str__(self) -> str:
        return self.day.isoformat()


class FitMark(models.Model):
    """Something changed: the fits of this kit, or of this build class, are to be computed again."""

    id = models.BigAutoField(primary_key=True)
    kit = models.ForeignKey(Kit, models.CASCADE, null=True, related_name="+")
    build_class = models.ForeignKey(BuildClass, models.CASCADE, null=True, related_name="+")
    marked_at = models.DateTimeField(db_default=Now())

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kit", "build_class"], nulls_distinct=False, name="fit_is_marked_once"),
            models.CheckConstraint(
                condition=Q(kit__isnull=False, build_class__isnull=True)
                | Q(kit__isnull=True, build_class__isnull=False),
                name="fit_mark_names_one_side",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kit_id or self.build_class_id}"
