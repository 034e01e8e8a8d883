"""Kits taken apart again: their parts go back on the shelf, each with the lot and the last day it had."""

import datetime
import uuid
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import transaction

from assets.access import require_role
from assets.calculations.written_numbers import plain
from kits.models import Condition, Lot, Movement, MovementKind
from kits.operations.kit_building import KEEPERS, bin_of
from kits.operations.lots import LotWanted, ensure_lots
from kits.operations.movements import Entry, post_movements
from kits.queries.ageing import ageing_groups
from kits.queries.kit_building import Contents, built_from, built_lot, contents_of
from kits.queries.kits import kit_for
from services.api.identifiers import new_id
from services.api.refusals import InvalidValue
from services.identity.callers import Caller


@dataclass(frozen=True)
class PartFound:
    """A part that came out of the kits, as its pack says."""

    part_id: uuid.UUID
    quantity: Decimal
    lot: str
    cure_date: datetime.date | None = None


@transaction.atomic(savepoint=False)
def break_kits(
    *,
    by: Caller,
    site_id: uuid.UUID,
    kit_id: uuid.UUID,
    lot: str,
    quantity: int,
    occurred_at: datetime.datetime,
    reason: str,
    bin_code: str = "",
    condition: str = Condition.USABLE,
    parts: Sequence[PartFound] | None = None,
) -> list[Movement]:
    """Take free kits of a lot apart. Parts keep the lots they came from; without ``parts`` the whole contents come
    out, as far as it is known which they are. Parts that were missing or damaged are left out of ``parts``.

    Raises `InsufficientStock` where the kits are not there or reserved, `InvalidValue` where it is not known what is in
    them or a part does not belong to them, `LotsDiffer`, `NotAllowed`, `NotThere`.
    """
    require_role(by, site_id, *KEEPERS, what="The site")
    kit = kit_for(kit_id)
    home = bin_of(site_id, bin_code)
    broken = built_lot(kit.pk, lot)
    contents = contents_of(kit.pk, occurred_at.date())
    if parts is None:
        back = _known_contents(by, contents, broken, quantity)
    else:
        back = _as_found(by, contents, parts, broken, quantity, occurred_at.date())
    shared: dict[str, Any] = {
        "kind": MovementKind.KIT_BREAK, "site_id": site_id, "occurred_at": occurred_at, "reason": reason,
        "pair": new_id(), "bin_id": home, "condition": condition,
    }  # fmt: skip
    entries = [Entry(item_id=kit.pk, lot_id=broken.pk, quantity=Decimal(-quantity), **shared)]
    entries += [Entry(item_id=part, lot_id=of, quantity=amount, **shared) for (part, of), amount in back.items()]
    return post_movements(by=by, entries=entries)


Back = dict[tuple[uuid.UUID, uuid.UUID], Decimal]


def _known_contents(by: Caller, contents: Contents, broken: Lot, quantity: int) -> Back:
    built, used = built_from(broken.pk)
    if built:
        return _of_built(contents, broken, built, used, quantity)
    if any(len(one.choices) > 1 for one in contents.requirements):
        raise _ask("The kit has alternative lines; which of them its maker packed is not known.")
    ages = ageing_groups({line["part_id"] for line in contents.lines})
    amounts: dict[uuid.UUID, Decimal] = defaultdict(Decimal)
    for line in contents.lines:
        amounts[line["part_id"]] += line["quantity"] * quantity
    wanted = {
        part: LotWanted(part, broken.number, broken.received_on, broken.cure_date if part in ages else None)
        for part in amounts
    }
    lots = ensure_lots(wanted.values(), by=by)
    return {(part, lots[part, broken.number].pk): amount for part, amount in amounts.items()}


def _of_built(contents: Contents, broken: Lot, built: Decimal, used: Sequence[dict[str, Any]], quantity: int) -> Back:
    """Shares of what went in. Where one need was served by several lots, only all the kits together are known."""
    if quantity != built:
        for one in contents.requirements:
            standing = {part for choice in one.choices for part in choice.parts}
            lots = [
                f"{contents.numbers[row['item_id']]} {row['lot_number']}" for row in used if row["item_id"] in standing
            ]
            if len(lots) > 1:
                raise _ask(f"The kits of lot {broken.number} were built from {', '.join(lots)}.")
    back: Back = {}
    for row in used:
        amount = row["used"] * quantity / built
        if amount > row["used"]:
            raise InvalidValue(
                f"{plain(built)} kits of lot {broken.number} were built.",
                remedy="Break at most as many.",
                pointer="#/quantity",
            )
        back[row["item_id"], row["lot_id"]] = amount.quantize(Decimal("0.001"))
    return back


def _as_found(
    by: Caller, contents: Contents, parts: Sequence[PartFound], broken: Lot, quantity: int, on: datetime.date
) -> Back:
    amounts: dict[uuid.UUID, Decimal] = defaultdict(Decimal)
    for place, found in enumerate(parts):
        places = contents.places_of(found.part_id)
        if not places:
            raise InvalidValue(
                "The part is on none of the kit's lines, nor may it stand for one that is.",
                remedy="Leave it out; record it as a receipt of its own.",
                pointer=f"#/parts/{place}/part",
            )
        amounts[found.part_id] += found.quantity
        most = sum((choice.quantity for choice in places), Decimal(0)) * quantity
        if amounts[found.part_id] > most:
            raise InvalidValue(
                f"{quantity} of the kit hold at most {plain(most)} of it.",
                remedy="Give what came out of the kits.",
                pointer=f"#/parts/{place}/quantity",
            )
    ages = ageing_groups(amounts)
    wanted = [
        LotWanted(one.part_id, one.lot, on, one.cure_date or (broken.cure_date if one.part_id in ages else None))
        for one in parts
    ]
    lots = ensure_lots(_known_by_number(wanted, {(one.part_id, one.lot) for one in parts if one.cure_date}), by=by)
    back: Back = defaultdict(Decimal)
    for one in parts:
        back[one.part_id, lots[one.part_id, one.lot].pk] += one.quantity
    return dict(back)


def _known_by_number(wanted: Sequence[LotWanted], dated: set[tuple[uuid.UUID, str]]) -> list[LotWanted]:
    """A lot that is known already keeps its own cure date where none was given; the kit's is only for a new one."""
    known = {
        (one.item_id, one.number)
        for one in Lot.objects.filter(
            number__in={one.number for one in wanted}, item_id__in={o.item_id for o in wanted}
        )
    }
    return [
        LotWanted(one.item_id, one.number, one.received_on) if (one.item_id, one.number) in known - dated else one
        for one in wanted
    ]


def _ask(why: str) -> InvalidValue:
    return InvalidValue(
        why, remedy="Read the packs, and name each part with its quantity and lot in parts.", pointer="#/parts"
    )
