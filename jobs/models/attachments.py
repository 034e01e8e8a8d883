"""Photos and documents of a job. A content is stored once, however often it is attached; both are append-only."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Now

from jobs.models.findings import Finding
from jobs.models.jobs import Job
from jobs.models.measurements import Measurement, Nonconformity
from services.api.identifiers import new_id


class StoredFile(models.Model):
    """A content: where it lies and what it is. ``received`` is the hash of what came, which may hold more."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    sha256 = models.CharField(max_length=64, help_text="Of what is kept.")
    received_sha256 = models.CharField(max_length=64, unique=True, help_text="Of what came in.")
    place = models.CharField(max_length=200, help_text="Its name in the storage.")
    media_type = models.CharField(max_length=20)
    size = models.PositiveIntegerField(help_text="Bytes kept.")
    cleaned = models.BooleanField(default=False, help_text="Whether facts about place and device were taken out.")
    stored_at = models.DateTimeField(db_default=Now(), editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(media_type__in=["image/jpeg", "image/png", "image/webp", "application/pdf"]),
                name="stored_media_type_is_known",
            )
        ]

    def __str__(self) -> str:
        return self.sha256


class Attachment(models.Model):
    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    job = models.ForeignKey(Job, models.PROTECT, related_name="attachments")
    file = models.ForeignKey(StoredFile, models.PROTECT, related_name="attachments")
    name = models.CharField(max_length=120)
    caption = models.CharField(max_length=300, blank=True)
    step_number = models.PositiveIntegerField(null=True)
    finding = models.ForeignKey(Finding, models.PROTECT, null=True, related_name="attachments")
    measurement = models.ForeignKey(Measurement, models.PROTECT, null=True, related_name="attachments")
    nonconformity = models.ForeignKey(Nonconformity, models.PROTECT, null=True, related_name="attachments")
    by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField(db_default=Now(), editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=(
                    Q(step_number__isnull=True, finding__isnull=True, measurement__isnull=True)
                    | Q(step_number__isnull=True, finding__isnull=True, nonconformity__isnull=True)
                    | Q(step_number__isnull=True, measurement__isnull=True, nonconformity__isnull=True)
                    | Q(finding__isnull=True, measurement__isnull=True, nonconformity__isnull=True)
                ),
                name="attachment_is_of_one_thing",
            )
        ]
        indexes = [models.Index(fields=["job", "id"], name="attachment_by_job")]

    def __str__(self) -> str:
        return self.name
