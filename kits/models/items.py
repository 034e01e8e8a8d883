"""Items: whatever is stocked and ordered. A part or a revision of a kit is an item first."""

from django.contrib.postgres.indexes import GinIndex
from django.db import models
from django.db.models import ExpressionWrapper, F, Q, Value
from django.db.models.functions import Upper

from assets.models import Criticality, Maker, PositionRole, PumpModel, normalised
from kits.models.materials import StorageGroup
from kits.models.trade_tables import KitScope
from services.api.models import Record

THE_DAY_BEFORE = ExpressionWrapper(F("from_date") - Value(1), output_field=models.DateField())


class Item(Record):
    class Kind(models.TextChoices):
        PART = "part"
        KIT = "kit"

    kind = models.CharField(max_length=4, choices=Kind.choices)
    number = models.CharField(max_length=60)
    revision = models.CharField(max_length=20, blank=True, help_text="Of a kit; empty for a part.")
    name = models.CharField(max_length=200)
    unit = models.CharField(max_length=12, default="piece")
    cost = models.DecimalField(max_digits=14, decimal_places=4, null=True)
    currency = models.CharField(max_length=3, blank=True)
    criticality = models.CharField(max_length=12, choices=Criticality.choices, default=Criticality.ESSENTIAL)
    is_active = models.BooleanField(default=True)
    external_ids = models.JSONField(default=dict, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(Upper("number"), F("revision"), name="item_number_is_used_once"),
            models.CheckConstraint(condition=Q(kind__in=["part", "kit"]), name="item_kind_is_known"),
            models.CheckConstraint(condition=~Q(kind="part") | Q(revision=""), name="parts_have_no_revision"),
            models.CheckConstraint(
                condition=Q(cost__isnull=True) | (Q(cost__gte=0) & ~Q(currency="")), name="cost_has_a_currency"
            ),
            models.CheckConstraint(condition=Q(criticality__in=Criticality.values), name="item_criticality_is_known"),
        ]
        indexes = [
            GinIndex(fields=["external_ids"], name="item_by_external_id"),
            models.Index(normalised("number"), name="item_by_compared_number"),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.revision}".strip()


class Part(models.Model):
    """A part: its maker and the typed specification by which an equal one is known."""

    item = models.OneToOneField(Item, models.CASCADE, primary_key=True, related_name="part")
    maker = models.ForeignKey(Maker, models.PROTECT, null=True, related_name="+")
    category = models.CharField(max_length=40)
    specification = models.JSONField(help_text="After its category; see assets/calculations/part_specifications.")
    elastomers = models.JSONField(default=list, help_text="ISO 1629 codes the part brings.")
    storage_group = models.ForeignKey(
        StorageGroup, models.PROTECT, null=True, related_name="+", help_text="None: it does not age."
    )

    def __str__(self) -> str:
        return f"{self.category} {self.item_id}"


class Supersession(Record):
    """From a date one part is replaced by another, one way or both ways, until it is withdrawn."""

    old = models.ForeignKey(Part, models.CASCADE, related_name="replaced_by")
    new = models.ForeignKey(Part, models.CASCADE, related_name="replaces")
    from_date = models.DateField()
    until_date = models.DateField(
        null=True, help_text="The last day on which it holds; the day before from_date where it never did."
    )
    both_ways = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["old", "new"], name="supersession_is_named_once"),
            models.CheckConstraint(
                condition=Q(until_date__isnull=True) | Q(until_date__gte=THE_DAY_BEFORE),
                name="supersession_ends_after_it_begins",
            ),
            models.CheckConstraint(condition=~Q(old=F("new")), name="part_does_not_replace_itself"),
        ]

    def __str__(self) -> str:
        return f"{self.old_id} -> {self.new_id}"


class Kit(models.Model):
    """One revision of a kit. Once released its lines never change."""

    class State(models.TextChoices):
        DRAFT = "draft"
        RELEASED = "released"
        WITHDRAWN = "withdrawn"

    item = models.OneToOneField(Item, models.CASCADE, primary_key=True, related_name="kit")
    scope = models.ForeignKey(KitScope, models.PROTECT, related_name="kits")
    state = models.CharField(max_length=10, choices=State.choices, default=State.DRAFT)
    released_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(state__in=["draft", "released", "withdrawn"]), name="kit_state_is_known")
        ]

    def __str__(self) -> str:
        return f"kit {self.item_id}"


class KitLine(Record):
    kit = models.ForeignKey(Kit, models.CASCADE, related_name="lines")
    line = models.PositiveIntegerField()
    role = models.ForeignKey(PositionRole, models.PROTECT, related_name="+", to_field="code", db_column="role")
    part = models.ForeignKey(Part, models.PROTECT, related_name="kit_lines")
    quantity = models.DecimalField(max_digits=9, decimal_places=3)
    optional = models.BooleanField(default=False)
    alternative_group = models.CharField(max_length=20, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kit", "line"], name="kit_line_is_numbered_once"),
            models.CheckConstraint(condition=Q(quantity__gt=0), name="kit_line_quantity_is_positive"),
        ]

    def __str__(self) -> str:
        return f"{self.kit_id} {self.line}"


class Coverage(Record):
    """What the maker says a kit is for: models, serials, as-built conditions and days on which the word holds. It never
    overrules the computed fit."""

    kit = models.ForeignKey(Kit, models.CASCADE, related_name="coverage")
    pump_model = models.ForeignKey(PumpModel, models.CASCADE, related_name="coverage")
    serial_from = models.CharField(max_length=40, blank=True)
    serial_to = models.CharField(max_length=40, blank=True)
    variant = models.JSONField(
        default=dict, db_default={}, blank=True, help_text='As-built conditions, {"elastomer": "EPDM"}.'
    )
    valid_from = models.DateField(null=True, help_text="The first day on which the word holds.")
    valid_to = models.DateField(null=True, help_text="The last day on which it holds.")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["kit", "pump_model", "serial_from", "serial_to", "variant", "valid_from"],
                name="coverage_is_declared_once",
                nulls_distinct=False,
            ),
            models.CheckConstraint(
                condition=Q(valid_from__isnull=True) | Q(valid_to__isnull=True) | Q(valid_to__gte=F("valid_from")),
                name="coverage_ends_after_it_begins",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kit_id} {self.pump_model_id}"
