"""Measurements as they were judged; append-only. A re-measurement is another row."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Now

from jobs.models.instruments import Instrument
from jobs.models.jobs import Job, JobCharacteristic
from services.api.identifiers import new_id
from services.api.models import Record


class Measurement(models.Model):
    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    job = models.ForeignKey(Job, models.PROTECT, related_name="measurements")
    job_characteristic = models.ForeignKey(JobCharacteristic, models.PROTECT, related_name="measurements")
    attempt = models.PositiveSmallIntegerField(help_text="1 for the first, more for re-measurements.")
    readings = models.JSONField(help_text="As strings, in the unit the fitter used: a list, or by name.")
    rule = models.CharField(
        max_length=30, blank=True, default="", db_default="", help_text="As it stood; empty in older records."
    )
    given = models.JSONField(default=dict, db_default={}, help_text="What the rule knew besides readings, as it stood.")
    results = models.JSONField(default=list, db_default=[], help_text="What else the readings tell.")
    unit = models.CharField(max_length=20)
    value = models.DecimalField(max_digits=18, decimal_places=6, help_text="In the characteristic's unit.")
    value_si = models.DecimalField(max_digits=24, decimal_places=12)
    expanded_uncertainty = models.DecimalField(max_digits=18, decimal_places=6)
    coverage_factor = models.DecimalField(max_digits=4, decimal_places=2)
    degrees_of_freedom = models.DecimalField(
        max_digits=6, decimal_places=1, null=True, help_text="Effective; null for infinitely many."
    )
    decision_rule = models.CharField(max_length=20)
    lower = models.DecimalField(max_digits=18, decimal_places=6, null=True)
    upper = models.DecimalField(max_digits=18, decimal_places=6, null=True)
    limits_unit = models.CharField(max_length=20)
    verdict = models.CharField(max_length=10)
    room_left = models.DecimalField(
        max_digits=18, decimal_places=6, null=True, help_text="To the limit less the guard band."
    )
    room_to_limit = models.DecimalField(max_digits=18, decimal_places=6, null=True)
    reasons = models.JSONField(default=list)
    budget = models.JSONField(default=list, help_text="The parts of the uncertainty.")
    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="measurements")
    calibration_due = models.DateField(help_text="As it stood.")
    second_instrument = models.ForeignKey(Instrument, models.PROTECT, null=True, related_name="+")
    second_calibration_due = models.DateField(null=True, help_text="As it stood.")
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField(db_default=Now(), editable=False)
    by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(verdict__in=["accept", "reject", "not-proved"]), name="measurement_verdict_is_known"
            ),
            models.UniqueConstraint(fields=["job_characteristic", "attempt"], name="attempt_is_counted_once"),
            models.CheckConstraint(
                condition=Q(second_instrument=None, second_calibration_due=None)
                | Q(second_instrument__isnull=False, second_calibration_due__isnull=False),
                name="second_instrument_has_its_calibration",
            ),
        ]
        indexes = [models.Index(fields=["job", "id"], name="measurement_by_job")]

    def __str__(self) -> str:
        return f"{self.value} {self.verdict}"


class Nonconformity(Record):
    """Something that is not as it must be, and what was decided about it."""

    class Disposition(models.TextChoices):
        UNDECIDED = ""
        REWORK = "rework"
        REPLACE = "replace"
        USE_AS_IS = "use-as-is"

    class State(models.TextChoices):
        OPEN = "open"
        DECIDED = "decided"
        CLOSED = "closed"

    job = models.ForeignKey(Job, models.PROTECT, related_name="nonconformities")
    measurement = models.OneToOneField(Measurement, models.PROTECT, null=True, related_name="nonconformity")
    job_characteristic = models.ForeignKey(JobCharacteristic, models.PROTECT, null=True, related_name="+")
    role = models.CharField(max_length=40, blank=True)
    description = models.TextField()
    disposition = models.CharField(max_length=10, choices=Disposition.choices, blank=True)
    state = models.CharField(max_length=8, choices=State.choices, default=State.OPEN)
    raised_by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")
    decided_by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")
    decided_at = models.DateTimeField(null=True)
    decision_reason = models.TextField(blank=True)
    extent = models.TextField(
        blank=True, db_default="", help_text="What a concession holds for: which part, until when."
    )
    closed_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(disposition__in=["", "rework", "replace", "use-as-is"]), name="disposition_is_known"
            ),
            models.CheckConstraint(
                condition=~Q(disposition="use-as-is") | ~Q(decided_by=models.F("raised_by")),
                name="concession_is_given_by_another",
            ),
            models.CheckConstraint(
                condition=~Q(disposition="use-as-is") | (~Q(decision_reason="") & ~Q(extent="")),
                name="concession_has_reason_and_extent",
            ),
        ]
        indexes = [models.Index(fields=["job", "id"], name="nonconformity_by_job")]

    def __str__(self) -> str:
        return f"{self.job_id} {self.state}"


class SignOff(models.Model):
    """A signature over exactly what was signed; append-only."""

    class Kind(models.TextChoices):
        HOLD_POINT = "hold-point"
        CONCESSION = "concession"
        COMPLETION = "completion"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    job = models.ForeignKey(Job, models.PROTECT, related_name="sign_offs")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    step_number = models.PositiveIntegerField(null=True)
    nonconformity = models.ForeignKey(Nonconformity, models.PROTECT, null=True, related_name="sign_offs")
    by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")
    role = models.CharField(max_length=20)
    at = models.DateTimeField(db_default=Now())
    content = models.JSONField()
    content_hash = models.CharField(max_length=71)
    remark = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=["hold-point", "concession", "completion"]), name="sign_off_kind_is_known"
            ),
            models.UniqueConstraint(fields=["job"], condition=Q(kind="completion"), name="job_is_signed_off_once"),
        ]
        indexes = [models.Index(fields=["job", "id"], name="sign_off_by_job")]

    def __str__(self) -> str:
        return f"{self.job_id} {self.kind}"
