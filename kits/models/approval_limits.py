"""How much may be ordered by whom without asking further up."""

from django.db import models
from django.db.models import Q

from services.api.models import Record


class ApprovalLimit(Record):
    """The most an order may be worth that somebody with a role approves, or that replenishment approves by itself.
    Orders of one site at one supplier within ``window_days`` add up; 0: each counts for itself."""

    class Approver(models.TextChoices):
        STORES = "stores"
        ADMIN = "admin"
        AUTOMATIC = "automatic"

    role = models.CharField(max_length=10, choices=Approver.choices)
    currency = models.CharField(max_length=3)
    limit = models.DecimalField(max_digits=14, decimal_places=2)
    window_days = models.PositiveSmallIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["role", "currency"], name="approval_limit_is_set_once"),
            models.CheckConstraint(
                condition=Q(role__in=["stores", "admin", "automatic"]), name="approval_limit_is_of_a_buyer"
            ),
            models.CheckConstraint(condition=Q(limit__gte=0), name="approval_limit_is_not_negative"),
            models.CheckConstraint(condition=Q(window_days__lte=366), name="approval_window_is_within_a_year"),
            models.CheckConstraint(condition=Q(currency__regex="^[A-Z]{3}$"), name="approval_limit_has_a_currency"),
        ]

    def __str__(self) -> str:
        return f"{self.role} {self.limit} {self.currency}"
