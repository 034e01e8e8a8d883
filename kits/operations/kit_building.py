"""Kits put together from loose parts of a store."""

import datetime
import uuid
from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import transaction

from assets.access import require_role
from assets.queries.sites import bin_at, default_bins
from kits.calculations.allocation import LotStock, allocate
from kits.calculations.kit_building import divide, earliest, holding_up
from kits.models import Balance, Lot, Movement, MovementKind
from kits.operations.movements import BalanceKey, Entry, key_of, lock_balances, post_movements
from kits.queries.kit_building import Contents, contents_of, lines_short
from kits.queries.kits import released_kit
from kits.refusals import LotsDiffer, NotBuildable
from services.api.identifiers import new_id
from services.api.refusals import InvalidValue
from services.changes.recording import record_change
from services.identity.callers import Caller

KEEPERS = ("stores", "integrator", "admin")


@dataclass(frozen=True)
class KitsBuilt:
    """The new lot, the movements of parts and kits, and optional lines that were left out."""

    lot: Lot
    movements: list[Movement]
    left_out: list[int]


@transaction.atomic(savepoint=False)
def build_kits(
    *,
    by: Caller,
    site_id: uuid.UUID,
    kit_id: uuid.UUID,
    quantity: int,
    lot: str,
    occurred_at: datetime.datetime,
    reason: str,
    bin_code: str = "",
) -> KitsBuilt:
    """Build whole kits as a new lot, from parts that are free and in date, those that expire first taken first.

    The lot's last day is the first among those of the lots that went in. Raises `NotBuildable` with the lines that
    hold it up, `LotsDiffer` where the lot's number is in use, `InvalidValue`, `NotAllowed`, `NotThere`.
    """
    require_role(by, site_id, *KEEPERS, what="The site")
    kit = released_kit(kit_id)
    home = bin_of(site_id, bin_code)
    if Lot.objects.filter(item_id=kit["item_id"], number=lot).exists():
        raise LotsDiffer(
            f"Lot {lot} of the kit exists already.",
            remedy="Give the kits that are built now a number of their own.",
            pointer="#/lot",
        )
    on = occurred_at.date()
    contents = contents_of(kit["item_id"], on)
    stock = _loose_parts(site_id, contents, on)
    free: dict[uuid.UUID, Decimal] = defaultdict(Decimal)
    for one in stock.values():
        free[one.item_id] += one.on_hand - one.reserved
    plan = divide(contents.requirements, free, quantity)
    if plan.kits < quantity:
        raise _refusal(contents, free, plan.kits, quantity)
    wanted: dict[uuid.UUID, Decimal] = defaultdict(Decimal)
    for taken in plan.taken:
        wanted[taken.part] += taken.quantity
    used = [each for part, amount in sorted(wanted.items()) for each in _first_to_expire(stock, part, amount, on)]
    made = Lot.objects.create(
        item_id=kit["item_id"],
        number=lot,
        received_on=on,
        cure_date=earliest([stock[key].lot.cure_date for key, _ in used]),
        expires_on=earliest([stock[key].lot.expires_on for key, _ in used]),
    )
    record_change(
        "lot.registered",
        noun="lot",
        noun_id=made.pk,
        version=made.version,
        by=by,
        body={"number": made.number, "item": made.item_id},
    )
    shared: dict[str, Any] = {
        "kind": MovementKind.KIT_BUILD, "site_id": site_id, "occurred_at": occurred_at, "reason": reason,
        "pair": new_id(),
    }  # fmt: skip
    entries = [Entry(item_id=key[1], lot_id=key[2], bin_id=key[3], quantity=-amount, **shared) for key, amount in used]
    entries.append(Entry(item_id=made.item_id, lot_id=made.pk, bin_id=home, quantity=Decimal(quantity), **shared))
    return KitsBuilt(made, post_movements(by=by, entries=entries), list(plan.left_out))


def bin_of(site_id: uuid.UUID, code: str) -> uuid.UUID:
    """A bin of the site by its code, the default bin without one. Raises `InvalidValue`."""
    found = bin_at(site_id, code) if code else default_bins({site_id}).get(site_id)
    if found is None:
        raise InvalidValue(
            f"The site has no bin {code}." if code else "The site has no default bin.",
            remedy="Name one of the site's bins.",
            pointer="#/bin",
        )
    return found


def _loose_parts(site_id: uuid.UUID, contents: Contents, on: datetime.date) -> dict[BalanceKey, Balance]:
    """Balances of the parts in date on a day, locked, with their lots."""
    held = Balance.objects.filter(
        site_id=site_id, item_id__in=list(contents.numbers), condition="usable", on_hand__gt=0
    )
    balances = lock_balances([key_of(one) for one in held])
    lots = Lot.objects.in_bulk({one.lot_id for one in balances.values()})
    for one in balances.values():
        one.lot = lots[one.lot_id]
    return {
        key: one
        for key, one in balances.items()
        if one.on_hand > one.reserved and (one.lot.expires_on is None or one.lot.expires_on >= on)
    }


def _first_to_expire(
    stock: dict[BalanceKey, Balance], part: uuid.UUID, amount: Decimal, on: datetime.date
) -> list[tuple[BalanceKey, Decimal]]:
    lots = [
        LotStock(key, one.lot.number, one.lot.expires_on, one.lot.received_on, one.on_hand - one.reserved)
        for key, one in stock.items()
        if one.item_id == part
    ]
    return list(allocate(lots=lots, quantity=amount, on=on).taken)


def _refusal(contents: Contents, free: dict[uuid.UUID, Decimal], most: int, asked: int) -> NotBuildable:
    short = lines_short(contents, free, holding_up(contents.requirements, free, most))
    names = ", ".join(dict.fromkeys(one["number"] for one in short))
    why = f"{names}: too few free and in date." if short else "Lines share parts of which there are too few."
    if not contents.lines:
        why = "The kit has no lines."
    return NotBuildable(
        f"{most or 'None'} of {asked} can be built. {why}",
        remedy="Build fewer, bring the parts in first, or release a reservation of them.",
        pointer="#/quantity",
        buildable=most,
        held_up_by=[
            {**one, "part": str(one["part"]), "takes": str(one["takes"]), "free": str(one["free"])} for one in short
        ],
    )
