"""What is known of sealing materials, each figure with its source: ratings, limits, storage groups, seal faces."""

from decimal import Decimal

from django.db import models
from django.db.models import F, Q

from assets.models import FluidFamily
from services.api.models import Record

COLDEST_C = Decimal("-273.15")


class Figure(Record):
    """A figure after one source. Where sources differ the most careful counts, unless one row is chosen."""

    source = models.CharField(max_length=300)
    note = models.TextField(blank=True, db_default="")
    chosen_because = models.TextField(
        blank=True, db_default="", help_text="Why this row counts before other sources; empty: it is not chosen."
    )

    class Meta:
        abstract = True


class StorageGroup(Record):
    """How long an elastomer keeps in store, after ISO 2230 or another source."""

    code = models.CharField(max_length=10, unique=True)
    initial_years = models.PositiveSmallIntegerField()
    extension_years = models.PositiveSmallIntegerField()
    source = models.CharField(max_length=300)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(source=""), name="storage_group_names_its_source")]

    def __str__(self) -> str:
        return self.code


class Material(Record):
    """A sealing material under its ISO 1629 code, or a trade term for what that standard leaves out."""

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=120)
    aliases = models.JSONField(default=list, blank=True)
    storage_group = models.ForeignKey(
        StorageGroup,
        models.PROTECT,
        null=True,
        related_name="materials",
        help_text="The one that counts of those in MaterialStorageGroup; kept by its operations.",
    )
    source = models.CharField(max_length=300)
    note = models.TextField(blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(source=""), name="material_names_its_source")]

    def __str__(self) -> str:
        return self.code


class MaterialLimit(Figure):
    """Temperature limits of a material after one source; null where that source is silent."""

    material = models.ForeignKey(Material, models.PROTECT, related_name="limits")
    air_min_c = models.DecimalField(max_digits=6, decimal_places=2, null=True)
    air_max_c = models.DecimalField(max_digits=6, decimal_places=2, null=True)
    hot_water_max_c = models.DecimalField(max_digits=6, decimal_places=2, null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["material", "source"], name="limits_are_given_once_by_a_source"),
            models.UniqueConstraint(
                fields=["material"], condition=~Q(chosen_because=""), name="one_limit_row_is_chosen"
            ),
            models.CheckConstraint(
                condition=Q(air_min_c__isnull=False) | Q(air_max_c__isnull=False) | Q(hot_water_max_c__isnull=False),
                name="limit_row_gives_a_limit",
            ),
            models.CheckConstraint(
                condition=Q(air_min_c__isnull=True) | Q(air_max_c__isnull=True) | Q(air_min_c__lt=F("air_max_c")),
                name="limits_are_in_order",
            ),
            models.CheckConstraint(condition=~Q(source=""), name="limit_names_its_source"),
        ]

    def __str__(self) -> str:
        return f"{self.material_id} {self.air_min_c} {self.air_max_c}"


class MaterialRating(Figure):
    """A material in a fluid family up to a temperature after one source: A suitable, B limited, C and X not."""

    material = models.ForeignKey(Material, models.PROTECT, related_name="ratings")
    fluid_family = models.ForeignKey(FluidFamily, models.PROTECT, related_name="+")
    up_to_c = models.DecimalField(max_digits=6, decimal_places=2)
    rating = models.CharField(max_length=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["material", "fluid_family", "up_to_c", "source"], name="rating_is_given_once_by_a_source"
            ),
            models.UniqueConstraint(
                fields=["material", "fluid_family", "up_to_c"],
                condition=~Q(chosen_because=""),
                name="one_rating_row_is_chosen",
            ),
            models.CheckConstraint(condition=Q(rating__in=["A", "B", "C", "X"]), name="rating_is_known"),
            models.CheckConstraint(condition=~Q(source=""), name="rating_names_its_source"),
        ]

    def __str__(self) -> str:
        return f"{self.material_id} {self.rating}"


class MaterialStorageGroup(Figure):
    """The storage group into which one source puts a material."""

    material = models.ForeignKey(Material, models.PROTECT, related_name="storage_groups")
    storage_group = models.ForeignKey(StorageGroup, models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["material", "source"], name="storage_group_is_given_once_by_a_source"),
            models.UniqueConstraint(
                fields=["material"], condition=~Q(chosen_because=""), name="one_storage_group_row_is_chosen"
            ),
            models.CheckConstraint(condition=~Q(source=""), name="storage_group_row_names_its_source"),
        ]

    def __str__(self) -> str:
        return f"{self.material_id} {self.storage_group_id}"


class SealFace(Record):
    """A material of seal faces under its letters after EN 12756."""

    letters = models.CharField(max_length=4, unique=True)
    name = models.CharField(max_length=120)
    note = models.TextField(blank=True)
    source = models.CharField(max_length=300)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(source=""), name="seal_face_names_its_source")]

    def __str__(self) -> str:
        return self.letters


class SealFaceRating(Figure):
    """A seal face in a fluid family up to a temperature after one source; rated as materials are."""

    seal_face = models.ForeignKey(SealFace, models.PROTECT, related_name="ratings")
    fluid_family = models.ForeignKey(FluidFamily, models.PROTECT, related_name="+")
    up_to_c = models.DecimalField(max_digits=6, decimal_places=2)
    rating = models.CharField(max_length=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["seal_face", "fluid_family", "up_to_c", "source"], name="face_rating_is_given_once_by_a_source"
            ),
            models.UniqueConstraint(
                fields=["seal_face", "fluid_family", "up_to_c"],
                condition=~Q(chosen_because=""),
                name="one_face_rating_row_is_chosen",
            ),
            models.CheckConstraint(condition=Q(rating__in=["A", "B", "C", "X"]), name="face_rating_is_known"),
            models.CheckConstraint(condition=~Q(source=""), name="face_rating_names_its_source"),
        ]

    def __str__(self) -> str:
        return f"{self.seal_face_id} {self.rating}"
