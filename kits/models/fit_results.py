"""Computed fit of each kit for each build class, marks of what has to be computed again, and the keys by which what may
match is found."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Now

from assets.models import BuildClass
from kits.models.items import Kit


class FitResult(models.Model):
    """A verdict. No fit at all is not stored. The reasons are computed when asked for, by the same function.

    ``kit_seen`` and ``class_seen`` are digests of all it was computed from: of the kit, its lines, their parts, chains
    and materials; and of the class, its positions and conditions. Rows are written by the million, by nobody but the
    engine and for what it has just read: triggers take them out with their kit or class, in place of foreign keys.
    """

    pk = models.CompositePrimaryKey("build_class_id", "kit_id")
    build_class = models.ForeignKey(
        BuildClass, models.CASCADE, related_name="fits", db_index=False, db_constraint=False
    )
    kit = models.ForeignKey(Kit, models.CASCADE, related_name="fits", db_constraint=False)
    verdict = models.CharField(max_length=20)
    matched = models.PositiveSmallIntegerField()
    asked = models.PositiveSmallIntegerField()
    declared = models.BooleanField(default=False)
    kit_seen = models.BigIntegerField()
    class_seen = models.BigIntegerField()
    computed_at = models.DateTimeField(db_default=Now())

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(verdict__in=["fits", "fits-with-notes", "incomplete", "unsuitable"]),
                name="fit_verdict_is_known",
            ),
        ]

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


class MatchKey(models.Model):
    """What the specification of a wear position or a part shares with every one that may be equal to it: derived, kept
    by the fit engine, for finding candidates only.

    ``seen`` is a digest of what the key was made from; where it is no longer true it is made again.
    """

    specification = models.CharField(max_length=400)
    seen = models.CharField(max_length=32)

    class Meta:
        abstract = True


class AskedKey(MatchKey):
    """Of a wear position."""

    position_id = models.UUIDField(primary_key=True)
    pump_model_id = models.UUIDField()
    role = models.CharField(max_length=40)

    class Meta:
        indexes = [
            models.Index(fields=["specification"], name="asked_by_specification"),
            models.Index(fields=["pump_model_id"], name="asked_by_model"),
        ]

    def __str__(self) -> str:
        return f"{self.position_id}"


class OfferedKey(MatchKey):
    """Of a part."""

    part_id = models.UUIDField(primary_key=True)

    class Meta:
        indexes = [
            models.Index(fields=["specification"], name="offered_by_specification"),
        ]

    def __str__(self) -> str:
        return f"{self.part_id}"
