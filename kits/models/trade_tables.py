"""Tables of the trade, each row with its source; kept by the data owner, never in code branches."""

from django.db import models
from django.db.models import Q

from assets.models import Criticality, FluidFamily, PositionRole
from services.api.models import Record


class StorageGroup(Record):
    """How long an elastomer keeps in store, after ISO 2230."""

    code = models.CharField(max_length=10, unique=True)
    initial_years = models.PositiveSmallIntegerField()
    extension_years = models.PositiveSmallIntegerField()
    source = models.CharField(max_length=300)

    def __str__(self) -> str:
        return self.code


class Material(Record):
    """A sealing material under its ISO 1629 code, or a trade term for what that standard leaves out."""

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=120)
    aliases = models.JSONField(default=list, blank=True)
    air_min_c = models.DecimalField(max_digits=6, decimal_places=2, null=True)
    air_max_c = models.DecimalField(max_digits=6, decimal_places=2, null=True)
    hot_water_max_c = models.DecimalField(max_digits=6, decimal_places=2, null=True)
    storage_group = models.ForeignKey(StorageGroup, models.PROTECT, null=True, related_name="materials")
    source = models.CharField(max_length=300)
    note = models.TextField(blank=True)

    def __str__(self) -> str:
        return self.code


class MaterialRating(Record):
    """A material in a fluid family up to a temperature: A suitable, B limited, C and X not."""

    material = models.ForeignKey(Material, models.CASCADE, related_name="ratings")
    fluid_family = models.ForeignKey(FluidFamily, models.PROTECT, related_name="+")
    up_to_c = models.DecimalField(max_digits=6, decimal_places=2)
    rating = models.CharField(max_length=1)
    source = models.CharField(max_length=300)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["material", "fluid_family", "up_to_c"], name="rating_is_given_once"),
            models.CheckConstraint(condition=Q(rating__in=["A", "B", "C", "X"]), name="rating_is_known"),
        ]

    def __str__(self) -> str:
        return f"{self.material_id} {self.rating}"


class Lubricant(Record):
    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)

    def __str__(self) -> str:
        return self.code


class LubricantAdvice(Record):
    """Whether an assembly lubricant may touch a material."""

    material = models.ForeignKey(Material, models.CASCADE, related_name="lubricants")
    lubricant = models.ForeignKey(Lubricant, models.CASCADE, related_name="+")
    verdict = models.CharField(max_length=10)
    note = models.TextField(blank=True)
    source = models.CharField(max_length=300)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["material", "lubricant"], name="lubricant_is_judged_once"),
            models.CheckConstraint(
                condition=Q(verdict__in=["ok", "check", "avoid", "forbidden"]), name="lubricant_verdict_is_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.material_id} {self.lubricant_id} {self.verdict}"


class KitScope(Record):
    """A named set of position roles: what a kit of this scope is meant to renew."""

    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    roles = models.ManyToManyField(PositionRole, related_name="+")

    def __str__(self) -> str:
        return self.code


class ServiceTarget(Record):
    """The share of needs to be met from the shelf, by criticality."""

    criticality = models.CharField(max_length=12, choices=Criticality.choices, unique=True)
    fill_rate = models.DecimalField(max_digits=5, decimal_places=4)
    source = models.CharField(max_length=300)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(fill_rate__gt=0, fill_rate__lt=1), name="fill_rate_is_between_0_and_1"),
            models.CheckConstraint(condition=Q(criticality__in=Criticality.values), name="target_criticality_is_known"),
        ]

    def __str__(self) -> str:
        return f"{self.criticality} {self.fill_rate}"
