"""Reading balances: what lies where, and how it stands against what is needed."""

import uuid
from decimal import Decimal

from django.db.models import QuerySet

from assets.access import narrow
from kits.models import Balance
from services.identity.callers import Caller


def balances(*, by: Caller) -> QuerySet[Balance]:
    """Balances at granted sites that hold anything."""
    return narrow(Balance.objects.filter(on_hand__gt=0), by)


def on_hand_of(key: tuple[uuid.UUID, uuid.UUID, uuid.UUID, uuid.UUID, str]) -> Decimal:
    """What the book says of one shelf: site, item, lot, bin and condition. One query."""
    names = ("site_id", "item_id", "lot_id", "bin_id", "condition")
    found = Balance.objects.filter(**dict(zip(names, key, strict=True))).values_list("on_hand", flat=True).first()
    return found if found is not None else Decimal(0)
