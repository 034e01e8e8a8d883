"""Reading balances: what lies where, and how it stands against what is needed."""

from django.db.models import QuerySet

from assets.access import narrow
from kits.models import Balance
from services.identity.callers import Caller


def balances(*, by: Caller) -> QuerySet[Balance]:
    """Balances at granted sites that hold anything."""
    return narrow(Balance.objects.filter(on_hand__gt=0), by)
