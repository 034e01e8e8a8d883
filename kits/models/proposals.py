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

    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    item = models.ForeignKey(Item, models.PROTECT, related_name="proposals")
    kind = models.CharField(max_length=10, default="buy")
    supplier = models.ForeignKey(Supplier, models.PROTECT, null=True, related_name="+")
    quantity = models.DecimalField(max_digits=12, decimal_places=3)
    price = models.DecimalField(max_digits=14, decimal_places=4)
    currency = models.CharField(max_length=3)
    expected_on = models.DateField()
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN)
    working = models.JSONField(help_text="Everything the quantity came from.")
    words = models.TextField(help_text="The working as sentences.")
    as_of = models.DateField()
    decided_by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")
    decided_at = models.DateTimeField(null=True)
    decision_reason = models.CharField(max_length=300, blank=True)
    holds_until = models.DateField(null=True, help_text="A rejection or a snooze holds until this day.")
    order_line = models.ForeignKey(OrderLine, models.PROTECT, null=True, related_name="proposals")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "item"], condition=Q(state__in=["open", "snoozed"]), name="one_open_proposal_an_item"
            ),
            models.CheckConstraint(condition=Q(quantity__gt=0), name="proposal_quantity_is_positive"),
            models.CheckConstraint(
                condition=Q(state__in=["open", "snoozed", "approved", "rejected", "withdrawn"]),
                name="proposal_state_is_known",
            ),
        ]
        indexes = [models.Index(fields=["site", "state", "-id"], name="proposal_by_site")]

    def __str__(self) -> str:
        return f"{self.site_id} {self.item_id} {self.quantity}"
