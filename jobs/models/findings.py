"""What was found on a pump, position by position, in codes of open standards; append-only."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Now

from assets.models import Pump
from jobs.models.jobs import Job
from jobs.models.measurements import Nonconformity
from services.api.identifiers import new_id


class Finding(models.Model):
    """A correction is another finding that names the one it replaces; only the last one counts."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    job = models.ForeignKey(Job, models.PROTECT, related_name="findings")
    pump = models.ForeignKey(Pump, models.PROTECT, related_name="findings")
    step_number = models.PositiveIntegerField(null=True)
    role = models.CharField(max_length=40)
    observed = models.TextField(help_text="What was seen, in words.")
    mode = models.CharField(max_length=3, help_text="ISO 14224 failure mode.")
    mechanism = models.CharField(max_length=3, blank=True, help_text="ISO 14224 failure mechanism.")
    bearing_damage = models.CharField(max_length=7, blank=True, help_text="ISO 15243 damage mode; bearings only.")
    cause = models.TextField(blank=True, help_text="Why it came to this, in words.")
    replacement_reason = models.CharField(max_length=12, blank=True)
    nonconformity = models.OneToOneField(Nonconformity, models.PROTECT, null=True, related_name="finding")
    corrects = models.OneToOneField("self", models.PROTECT, null=True, related_name="corrected_by")
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField(db_default=Now(), editable=False)
    by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(bearing_damage="") | Q(role__startswith="bearing"), name="bearing_damage_is_of_a_bearing"
            ),
            models.CheckConstraint(
                condition=Q(replacement_reason__in=["", "failed", "worn", "aged", "disturbed", "preventive"]),
                name="replacement_reason_is_known",
            ),
        ]
        indexes = [
            models.Index(fields=["job", "id"], name="finding_by_job"),
            models.Index(fields=["pump", "-id"], name="finding_by_pump"),
        ]

    def __str__(self) -> str:
        return f"{self.role} {self.mode}"
