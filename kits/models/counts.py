"""Stock counts: sheets with their lines, what was entered, how often a site counts, and what was found missing."""

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Now

from assets.models import Bin, Site
from kits.models.items import Item
from kits.models.stock import Condition, Lot
from services.api.identifiers import new_id
from services.api.models import Record


class CountSettings(Record):
    """How often a site counts each class, and from which difference on a second person is needed.

    A site without a row counts by the defaults below.
    """

    site = models.OneToOneField(Site, models.PROTECT, related_name="+")
    a_times_a_year = models.PositiveSmallIntegerField(default=12)
    b_times_a_year = models.PositiveSmallIntegerField(default=4)
    c_times_a_year = models.PositiveSmallIntegerField(default=1)
    value_limit = models.DecimalField(
        max_digits=14,
        decimal_places=4,
        default=0,
        help_text="Differences worth more are counted again and posted by other people; 0: every difference.",
    )
    currency = models.CharField(max_length=3, blank=True, default="")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    c_times_a_year__gte=1,
                    b_times_a_year__gte=F("c_times_a_year"),
                    a_times_a_year__gte=F("b_times_a_year"),
                    a_times_a_year__lte=250,
                ),
                name="dearer_classes_are_counted_at_least_as_often",
            ),
            models.CheckConstraint(
                condition=Q(value_limit=0) | (Q(value_limit__gt=0) & ~Q(currency="")), name="value_limit_has_a_currency"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.site_id} {self.a_times_a_year} {self.b_times_a_year} {self.c_times_a_year}"


class Count(Record):
    """A sheet: what is to be counted at a site, by whom it was made and what became of it.

    *open*: somebody has to count; *counted*: it waits for review; *posted* and *cancelled* never change again.
    """

    class State(models.TextChoices):
        OPEN = "open"
        COUNTED = "counted"
        POSTED = "posted"
        CANCELLED = "cancelled"

    number = models.CharField(max_length=40, unique=True)
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN)
    blind = models.BooleanField(default=True, help_text="Who counts is not shown what the book says.")
    round = models.PositiveSmallIntegerField(default=1, help_text="Rises when lines are to be counted again.")
    entries_made = models.PositiveIntegerField(default=0)
    made_by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")
    submitted_by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")
    submitted_at = models.DateTimeField(null=True)
    decided_by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")
    decided_at = models.DateTimeField(null=True)
    decision_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=["open", "counted", "posted", "cancelled"]), name="count_state_is_known"
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["posted", "cancelled"]) | Q(decided_by__isnull=False, decided_at__isnull=False),
                name="who_ended_a_count_is_named",
            ),
        ]
        indexes = [models.Index(fields=["site", "state", "-id"], name="count_by_site")]

    def __str__(self) -> str:
        return self.number


class CountLine(Record):
    """One lot of an item in one bin and condition. While a sheet lives no other may hold the same."""

    class State(models.TextChoices):
        TO_COUNT = "to-count"
        COUNTED = "counted"
        RECOUNT = "recount"

    count = models.ForeignKey(Count, models.PROTECT, related_name="lines")
    line = models.PositiveIntegerField()
    bin = models.ForeignKey(Bin, models.PROTECT, related_name="+")
    item = models.ForeignKey(Item, models.PROTECT, related_name="+")
    lot_number = models.CharField(max_length=60)
    condition = models.CharField(max_length=12, choices=Condition.choices, default=Condition.USABLE)
    cure_date = models.DateField(null=True, help_text="As its pack says, where a lot was found that nobody knew.")
    found = models.BooleanField(default=False, help_text="It was not on the sheet when that was made.")
    live = models.BooleanField(default=True, help_text="While its sheet is neither posted nor cancelled.")
    state = models.CharField(max_length=8, choices=State.choices, default=State.TO_COUNT)
    round = models.PositiveSmallIntegerField(default=0, help_text="In which round it was last counted.")
    quantity = models.DecimalField(max_digits=12, decimal_places=3, null=True)
    counted_at = models.DateTimeField(null=True)
    counted_by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")
    not_by = models.ForeignKey(
        "identity.Principal", models.PROTECT, null=True, related_name="+", help_text="Counted it before the recount."
    )
    recount_reason = models.CharField(max_length=300, blank=True)
    book = models.DecimalField(
        max_digits=12, decimal_places=3, null=True, help_text="What the ledger said for then, kept when posted."
    )
    difference = models.DecimalField(max_digits=12, decimal_places=3, null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["count", "line"], name="count_line_is_numbered_once"),
            models.UniqueConstraint(
                fields=["bin", "item", "lot_number", "condition"],
                condition=Q(live=True),
                name="shelf_stands_on_one_live_count",
            ),
            models.CheckConstraint(
                condition=Q(quantity__isnull=True) | Q(quantity__gte=0), name="counted_quantity_is_not_negative"
            ),
            models.CheckConstraint(
                condition=Q(quantity__isnull=True, counted_at__isnull=True, counted_by__isnull=True)
                | Q(quantity__isnull=False, counted_at__isnull=False, counted_by__isnull=False),
                name="count_says_who_and_when",
            ),
            models.CheckConstraint(
                condition=~Q(state="counted") | Q(quantity__isnull=False), name="counted_line_has_a_quantity"
            ),
            models.CheckConstraint(
                condition=Q(state__in=["to-count", "counted", "recount"]), name="count_line_state_is_known"
            ),
            models.CheckConstraint(condition=Q(condition__in=Condition.values), name="counted_condition_is_known"),
        ]

    def __str__(self) -> str:
        return f"{self.count_id} {self.line}"


class CountEntry(models.Model):
    """Every figure that was ever entered for a line; append-only."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    line = models.ForeignKey(CountLine, models.PROTECT, related_name="entries")
    round = models.PositiveSmallIntegerField()
    quantity = models.DecimalField(max_digits=12, decimal_places=3)
    counted_at = models.DateTimeField()
    recorded_at = models.DateTimeField(db_default=Now(), editable=False)
    by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gte=0), name="entered_quantity_is_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.line_id} {self.quantity}"


class StockDiscrepancy(Record):
    """Somebody found less on a shelf than the book says. Nothing is posted for it: a count settles it."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    item = models.ForeignKey(Item, models.PROTECT, related_name="+")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, related_name="+")
    quantity = models.DecimalField(max_digits=12, decimal_places=3, help_text="What was not there.")
    occurred_at = models.DateTimeField()
    reason = models.CharField(max_length=300)
    by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")
    settled_by = models.ForeignKey(Count, models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="discrepancy_is_positive"),
        ]
        indexes = [
            models.Index(fields=["site", "item"], condition=Q(settled_by__isnull=True), name="discrepancy_still_open"),
            models.Index(fields=["site", "-id"], name="discrepancy_by_site"),
        ]

    def __str__(self) -> str:
        return f"{self.site_id} {self.item_id} {self.quantity}"
