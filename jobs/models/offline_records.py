"""Records that were made without a connection, as they came, and what became of each."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Now

from jobs.models.jobs import Job
from services.api.models import Record


class OfflineRecord(Record):
    """Whatever was recorded is kept word for word; only what became of it changes."""

    class State(models.TextChoices):
        APPLIED = "applied"
        WAITING = "waiting"
        CONFLICT = "conflict"
        SET_ASIDE = "set-aside"

    client_id = models.UUIDField(help_text="The id that the device gave it.")
    kind = models.CharField(max_length=20)
    job = models.ForeignKey(Job, models.PROTECT, related_name="offline_records")
    by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")
    device = models.CharField(max_length=80, blank=True)
    occurred_at = models.DateTimeField()
    received_at = models.DateTimeField(db_default=Now(), editable=False)
    content = models.JSONField()
    digest = models.CharField(max_length=71)
    state = models.CharField(max_length=9, choices=State.choices)
    code = models.CharField(max_length=40, blank=True, help_text="Why it waits or conflicts.")
    sentence = models.TextField(blank=True)
    against = models.JSONField(default=dict, help_text="What stands against it, as it was when it came.")
    settled_by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")
    settled_at = models.DateTimeField(null=True)
    settled_because = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["client_id", "digest"], name="offline_record_is_kept_once"),
            models.CheckConstraint(
                condition=Q(state__in=["applied", "waiting", "conflict", "set-aside"]),
                name="offline_record_state_is_known",
            ),
            models.CheckConstraint(
                condition=~Q(state="set-aside") | Q(settled_by__isnull=False, settled_at__isnull=False),
                name="setting_aside_has_its_person",
            ),
        ]
        indexes = [
            models.Index(fields=["job", "id"], name="offline_record_by_job"),
            models.Index(
                fields=["job", "occurred_at"],
                condition=Q(state__in=["waiting", "conflict"]),
                name="offline_record_unsettled",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.client_id}"
