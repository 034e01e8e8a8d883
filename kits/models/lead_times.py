"""How long suppliers really take, learned from what came."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Now

from kits.models.items import Item
from kits.models.suppliers import Supplier
from services.api.identifiers import new_id


class LearnedLeadTime(models.Model):
    """From an order's sending to its goods on the shelf, of an item at a supplier; without an item, of the supplier.

    Written as a whole every night for suppliers of which something came. The three weights say how much the item's own
    receipts, the supplier's others and the agreed terms have to say; they sum to 1.
    """

    class Source(models.TextChoices):
        AGREED = "agreed"
        OBSERVED = "observed"
        BLENDED = "blended"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    supplier = models.ForeignKey(Supplier, models.CASCADE, related_name="learned_lead_times")
    item = models.ForeignKey(Item, models.CASCADE, null=True, related_name="learned_lead_times")
    mean_days = models.DecimalField(max_digits=7, decimal_places=2)
    sd_days = models.DecimalField(max_digits=7, decimal_places=2)
    received = models.PositiveIntegerField(help_text="Receipts seen: of the item, or of the supplier.")
    received_of_supplier = models.PositiveIntegerField()
    observed_mean_days = models.DecimalField(max_digits=7, decimal_places=2, null=True)
    agreed_days = models.DecimalField(max_digits=7, decimal_places=2, null=True)
    agreed_sd_days = models.DecimalField(max_digits=7, decimal_places=2, null=True)
    weight_of_item = models.DecimalField(max_digits=5, decimal_places=4)
    weight_of_supplier = models.DecimalField(max_digits=5, decimal_places=4)
    weight_of_agreed = models.DecimalField(max_digits=5, decimal_places=4)
    source = models.CharField(max_length=10, choices=Source.choices)
    words = models.CharField(max_length=300, help_text="Agreed against learned, as a sentence.")
    as_of = models.DateField()
    computed_at = models.DateTimeField(db_default=Now(), editable=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["supplier", "item"], nulls_distinct=False, name="lead_time_is_learned_once"
            ),
            models.CheckConstraint(
                condition=Q(mean_days__gte=0, sd_days__gte=0), name="learned_lead_time_is_not_negative"
            ),
            models.CheckConstraint(
                condition=Q(source__in=["agreed", "observed", "blended"]), name="source_of_lead_time_is_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.supplier_id} {self.item_id} {self.mean_days}"
