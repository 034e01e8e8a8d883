"""Tables of the trade, each row with its source; kept by the data owner, never in code branches."""

from django.db import models
from django.db.models import Q

from assets.models import Criticality, PositionRole
from kits.models.materials import Figure, Material
from services.api.models import Record

UNSOURCED_TERM = "term of the trade, no source"
UNSOURCED_PRACTICE = "common practice, no source"


class Lubricant(Record):
    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    suits_unknown = models.BooleanField(
        default=False, db_default=False, help_text="It may touch an elastomer that the tables do not know."
    )
    source = models.CharField(max_length=300, default=UNSOURCED_TERM, db_default=UNSOURCED_TERM)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(source=""), name="lubricant_names_its_source")]

    def __str__(self) -> str:
        return self.code


class LubricantAdvice(Figure):
    """Whether an assembly lubricant may touch a material, after one source."""

    material = models.ForeignKey(Material, models.PROTECT, related_name="lubricants")
    lubricant = models.ForeignKey(Lubricant, models.PROTECT, related_name="+")
    verdict = models.CharField(max_length=10)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["material", "lubricant", "source"], name="lubricant_is_judged_once_by_a_source"
            ),
            models.UniqueConstraint(
                fields=["material", "lubricant"],
                condition=~Q(chosen_because=""),
                name="one_lubricant_verdict_is_chosen",
            ),
            models.CheckConstraint(
                condition=Q(verdict__in=["ok", "check", "avoid", "forbidden"]), name="lubricant_verdict_is_known"
            ),
            models.CheckConstraint(condition=~Q(source=""), name="lubricant_verdict_names_its_source"),
        ]

    def __str__(self) -> str:
        return f"{self.material_id} {self.lubricant_id} {self.verdict}"


class AssemblyCaution(Record):
    """What to beware of when seals are put together, shown with the advice on lubricants."""

    class Occasion(models.TextChoices):
        ALWAYS = "always"
        UNKNOWN_ELASTOMER = "unknown-elastomer"
        USABLE = "usable"

    code = models.CharField(max_length=40, unique=True)
    sentence = models.TextField()
    occasion = models.CharField(max_length=20, choices=Occasion.choices, default=Occasion.ALWAYS)
    lubricant = models.ForeignKey(
        Lubricant, models.PROTECT, null=True, related_name="cautions", help_text="Shown where this one is usable."
    )
    source = models.CharField(max_length=300)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(occasion__in=["always", "unknown-elastomer"], lubricant__isnull=True)
                | Q(occasion="usable", lubricant__isnull=False),
                name="caution_of_usable_names_a_lubricant",
            ),
            models.CheckConstraint(condition=~Q(sentence=""), name="caution_says_something"),
            models.CheckConstraint(condition=~Q(source=""), name="caution_names_its_source"),
        ]

    def __str__(self) -> str:
        return self.code


class KitScope(Record):
    """A named set of position roles: what a kit of this scope is meant to renew."""

    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    roles = models.ManyToManyField(PositionRole, through="KitScopeRole", related_name="+")
    source = models.CharField(max_length=300, default=UNSOURCED_PRACTICE, db_default=UNSOURCED_PRACTICE)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(source=""), name="kit_scope_names_its_source")]

    def __str__(self) -> str:
        return self.code


class KitScopeRole(models.Model):
    """One role of a scope. A role that a scope names cannot be removed."""

    kitscope = models.ForeignKey(KitScope, models.CASCADE, related_name="+")
    positionrole = models.ForeignKey(PositionRole, models.PROTECT, related_name="+")

    class Meta:
        db_table = "kits_kitscope_roles"
        unique_together = [("kitscope", "positionrole")]

    def __str__(self) -> str:
        return f"{self.kitscope_id} {self.positionrole_id}"


class ServiceTarget(Record):
    """How well stock shall serve, by criticality: as a share of needs, or as a chance that nothing runs short."""

    class Measure(models.TextChoices):
        FILL = "fill"
        CYCLE = "cycle"

    criticality = models.CharField(max_length=12, choices=Criticality.choices, unique=True)
    fill_rate = models.DecimalField(max_digits=5, decimal_places=4, help_text="The share, of whichever measure.")
    measure = models.CharField(
        max_length=5,
        choices=Measure.choices,
        default=Measure.FILL,
        db_default=Measure.FILL,
        help_text="fill: the share of needs met from the shelf; cycle: the chance of no shortage until an order is "
        "there.",
    )
    source = models.CharField(max_length=300)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(fill_rate__gt=0, fill_rate__lt=1), name="fill_rate_is_between_0_and_1"),
            models.CheckConstraint(condition=Q(criticality__in=Criticality.values), name="target_criticality_is_known"),
            models.CheckConstraint(condition=~Q(source=""), name="service_target_names_its_source"),
            models.CheckConstraint(condition=Q(measure__in=["fill", "cycle"]), name="measure_of_service_is_known"),
        ]

    def __str__(self) -> str:
        return f"{self.criticality} {self.fill_rate}"
