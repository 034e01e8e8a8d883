"""Overhaul jobs and their steps as they apply to this pump and this kit."""

from django.db import models
from django.db.models import F, Q

from assets.models import Pump, Site
from jobs.models.procedures import Characteristic, ProcedureRevision, Step
from kits.models import Item, Kit
from services.api.identifiers import new_id
from services.api.models import Record


class JobState(models.TextChoices):
    PLANNED = "planned"
    READY = "ready"
    IN_PROGRESS = "in-progress"
    AWAITING_SIGN_OFF = "awaiting-sign-off"
    CLOSED = "closed"
    ON_HOLD = "on-hold"
    CANCELLED = "cancelled"


class Job(Record):
    number = models.CharField(max_length=40, unique=True)
    pump = models.ForeignKey(Pump, models.PROTECT, related_name="jobs")
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    revision = models.ForeignKey(ProcedureRevision, models.PROTECT, related_name="jobs")
    kit = models.ForeignKey(Kit, models.PROTECT, related_name="jobs")
    planned_start = models.DateField()
    planned_end = models.DateField()
    assignee = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")
    state = models.CharField(max_length=18, choices=JobState.choices, default=JobState.PLANNED)
    held_from = models.CharField(max_length=18, blank=True, help_text="The state a hold returns to.")
    state_reasons = models.JSONField(default=list, help_text="Why it is not ready, or why it is held.")
    started_at = models.DateTimeField(null=True)
    finished_at = models.DateTimeField(null=True)
    closed_at = models.DateTimeField(null=True)
    planned_by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")
    follows = models.ForeignKey("self", models.PROTECT, null=True, related_name="followed_by")
    takes_kit = models.BooleanField(
        default=True, db_default=True, help_text="A follow-up may need no more than single parts."
    )
    repeats = models.JSONField(
        default=list,
        db_default=[],
        help_text="Numbers of steps that a follow-up does again though they were done before.",
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(planned_start__lte=F("planned_end")), name="job_window_is_in_order"),
            models.CheckConstraint(condition=Q(state__in=JobState.values), name="job_state_is_known"),
            models.CheckConstraint(condition=Q(follows=None) | ~Q(follows=F("id")), name="job_follows_another"),
        ]
        indexes = [
            models.Index(fields=["site", "planned_start", "id"], name="job_by_site_and_day"),
            models.Index(fields=["pump", "-planned_start"], name="job_by_pump"),
        ]

    def __str__(self) -> str:
        return self.number


class JobStep(Record):
    """A step of the job: whether it applies, the advice worked out for it, and who did it when."""

    class State(models.TextChoices):
        OPEN = "open"
        DONE = "done"
        AWAITING_RELEASE = "awaiting-release"
        NOT_APPLICABLE = "not-applicable"
        MOVED = "moved"

    job = models.ForeignKey(Job, models.CASCADE, related_name="steps")
    step = models.ForeignKey(Step, models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    section = models.CharField(max_length=20)
    state = models.CharField(max_length=18, choices=State.choices, default=State.OPEN)
    why = models.TextField(blank=True, help_text="Why it applies or does not.")
    advice = models.JSONField(default=list, help_text="Worked out at start, and again when an input changes.")
    note = models.TextField(blank=True)
    done_by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")
    done_at = models.DateTimeField(null=True)
    released_by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")
    released_at = models.DateTimeField(null=True)
    moved_to = models.ForeignKey(Job, models.PROTECT, null=True, related_name="+", help_text="Where it is done now.")
    done_under = models.ForeignKey(
        Job, models.PROTECT, null=True, related_name="+", help_text="The earlier job that did it."
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["job", "number"], name="job_step_is_numbered_once"),
            models.CheckConstraint(
                condition=Q(state__in=["open", "done", "awaiting-release", "not-applicable", "moved"]),
                name="job_step_state_is_known",
            ),
            models.CheckConstraint(
                condition=Q(state="moved", moved_to__isnull=False) | ~Q(state="moved") & Q(moved_to__isnull=True),
                name="moved_step_names_its_job",
            ),
            models.CheckConstraint(
                condition=Q(released_by__isnull=True) | ~Q(released_by=F("done_by")),
                name="hold_point_is_released_by_another",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job_id} {self.number}"


class JobCharacteristic(models.Model):
    """A characteristic with its limits as resolved for this pump and kit."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    job_step = models.ForeignKey(JobStep, models.CASCADE, related_name="characteristics")
    # The step's; a trigger fills it, so that what was measured on one pump under one code is found by an index.
    job = models.ForeignKey(Job, models.CASCADE, null=True, related_name="+", editable=False, db_index=False)
    characteristic = models.ForeignKey(Characteristic, models.PROTECT, related_name="+")
    code = models.CharField(max_length=60)
    lower = models.DecimalField(max_digits=18, decimal_places=6, null=True)
    upper = models.DecimalField(max_digits=18, decimal_places=6, null=True)
    unit = models.CharField(max_length=20)
    words = models.TextField(blank=True, help_text="Where the limits come from.")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["job_step", "characteristic"], name="limits_are_resolved_once"),
        ]
        indexes = [models.Index(fields=["job", "code"], name="characteristic_of_job")]

    def __str__(self) -> str:
        return self.code


class FittedPart(Record):
    """What sits in a pump: which part from which lot, fitted when and by which job, removed when and in what state."""

    pump = models.ForeignKey(Pump, models.PROTECT, related_name="fitted_parts")
    role = models.CharField(max_length=40)
    part = models.ForeignKey(Item, models.PROTECT, related_name="+")
    quantity = models.DecimalField(max_digits=9, decimal_places=3)
    lot = models.ForeignKey("kits.Lot", models.PROTECT, null=True, related_name="+")
    job = models.ForeignKey(Job, models.PROTECT, related_name="fitted_parts")
    fitted_at = models.DateTimeField()
    removed_at = models.DateTimeField(null=True)
    removed_by_job = models.ForeignKey(Job, models.PROTECT, null=True, related_name="removed_parts")
    removed_condition = models.CharField(max_length=20, blank=True, help_text="Open-standard failure or damage code.")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="fitted_quantity_is_positive"),
            models.UniqueConstraint(fields=["job", "role", "part", "lot"], name="part_is_fitted_once_a_job"),
        ]
        indexes = [models.Index(fields=["pump", "role", "-fitted_at"], name="fitted_part_of_pump")]

    def __str__(self) -> str:
        return f"{self.pump_id} {self.role}"
