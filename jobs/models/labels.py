"""Labels: codes on kits, lots, pumps and bins that lead to what is needed next."""

from django.db import models
from django.db.models import Q

from assets.models import Bin, Pump
from kits.models import Kit, Lot
from services.api.models import Record


class LabelKind(models.TextChoices):
    KIT = "kit"
    LOT = "lot"
    PUMP = "pump"
    BIN = "bin"


def _one_thing() -> Q:
    """The column of its kind is filled, the others are empty."""
    condition = Q()
    for kind in LabelKind.values:
        condition |= Q(kind=kind, **{f"{one}__isnull": one != kind for one in LabelKind.values})
    return condition


class Label(Record):
    """A code that stands on one thing. A thing has one active label; older ones were replaced or are void."""

    class State(models.TextChoices):
        ACTIVE = "active"
        REPLACED = "replaced"
        VOID = "void"

    code = models.CharField(max_length=10, unique=True)
    kind = models.CharField(max_length=4, choices=LabelKind.choices)
    kit = models.ForeignKey(Kit, models.PROTECT, null=True, related_name="labels")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, related_name="labels")
    pump = models.ForeignKey(Pump, models.PROTECT, null=True, related_name="labels")
    bin = models.ForeignKey(Bin, models.PROTECT, null=True, related_name="labels")
    state = models.CharField(max_length=8, choices=State.choices, default=State.ACTIVE)
    reason = models.CharField(max_length=300, blank=True, help_text="Why it was replaced or made void.")
    replaced_by = models.OneToOneField("self", models.PROTECT, null=True, related_name="replaces")
    printed_at = models.DateTimeField(null=True, help_text="When it was last put on a sheet.")

    class Meta:
        constraints = [
            *(
                models.UniqueConstraint(fields=[kind], condition=Q(state="active"), name=f"{kind}_has_one_active_label")
                for kind in LabelKind.values
            ),
            models.CheckConstraint(condition=_one_thing(), name="label_names_one_thing"),
            models.CheckConstraint(
                condition=Q(code__regex="^[0-9A-HJKMNP-TV-Z]{10}$"), name="label_code_is_well_formed"
            ),
            models.CheckConstraint(condition=Q(state__in=["active", "replaced", "void"]), name="label_state_is_known"),
            models.CheckConstraint(
                condition=(~Q(state="replaced") | Q(replaced_by__isnull=False))
                & (~Q(state="active") | Q(replaced_by__isnull=True)),
                name="replaced_label_names_the_next",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.kind}"
