"""Files handed in: what came, what became of each row; and how files of others are to be read."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from services.api.models import Record
from services.work.models import BackgroundRun


class BulkLoad(Record):
    """A file of one kind, loaded by a background run."""

    kind = models.CharField(max_length=40)
    name = models.CharField(max_length=200, blank=True)
    media_type = models.CharField(max_length=100)
    content = models.BinaryField()
    whole_or_nothing = models.BooleanField(default=False)
    dry_run = models.BooleanField(default=False)
    mapping = models.CharField(max_length=80, blank=True, db_default="", default="")
    reading = models.JSONField(default=dict, db_default={}, help_text="The mapping as it was when the file came.")
    notes = models.JSONField(default=list, db_default=[], help_text="What was noted of the file as a whole.")
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


class ColumnMapping(Record):
    """How files of one origin are read into one kind: their headers, words, units and forms, kept under a name."""

    class DecimalMark(models.TextChoices):
        UNKNOWN = ""
        COMMA = ","
        POINT = "."

    class DateForm(models.TextChoices):
        UNKNOWN = ""
        DAY_FIRST = "day-first"
        MONTH_FIRST = "month-first"

    kind = models.CharField(max_length=40)
    name = models.CharField(max_length=80)
    columns = models.JSONField(default=dict)
    constants = models.JSONField(default=dict)
    translations = models.JSONField(default=dict)
    units = models.JSONField(default=dict)
    decimal_mark = models.CharField(max_length=1, blank=True, choices=DecimalMark.choices)
    date_form = models.CharField(max_length=12, blank=True, choices=DateForm.choices)
    sheet = models.CharField(max_length=31, blank=True)
    ignore_others = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint("kind", Lower("name"), name="mapping_name_is_used_once_a_kind"),
            models.CheckConstraint(condition=Q(decimal_mark__in=["", ",", "."]), name="decimal_mark_is_known"),
            models.CheckConstraint(
                condition=Q(date_form__in=["", "day-first", "month-first"]), name="date_form_is_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.name}"
