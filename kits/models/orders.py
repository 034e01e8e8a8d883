"""Orders at suppliers, by site."""

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Now

from assets.models import Site
from kits.models.items import Item
from kits.models.suppliers import Supplier
from services.api.identifiers import new_id
from services.api.models import Record


class Order(Record):
    """An order; it counts as on order from *approved* on. *Sent* is said by the ERP's answer or by a person."""

    class State(models.TextChoices):
        APPROVED = "approved"
        SENT = "sent"
        PART_RECEIVED = "part-received"
        RECEIVED = "received"
        CLOSED_SHORT = "closed-short"
        CANCELLED = "cancelled"

    number = models.CharField(max_length=40, unique=True)
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="orders")
    state = models.CharField(max_length=14, choices=State.choices, default=State.APPROVED)
    approved_by = models.ForeignKey("identity.Principal", models.PROTECT, null=True, related_name="+")
    sent_at = models.DateTimeField(null=True)
    external_ids = models.JSONField(default=dict, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "supplier"], condition=Q(state="approved"), name="one_unsent_order_a_supplier"
            ),
            models.CheckConstraint(
                condition=Q(state__in=["approved", "sent", "part-received", "received", "closed-short", "cancelled"]),
                name="order_state_is_known",
            ),
        ]
        indexes = [models.Index(fields=["site", "-id"], name="order_by_site")]

    def __str__(self) -> str:
        return self.number


class OrderLine(Record):
    """More may come than was ordered: that is a fact to record."""

    order = models.ForeignKey(Order, models.PROTECT, related_name="lines")
    line = models.PositiveIntegerField()
    item = models.ForeignKey(Item, models.PROTECT, related_name="order_lines")
    quantity = models.DecimalField(max_digits=12, decimal_places=3)
    received = models.DecimalField(max_digits=12, decimal_places=3, default=0)
    expected_on = models.DateField()
    promised_on = models.DateField(null=True, help_text="What the supplier said last, when it was chased.")
    told_late = models.PositiveSmallIntegerField(
        default=0, db_default=0, help_text="From how many days late it was told last."
    )
    price = models.DecimalField(max_digits=14, decimal_places=4)
    currency = models.CharField(max_length=3)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["order", "line"], name="order_line_is_numbered_once"),
            models.UniqueConstraint(fields=["order", "item"], name="item_stands_once_on_an_order"),
            models.CheckConstraint(
                condition=Q(quantity__gt=0, received__gte=0, price__gte=0), name="order_line_is_positive"
            ),
        ]
        indexes = [models.Index(fields=["item"], condition=Q(received__lt=F("quantity")), name="order_line_still_open")]

    def __str__(self) -> str:
        return f"{self.order_id} {self.line}"


class OrderChase(models.Model):
    """Somebody asked the supplier where the goods are. Append-only; without a line, about the whole order."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    order = models.ForeignKey(Order, models.PROTECT, related_name="chases")
    line = models.ForeignKey(OrderLine, models.PROTECT, null=True, related_name="chases")
    by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")
    chased_at = models.DateTimeField()
    recorded_at = models.DateTimeField(db_default=Now(), editable=False)
    said = models.CharField(max_length=500, help_text="What the supplier answered.")
    promised_on = models.DateField(null=True)

    class Meta:
        indexes = [models.Index(fields=["order", "-id"], name="chase_by_order")]

    def __str__(self) -> str:
        return f"{self.order_id} {self.chased_at:%Y-%m-%d}"
