"""Going over the reserved lots of a site: a lot that dies earlier and still lasts is held instead of one that dies
later, and a lot that will be dead on the day is exchanged for one that lasts."""

import datetime
import uuid
from collections import defaultdict
from collections.abc import Mapping, Sequence
from decimal import Decimal

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from assets.operations.site_runs import ask_every_site, request_site_run
from kits.calculations.allocation import LotStock
from kits.calculations.lot_exchange import Holder, exchange
from kits.models import Allocation, Balance, Lot, Reservation
from kits.operations.movements import BalanceKey, key_of, lock_balances
from kits.operations.reservations import tell_claim
from services.identity.callers import Caller

TASK = "kits.tasks.run_lot_exchange"
NIGHT_BEGINS = datetime.time(2, 0)


def request_exchange(*, by: Caller, site_id: uuid.UUID) -> uuid.UUID:
    """Ask for the reserved lots of a site to be gone over; a worker does it. Raises `NotThere`, `NotAllowed`."""
    return request_site_run(TASK, by=by, site_id=site_id)


def ask_nightly_exchange(*, now: datetime.datetime | None = None) -> list[uuid.UUID]:
    """Ask for one run a site and day, once it is past two in the morning there; which runs are new."""
    return ask_every_site(TASK, word="lot exchange", begins=NIGHT_BEGINS, now=now)


@transaction.atomic(savepoint=False)
def exchange_lots(*, by: Caller | None, site_id: uuid.UUID, today: datetime.date | None = None) -> dict[str, int]:
    """Exchange lots where something is gained; no claim is left with less. Answers how many claims were looked at and
    how many hold other lots now.

    Claims of which something was issued, or whose day is today or past, stay as they are: their kits may be in
    somebody's hands (common practice, no source).
    """
    day = today or timezone.now().date()
    claims = {
        one.pk: one
        for one in Reservation.objects.select_for_update(no_key=True)
        .filter(site_id=site_id, state=Reservation.State.HARD, need_date__gt=day, issued=0)
        .order_by("id")
    }
    items = {one.item_id for one in claims.values()}
    stocked = Balance.objects.filter(site_id=site_id, item_id__in=items, condition="usable", on_hand__gt=0)
    balances = lock_balances([key_of(one) for one in stocked]) if items else {}
    lots = Lot.objects.in_bulk({one.lot_id for one in balances.values()})
    keys = {one.pk: key for key, one in balances.items()}
    held: dict[uuid.UUID, list[tuple[BalanceKey, Decimal]]] = defaultdict(list)
    for claim_id, balance_id, quantity in (
        Allocation.objects.filter(reservation_id__in=claims)
        .order_by("id")
        .values_list("reservation_id", "balance_id", "quantity")
    ):
        held[claim_id].append((keys[balance_id], quantity))
    changed = 0
    for item_id in sorted(items):
        holders = [
            Holder(str(pk), one.need_date, tuple(held[pk])) for pk, one in claims.items() if one.item_id == item_id
        ]
        shelf = [
            LotStock(
                key,
                lots[one.lot_id].number,
                lots[one.lot_id].expires_on,
                lots[one.lot_id].received_on,
                one.on_hand - one.reserved,
            )
            for key, one in balances.items()
            if one.item_id == item_id
        ]
        found = {claims[uuid.UUID(name)]: holds for name, holds in exchange(holders, shelf).items()}
        _let_go([held[one.pk] for one in found], list(found), balances)
        for claim, holds in found.items():
            _hold(claim, holds, balances)
            tell_claim("reservation.exchanged", claim, by, lots=[lots[balances[key].lot_id].number for key, _ in holds])
        changed += len(found)
    return {"looked_at": len(claims), "exchanged": changed}


def _let_go(
    held: Sequence[Sequence[tuple[BalanceKey, Decimal]]],
    claims: Sequence[Reservation],
    balances: Mapping[BalanceKey, Balance],
) -> None:
    """All let go before anybody takes hold, so that no lot is held by two in between."""
    for holds in held:
        for key, quantity in holds:
            Balance.objects.filter(pk=balances[key].pk).update(reserved=F("reserved") - quantity)
    Allocation.objects.filter(reservation__in=claims).delete()


def _hold(
    claim: Reservation, holds: Sequence[tuple[BalanceKey, Decimal]], balances: Mapping[BalanceKey, Balance]
) -> None:
    for key, quantity in holds:
        Balance.objects.filter(pk=balances[key].pk).update(reserved=F("reserved") + quantity)
    Allocation.objects.bulk_create(
        [Allocation(reservation=claim, balance=balances[key], quantity=quantity) for key, quantity in holds]
    )
    Reservation.objects.filter(pk=claim.pk).update(updated_at=timezone.now())
    claim.refresh_from_db()
