"""Files handed in: what came, what became of each row."""

from django.db import models
from django.db.models import Q

from services.api.models import Record
from services.work.models import BackgroundRun


class BulkLoad(Record):
    """A file of one kind, loaded by a background run."""

    kind = models.CharField(max_length=40)
    name = models.CharField(max_length=200, blank=True)
    media_type = models.CharField(max_length=60)
    content = models.BinaryField()
    whole_or_nothing = models.BooleanField(default=False)
    dry_run = models.BooleanField(default=False)
    run = models.OneToOneField(BackgroundRun, models.PROTECT, related_name="bulk_load")
    created_rows = models.PositiveIntegerField(default=0)
    changed_rows = models.PositiveIntegerField(default=0)
    unchanged_rows = models.PositiveIntegerField(default=0)
    refused_rows = models.PositiveIntegerField(default=0)
    noted_rows = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.kind} {self.name}"


class BulkLoadRow(models.Model):
    """What became of one row: its outcome, notes on what was mended, problems it was refused for."""

    id = models.BigAutoField(primary_key=True)
    bulk_load = models.ForeignKey(BulkLoad, models.CASCADE, related_name="rows")
    row = models.PositiveIntegerField(help_text="As numbered in the file; the header is row 1.")
    key = models.CharField(max_length=200, blank=True)
    outcome = models.CharField(max_length=10)
    notes = models.JSONField(default=list)
    problems = models.JSONField(default=list)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["bulk_load", "row"], name="row_is_reported_once"),
            models.CheckConstraint(
                condition=Q(outcome__in=["created", "changed", "unchanged", "refused"]), name="row_outcome_is_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.row} {self.outcome}"
