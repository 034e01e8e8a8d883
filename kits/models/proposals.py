"""What replenishment suggests, with its working."""

from django.db import models
from django.db.models import Q

from assets.models import Site
from kits.models.items import Item
from kits.models.orders import OrderLine
from kits.models.suppliers import Supplier
from services.api.models import Record


class Proposal(Record):
    """Buy this much of this item for this site, and why. One open or snoozed at a time for a site and item."""

    class State(models.TextChoices):
        OPEN = "open"
        SNOOZED = "snoozed"
        APPROVED = "approved"
        REJECTED = "rejected"
        WITHDRAWN = "withdrawn"

    class Kind(models.TextChoices):
        BUY = "buy"
        TRANSFER = "transfer"

    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    item = models.ForeignKey(Item, models.PROTECT, related_name="proposals")
    kind = models.CharField(max_length=10, choices=Kind.choices, default=Kind.BUY)
    lender = models.ForeignKey(Site, models.PROTECT, null=True, related_name="+", help_text="Whom a transfer is from.")
    supplier = models.ForeignKey(Supplier, models.PROTECT, null=True, related_name="+")
    quantity = models.DecimalField(max_digits=12, decimal_places=3)
    price = models.DecimalField(max_digits=14, decimal_places=4)
    currency = models.CharField(max_length=3)
    expected_on = models.DateField(help_text="When it would be here if decided on at once.")
    need_by = models.DateField(null=True, help_text="When what there is is used up at the expected pace.")
    firm_shortage = models.BooleanField(
        default=False, db_default=False, help_text="Jobs ask for more than there is and comes in time."
    )
    warnings = models.JSONField(default=list, db_default=[], help_text="What to look at first: code and words.")
    frozen_until = models.DateField(null=True, help_text="Before it, only jobs that go short change it.")
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN)
    working = models.JSONField(help_text="Everything the quantity came from.")
    words = models.TextField(help_text="The working as sentences.")
    as_of = models.DateField()
    decided_by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")
    decided_at = models.DateTimeField(null=True)
    edited_by = models.ForeignKey(
        "identity.Principal", models.PROTECT, null=True, related_name="+", help_text="Who set another quantity."
    )
    decision_reason = models.CharField(max_length=300, blank=True)
    holds_until = models.DateField(null=True, help_text="A rejection or a snooze holds until this day.")
    order_line = models.ForeignKey(OrderLine, models.PROTECT, null=True, related_name="proposals")
    transfer = models.ForeignKey("kits.Transfer", models.PROTECT, null=True, related_name="proposals")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "item"], condition=Q(state__in=["open", "snoozed"]), name="one_open_proposal_an_item"
            ),
            models.CheckConstraint(condition=Q(quantity__gt=0), name="proposal_quantity_is_positive"),
            models.CheckConstraint(
                condition=Q(kind="buy", lender__isnull=True) | Q(kind="transfer", lender__isnull=False),
                name="transfer_is_proposed_from_a_lender",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["open", "snoozed", "approved", "rejected", "withdrawn"]),
                name="proposal_state_is_known",
            ),
        ]
        indexes = [
            models.Index(fields=["site", "state", "-id"], name="proposal_by_site"),
            models.Index(
                fields=["lender", "item"],
                condition=Q(state__in=["open", "snoozed"], lender__isnull=False),
                name="proposal_by_lender",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.site_id} {self.item_id} {self.quantity}"


class ReplenishmentLevel(Record):
    """The reorder point and usual order of an item at a site as replenishment last set them.

    Written only where one of them changed: ``as_of`` and the figures beside them are of that day.
    """

    site = models.ForeignKey(Site, models.CASCADE, related_name="+")
    item = models.ForeignKey(Item, models.CASCADE, related_name="levels")
    reorder_point = models.IntegerField(help_text="More is ordered at or below it; -1: only what is owed.")
    order_quantity = models.PositiveIntegerField(help_text="What is usually ordered at once.")
    pattern = models.CharField(max_length=12, help_text="none, smooth, intermittent, erratic or lumpy.")
    method = models.CharField(max_length=16, help_text="How its demand was forecast.")
    mean_a_month = models.FloatField(help_text="Expected of what nobody has booked in time.")
    fill_rate = models.DecimalField(max_digits=5, decimal_places=4, help_text="The share aimed at.")
    measure = models.CharField(
        max_length=5, default="fill", db_default="fill", help_text="Of needs (fill), or of times to restock (cycle)."
    )
    reached = models.FloatField(help_text="The share that the reorder point gives.")
    lead_time_days = models.DecimalField(max_digits=7, decimal_places=2)
    as_of = models.DateField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "item"], name="level_is_kept_once"),
            models.CheckConstraint(
                condition=Q(reorder_point__gte=-1, order_quantity__gt=0), name="level_is_one_that_can_be_kept"
            ),
            models.CheckConstraint(
                condition=Q(reached__gte=0, reached__lte=1, fill_rate__gt=0, fill_rate__lt=1),
                name="level_serves_a_share",
            ),
        ]
        indexes = [models.Index(fields=["item", "site"], name="level_by_item")]

    def __str__(self) -> str:
        return f"{self.site_id} {self.item_id} {self.reorder_point}"
