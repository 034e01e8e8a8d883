"""Who sells what on which terms."""

from django.db import models
from django.db.models import Q

from kits.models.items import Item
from services.api.models import Record


class Supplier(Record):
    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    minimum_order_value = models.DecimalField(
        max_digits=14,
        decimal_places=2,
        default=0,
        db_default=0,
        help_text="Smaller orders are not taken; 0: none is too small.",
    )
    minimum_order_currency = models.CharField(max_length=3, blank=True, default="", db_default="")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(minimum_order_value__gte=0), name="minimum_order_is_not_negative"),
            models.CheckConstraint(
                condition=Q(minimum_order_value=0) | Q(minimum_order_currency__regex="^[A-Z]{3}$"),
                name="minimum_order_has_a_currency",
            ),
        ]

    def __str__(self) -> str:
        return self.code


class SupplierTerms(Record):
    """Lead time with its spread, order sizes and price of an item."""

    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="terms")
    item = models.ForeignKey(Item, models.CASCADE, related_name="terms")
    lead_time_days = models.DecimalField(max_digits=7, decimal_places=2)
    lead_time_sd_days = models.DecimalField(max_digits=7, decimal_places=2, default=0)
    minimum = models.DecimalField(max_digits=12, decimal_places=3, default=1)
    multiple = models.DecimalField(max_digits=12, decimal_places=3, default=1)
    price = models.DecimalField(max_digits=14, decimal_places=4)
    currency = models.CharField(max_length=3)
    order_cost = models.DecimalField(max_digits=14, decimal_places=4, default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["supplier", "item"], name="terms_are_agreed_once"),
            models.CheckConstraint(
                condition=Q(
                    lead_time_days__gte=0,
                    lead_time_sd_days__gte=0,
                    minimum__gt=0,
                    multiple__gt=0,
                    price__gte=0,
                    order_cost__gte=0,
                ),
                name="terms_are_positive",
            ),
            models.CheckConstraint(condition=Q(currency__regex="^[A-Z]{3}$"), name="terms_have_a_currency"),
        ]

    def __str__(self) -> str:
        return f"{self.supplier_id} {self.item_id}"
