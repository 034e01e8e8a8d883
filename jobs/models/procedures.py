"""Procedures in revisions. A published revision and its steps never change; triggers see to it."""

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Now

from assets.models import Configuration
from services.api.identifiers import new_id
from services.api.models import Record


class Procedure(Record):
    code = models.CharField(max_length=40, unique=True)
    title = models.CharField(max_length=200)
    configuration = models.CharField(max_length=40, choices=Configuration.choices)
    scope_words = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(configuration__in=Configuration.values), name="procedure_configuration_is_known"
            )
        ]

    def __str__(self) -> str:
        return self.code


class ProcedureRevision(Record):
    class State(models.TextChoices):
        DRAFT = "draft"
        IN_REVIEW = "in-review"
        REVIEWED = "reviewed"
        PUBLISHED = "published"
        SUPERSEDED = "superseded"
        WITHDRAWN = "withdrawn"

    procedure = models.ForeignKey(Procedure, models.PROTECT, related_name="revisions")
    revision = models.PositiveIntegerField()
    state = models.CharField(max_length=10, choices=State.choices, default=State.DRAFT)
    title = models.CharField(max_length=200, blank=True, default="", db_default="")
    scope_words = models.TextField(blank=True, default="", db_default="")
    prepared_by = models.CharField(max_length=120, blank=True)
    content_hash = models.CharField(max_length=71, blank=True)
    submitted_at = models.DateTimeField(null=True)
    submitted_by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")
    reviewed_at = models.DateTimeField(null=True)
    reviewed_by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")
    published_at = models.DateTimeField(null=True)
    published_by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["procedure", "revision"], name="revision_is_numbered_once"),
            models.UniqueConstraint(
                fields=["procedure"], condition=Q(state="published"), name="one_published_revision_a_procedure"
            ),
            models.CheckConstraint(
                condition=Q(
                    state__in=["draft", "in-review", "reviewed", "published", "superseded", "withdrawn"],
                ),
                name="revision_state_is_known",
            ),
            models.CheckConstraint(
                condition=Q(reviewed_by=None) | Q(submitted_by=None) | ~Q(reviewed_by=F("submitted_by")),
                name="revision_is_reviewed_by_another",
            ),
            models.CheckConstraint(
                condition=~Q(state="reviewed") | Q(reviewed_by__isnull=False), name="reviewed_revision_names_who_looked"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.procedure_id} rev {self.revision}"


class RevisionAct(models.Model):
    """What somebody did with a revision: wrote it, handed it in, sent it back, reviewed it. Append-only."""

    class Act(models.TextChoices):
        DRAFTED = "drafted"
        CHANGED = "changed"
        SUBMITTED = "submitted"
        SENT_BACK = "sent-back"
        REVIEWED = "reviewed"
        PUBLISHED = "published"
        SUPERSEDED = "superseded"
        WITHDRAWN = "withdrawn"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    revision = models.ForeignKey(ProcedureRevision, models.PROTECT, related_name="acts")
    act = models.CharField(max_length=10, choices=Act.choices)
    remarks = models.TextField(blank=True)
    content_hash = models.CharField(max_length=71, help_text="Of what it was done with.")
    at = models.DateTimeField(db_default=Now(), editable=False)
    by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    act__in=[
                        "drafted", "changed", "submitted", "sent-back", "reviewed", "published", "superseded",
                        "withdrawn",
                    ]
                ),
                name="act_on_revision_is_known",
            ),
            models.CheckConstraint(
                condition=~Q(act__in=["sent-back", "withdrawn"]) | ~Q(remarks=""), name="act_on_revision_says_why"
            ),
        ]  # fmt: skip
        indexes = [models.Index(fields=["revision", "id"], name="act_by_revision")]

    def __str__(self) -> str:
        return f"{self.revision_id} {self.act}"


class Section(models.TextChoices):
    MAKE_SAFE = "make-safe"
    DISMANTLE = "dismantle"
    CLEAN_AND_INSPECT = "clean-and-inspect"
    ASSEMBLE = "assemble"
    CLOSE_UP = "close-up"
    TEST = "test"


class SignalWord(models.TextChoices):
    NONE = ""
    DANGER = "danger"
    WARNING = "warning"
    CAUTION = "caution"
    NOTICE = "notice"


class Step(models.Model):
    """One step: what to do, what to beware of, what to record."""

    id = models.UUIDField(primary_key=True)
    revision = models.ForeignKey(ProcedureRevision, models.CASCADE, related_name="steps")
    number = models.PositiveIntegerField()
    section = models.CharField(max_length=20, choices=Section.choices)
    title = models.CharField(max_length=200)
    instruction = models.TextField()
    signal_word = models.CharField(max_length=8, choices=SignalWord.choices, blank=True)
    caution = models.TextField(blank=True)
    achieves = models.JSONField(
        default=list, db_default=[], help_text="What other steps rely on; see procedure_format."
    )
    tools = models.JSONField(default=list)
    consumables = models.JSONField(default=list, help_text="Each with name, kind and note.")
    positions = models.JSONField(default=list, help_text="Position roles touched.")
    conditions = models.JSONField(default=list, help_text="See jobs/calculations/conditions.")
    hold_point = models.BooleanField(default=False)
    look_at = models.TextField(blank=True, default="", db_default="", help_text="What the second person looks at.")
    photos = models.JSONField(
        default=list, db_default=[], help_text="Each with what it shows and whether it is needed."
    )
    computes = models.JSONField(null=True, help_text="Advice worked out for this pump and kit.")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["revision", "number"], name="step_is_numbered_once"),
            models.CheckConstraint(condition=Q(section__in=Section.values), name="section_is_known"),
            models.CheckConstraint(condition=Q(signal_word__in=SignalWord.values), name="signal_word_is_known"),
            models.CheckConstraint(condition=Q(signal_word="") | ~Q(caution=""), name="signal_word_has_its_caution"),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.title}"


class Characteristic(models.Model):
    """What a step has measured: quantity, unit, limits, how many readings, with what, judged by which rule."""

    id = models.UUIDField(primary_key=True)
    step = models.ForeignKey(Step, models.CASCADE, related_name="characteristics")
    code = models.CharField(max_length=60)
    name = models.CharField(max_length=200)
    quantity = models.CharField(max_length=40)
    unit = models.CharField(max_length=20)
    readings = models.PositiveSmallIntegerField(default=1)
    rule = models.CharField(max_length=30)
    limits = models.JSONField(help_text="See jobs/calculations/limits.")
    set_up = models.JSONField(
        default=dict,
        db_default={},
        help_text="What the rule knows besides readings: see calculations/evaluation_rules.",
    )
    instrument_type = models.CharField(max_length=60)
    second_instrument_type = models.CharField(
        max_length=60, blank=True, default="", db_default="", help_text="Where the rule reads with two."
    )
    decision_rule = models.CharField(max_length=20)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["step", "code"], name="characteristic_is_coded_once"),
            models.CheckConstraint(condition=Q(readings__gte=1), name="characteristic_has_readings"),
            models.CheckConstraint(
                condition=Q(decision_rule__in=["guard-band", "guard-band-1.65u", "simple"]),
                name="decision_rule_is_known",
            ),
        ]

    def __str__(self) -> str:
        return self.code
