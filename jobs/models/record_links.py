"""The chain over the records of all closed jobs; append-only, without a gap."""

from django.db import models
from django.db.models import Q

from jobs.models.jobs import Job
from jobs.models.measurements import SignOff


class RecordLink(models.Model):
    """A closed job's record in the chain; see jobs/calculations/record_chain."""

    number = models.PositiveBigIntegerField(primary_key=True)
    job = models.OneToOneField(Job, models.PROTECT, related_name="record_link")
    sign_off = models.OneToOneField(SignOff, models.PROTECT, related_name="record_link")
    content_hash = models.CharField(max_length=71)
    at = models.DateTimeField(help_text="When it was signed off.")
    previous_mac = models.CharField(max_length=64, help_text="The seal of the link before; zeros for the first.")
    key_id = models.CharField(max_length=40)
    mac = models.CharField(max_length=64, unique=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(number__gte=1), name="record_link_is_counted_from_one"),
            models.UniqueConstraint(fields=["previous_mac"], name="record_chain_does_not_fork"),
        ]
        indexes = [models.Index(fields=["content_hash"], name="record_link_by_hash")]

    def __str__(self) -> str:
        return f"{self.number}"
