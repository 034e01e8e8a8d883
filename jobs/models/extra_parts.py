"""Parts a job needs beyond its kit, and whatever came back from it."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Now

from jobs.models.findings import Finding
from jobs.models.jobs import Job
from kits.models import Item
from services.api.identifiers import new_id
from services.api.models import Record


class ExtraPart(Record):
    """A part for damage that the kit does not cover; claimed, then taken, then fitted or brought back."""

    class State(models.TextChoices):
        ASKED = "asked"
        TAKEN = "taken"
        WITHDRAWN = "withdrawn"

    job = models.ForeignKey(Job, models.PROTECT, related_name="extra_parts")
    part = models.ForeignKey(Item, models.PROTECT, related_name="+")
    quantity = models.DecimalField(max_digits=9, decimal_places=3)
    role = models.CharField(max_length=40)
    reason = models.TextField()
    finding = models.ForeignKey(Finding, models.PROTECT, null=True, related_name="extra_parts")
    reservation_id = models.UUIDField(help_text="The job's claim on this part; extra parts of a kind share one.")
    state = models.CharField(max_length=9, choices=State.choices, default=State.ASKED)
    taken_from = models.JSONField(default=list, help_text="Lots and quantities it was issued from.")
    asked_by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")
    taken_by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")
    taken_at = models.DateTimeField(null=True)
    withdrawn_reason = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="extra_part_quantity_is_positive"),
            models.CheckConstraint(
                condition=Q(state__in=["asked", "taken", "withdrawn"]), name="extra_part_state_is_known"
            ),
            models.CheckConstraint(
                condition=~Q(state="taken") | Q(taken_at__isnull=False, taken_by__isnull=False),
                name="taken_extra_part_says_by_whom",
            ),
        ]
        indexes = [models.Index(fields=["job", "id"], name="extra_part_by_job")]

    def __str__(self) -> str:
        return f"{self.job_id} {self.role} {self.state}"


class JobReturn(models.Model):
    """What came back from a job unused; append-only."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    job = models.ForeignKey(Job, models.PROTECT, related_name="returns")
    item = models.ForeignKey(Item, models.PROTECT, related_name="+")
    quantity = models.DecimalField(max_digits=9, decimal_places=3)
    extra_part = models.ForeignKey(ExtraPart, models.PROTECT, null=True, related_name="returns")
    lot = models.ForeignKey("kits.Lot", models.PROTECT, related_name="+", help_text="The lot it lies in again.")
    condition = models.CharField(max_length=11)
    movement_id = models.UUIDField(help_text="The return in the stock ledger.")
    reason = models.CharField(max_length=300)
    by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")
    at = models.DateTimeField(db_default=Now(), editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="returned_quantity_is_positive"),
            models.CheckConstraint(
                condition=Q(condition__in=["usable", "quarantined"]), name="returned_condition_is_known"
            ),
        ]
        indexes = [models.Index(fields=["job", "id"], name="job_return_by_job")]

    def __str__(self) -> str:
        return f"{self.job_id} {self.quantity}"
