"""Moving stock from site to site: how long it takes, what was agreed, what went, what came and what is missing."""

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Now

from assets.models import Site
from kits.models.items import Item
from kits.models.stock import Lot, Reservation
from services.api.identifiers import new_id
from services.api.models import Record


class TransitTime(Record):
    """How many days goods take from one site to another, and what moving one piece costs. One way: the way back is a
    row of its own."""

    from_site = models.ForeignKey(Site, models.CASCADE, related_name="+")
    to_site = models.ForeignKey(Site, models.CASCADE, related_name="+")
    days = models.PositiveSmallIntegerField()
    cost = models.DecimalField(max_digits=14, decimal_places=4, help_text="Of moving one piece.")
    currency = models.CharField(max_length=3)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["from_site", "to_site"], name="transit_time_is_given_once"),
            models.CheckConstraint(condition=~Q(from_site=F("to_site")), name="transit_leads_to_another_site"),
            models.CheckConstraint(condition=Q(cost__gte=0, days__lte=366), name="transit_figures_are_possible"),
            models.CheckConstraint(condition=Q(currency__regex="^[A-Z]{3}$"), name="transit_has_a_currency"),
        ]
        indexes = [models.Index(fields=["to_site"], name="transit_by_receiver")]

    def __str__(self) -> str:
        return f"{self.from_site_id} {self.to_site_id} {self.days} d"


class Transfer(Record):
    """Stock that one site lends to another. The days and cost are those that were agreed on."""

    class State(models.TextChoices):
        APPROVED = "approved"
        SENT = "sent"
        PART_RECEIVED = "part-received"
        RECEIVED = "received"
        CLOSED_SHORT = "closed-short"
        CANCELLED = "cancelled"

    number = models.CharField(max_length=40, unique=True)
    from_site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    to_site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    state = models.CharField(max_length=14, choices=State.choices, default=State.APPROVED)
    days = models.PositiveSmallIntegerField()
    cost = models.DecimalField(max_digits=14, decimal_places=4, help_text="Of moving one piece.")
    currency = models.CharField(max_length=3)
    reservation = models.ForeignKey(
        Reservation, models.PROTECT, null=True, related_name="transfers", help_text="The claim it is meant for."
    )
    warnings = models.JSONField(default=list, help_text="What spoke against lending, as it stood when approved.")
    override_reason = models.CharField(max_length=300, blank=True, help_text="Why it was approved all the same.")
    approved_by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")
    sent_at = models.DateTimeField(null=True)
    sent_by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")
    expected_on = models.DateField(help_text="At the receiver.")
    closed_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(from_site=F("to_site")), name="transfer_leads_to_another_site"),
            models.CheckConstraint(
                condition=Q(state__in=["approved", "sent", "part-received", "received", "closed-short", "cancelled"]),
                name="transfer_state_is_known",
            ),
            models.CheckConstraint(
                condition=Q(state="cancelled")
                | Q(state="approved", sent_at__isnull=True)
                | Q(~Q(state="approved"), sent_at__isnull=False),
                name="transfer_has_left_once_it_was_sent",
            ),
        ]
        indexes = [
            models.Index(fields=["from_site", "-id"], name="transfer_by_lender"),
            models.Index(fields=["to_site", "-id"], name="transfer_by_receiver"),
        ]

    def __str__(self) -> str:
        return self.number


class TransferLine(Record):
    """So many of an item. Less may leave than was agreed, and more or less may come: facts to record."""

    transfer = models.ForeignKey(Transfer, models.PROTECT, related_name="lines")
    line = models.PositiveIntegerField()
    item = models.ForeignKey(Item, models.PROTECT, related_name="transfer_lines")
    quantity = models.DecimalField(max_digits=12, decimal_places=3)
    sent = models.DecimalField(max_digits=12, decimal_places=3, default=0)
    received = models.DecimalField(max_digits=12, decimal_places=3, default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["transfer", "line"], name="transfer_line_is_numbered_once"),
            models.UniqueConstraint(fields=["transfer", "item"], name="item_stands_once_on_a_transfer"),
            models.CheckConstraint(
                condition=Q(quantity__gt=0, sent__gte=0, received__gte=0, sent__lte=F("quantity")),
                name="transfer_line_is_positive",
            ),
        ]
        indexes = [models.Index(fields=["item"], name="transfer_line_by_item")]

    def __str__(self) -> str:
        return f"{self.transfer_id} {self.line}"


class TransferLot(models.Model):
    """A lot on a line: what left of it and what came. What left and has not come is under way, in no balance."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    line = models.ForeignKey(TransferLine, models.PROTECT, related_name="lots")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="+")
    sent = models.DecimalField(max_digits=12, decimal_places=3, default=0)
    received = models.DecimalField(max_digits=12, decimal_places=3, default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["line", "lot"], name="lot_stands_once_on_a_transfer_line"),
            models.CheckConstraint(condition=Q(sent__gte=0, received__gte=0), name="transfer_lot_is_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.line_id} {self.lot_id}"


class TransferDiscrepancy(models.Model):
    """More or less of a lot came than left; append-only."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    line = models.ForeignKey(TransferLine, models.PROTECT, related_name="discrepancies")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="+")
    quantity = models.DecimalField(
        max_digits=12, decimal_places=3, help_text="Signed: above zero more came, below zero less."
    )
    reason = models.CharField(max_length=300)
    by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(db_default=Now(), editable=False)
    request_id = models.CharField(max_length=64, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(quantity=0), name="discrepancy_is_of_something"),
            models.CheckConstraint(condition=~Q(reason=""), name="discrepancy_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.line_id} {self.quantity}"
