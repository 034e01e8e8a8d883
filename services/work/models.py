"""Work to be done, recorded where it cannot be lost. Celery only kicks; a sweep finds whatever was not kicked."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Now

from services.api.models import Record


class BackgroundRun(Record):
    """One piece of long work: asked for by a request or by the clock, taken up by a worker, readable meanwhile."""

    class State(models.TextChoices):
        QUEUED = "queued"
        RUNNING = "running"
        DONE = "done"
        FAILED = "failed"
        CANCELLED = "cancelled"

    kind = models.CharField(max_length=60, help_text="The name of the task that does it.")
    slot = models.CharField(max_length=120, unique=True, null=True, help_text="Asked for once: by the clock.")
    state = models.CharField(max_length=10, choices=State.choices, default=State.QUEUED)
    site_id = models.UUIDField(null=True)
    arguments = models.JSONField(default=dict)
    progress_done = models.PositiveIntegerField(default=0)
    progress_total = models.PositiveIntegerField(null=True)
    result = models.JSONField(default=dict)
    attempts = models.PositiveSmallIntegerField(default=0)
    due_at = models.DateTimeField(db_default=Now())
    lease_until = models.DateTimeField(null=True)
    started_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)
    last_error = models.TextField(blank=True)
    requested_by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")
    request_id = models.CharField(max_length=64, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=["queued", "running", "done", "failed", "cancelled"]), name="run_state_is_known"
            )
        ]
        indexes = [
            models.Index(fields=["due_at"], condition=Q(state__in=["queued", "running"]), name="run_is_undone"),
            models.Index(fields=["requested_by", "-id"], name="run_by_requester"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.state}"
