"""Time spent on a job, by person and step; append-only. A correction is another row that names the one it replaces."""

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Now

from jobs.models.jobs import Job
from services.api.identifiers import new_id


class WorkBooking(models.Model):
    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    job = models.ForeignKey(Job, models.PROTECT, related_name="work_bookings")
    step_number = models.PositiveIntegerField(null=True)
    section = models.CharField(max_length=20, blank=True, help_text="Of the step; empty for the job as a whole.")
    person = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")
    minutes = models.PositiveIntegerField()
    started_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)
    note = models.CharField(max_length=300, blank=True)
    corrects = models.OneToOneField("self", models.PROTECT, null=True, related_name="corrected_by")
    by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")
    at = models.DateTimeField(db_default=Now(), editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(started_at__isnull=True, ended_at__isnull=True) | Q(started_at__lt=F("ended_at")),
                name="work_ends_after_it_began",
            ),
            models.CheckConstraint(
                condition=Q(minutes__gt=0) | Q(corrects__isnull=False), name="only_a_correction_takes_work_back"
            ),
        ]
        indexes = [models.Index(fields=["job", "id"], name="work_booking_by_job")]

    def __str__(self) -> str:
        return f"{self.job_id} {self.minutes} min"
