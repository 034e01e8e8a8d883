"""What became of a job, in the order it happened: who did it, when and why. Append-only."""

from django.db import models
from django.db.models.functions import Now

from jobs.models.jobs import Job
from services.api.identifiers import new_id


class JobEvent(models.Model):
    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    job = models.ForeignKey(Job, models.PROTECT, related_name="events")
    kind = models.CharField(max_length=40, help_text="As in the change feed: job.held, job.handed-over and so on.")
    state = models.CharField(max_length=18, help_text="The job's state after it.")
    reason = models.TextField(blank=True)
    facts = models.JSONField(default=dict)
    by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField(db_default=Now(), editable=False)

    class Meta:
        indexes = [models.Index(fields=["job", "id"], name="job_event_by_job")]

    def __str__(self) -> str:
        return f"{self.job_id} {self.kind}"
