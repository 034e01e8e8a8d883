"""Lots: what came together ages together."""

import datetime
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from kits.calculations.storage_life import StorageGroup, extended_kit_expiry, kit_expiry
from kits.models import Lot
from kits.queries.ageing import ageing_groups
from kits.queries.lots import lot_for
from kits.refusals import CureDateMissing, LotsDiffer
from services.api.refusals import WrongState
from services.changes.recording import Recorded, record_change, record_changes
from services.identity.callers import Caller


@dataclass(frozen=True)
class LotWanted:
    """A lot as a pack or a delivery note names it."""

    item_id: uuid.UUID
    number: str
    received_on: datetime.date
    cure_date: datetime.date | None = None


def ensure_lots(wanted: Iterable[LotWanted], *, by: Caller) -> dict[tuple[uuid.UUID, str], Lot]:
    """The lots by (item, number), made where they are new. One query where all are known, else five, whatever
    their number. Of two who make the same lot at once the second one finds it and tells of nothing.

    Must run inside a transaction. Raises `CureDateMissing` where something in the item ages and no cure date came,
    `LotsDiffer` where the number is known with another cure date.
    """
    asked = {(one.item_id, one.number): one for one in wanted}
    known = lots_known(asked)
    unknown = {item for item, number in asked if (item, number) not in known}
    groups = ageing_groups(unknown) if unknown else {}
    fresh = []
    for key, one in asked.items():
        if key in known:
            _must_agree(known[key], one)
            continue
        ages = groups.get(one.item_id, [])
        if ages and one.cure_date is None:
            raise CureDateMissing(
                f"Lot {one.number} came without a cure date.",
                remedy="Give the earliest cure date on its packs, for example 2025-08-14 or 3Q2025.",
                pointer="#/cure_date",
            )
        fresh.append(
            Lot(
                item_id=one.item_id,
                number=one.number,
                received_on=one.received_on,
                cure_date=one.cure_date,
                expires_on=expires_on(one.cure_date, ages),
            )
        )
    if not fresh:
        return known
    Lot.objects.bulk_create(fresh, ignore_conflicts=True)
    made = lots_known({(one.item_id, one.number) for one in fresh})
    record_changes(
        [
            Recorded("lot.registered", "lot", one.pk, 1, None, {"number": one.number, "item": one.item_id})
            for one in fresh
            if made[one.item_id, one.number].pk == one.pk
        ],
        by=by,
    )
    for key in made:
        _must_agree(made[key], asked[key])
    return known | made


def expires_on(cure_date: datetime.date | None, groups: Iterable[StorageGroup]) -> datetime.date | None:
    """Last day it may be fitted, if it is not extended; None where nothing ages or no cure date is known."""
    return None if cure_date is None else kit_expiry((cure_date, one) for one in groups)


def lots_known(keys: Iterable[tuple[uuid.UUID, str]]) -> dict[tuple[uuid.UUID, str], Lot]:
    """Lots that exist, by (item, number). One query."""
    wanted = set(keys)
    if not wanted:
        return {}
    found = Lot.objects.filter(item_id__in={item for item, _ in wanted}, number__in={number for _, number in wanted})
    return {(one.item_id, one.number): one for one in found if (one.item_id, one.number) in wanted}


def ensure_lot(
    *, by: Caller, item_id: uuid.UUID, number: str, received_on: datetime.date, cure_date: datetime.date | None = None
) -> Lot:
    """One lot; see `ensure_lots`."""
    return ensure_lots([LotWanted(item_id, number, received_on, cure_date)], by=by)[item_id, number]


def _must_agree(lot: Lot, wanted: LotWanted) -> None:
    if wanted.cure_date is not None and lot.cure_date is not None and wanted.cure_date != lot.cure_date:
        raise LotsDiffer(
            f"Lot {lot.number} is known with cure date {lot.cure_date}, not {wanted.cure_date}.",
            remedy="Check the label; give a lot of other packs a number of its own.",
            pointer="#/lot",
        )


@transaction.atomic(savepoint=False)
def extend_lot(*, by: Caller, lot_id: uuid.UUID, inspected: Mapping[str, str]) -> Lot:
    """Extend a lot's storage life, once, after every ageing part was inspected (ISO 2230:2002).

    ``inspected`` holds a remark on what was seen. Needs the role stores at a site where the lot lies. Raises
    `WrongState` where it was extended before or does not age.
    """
    lot = lot_for(by, lot_id, "stores")
    groups = ageing_groups({lot.item_id}).get(lot.item_id, [])
    if lot.extended_at is not None or lot.cure_date is None or not groups:
        raise WrongState(
            f"Lot {lot.number} {'was extended once' if lot.extended_at else 'does not age'}.",
            remedy="Scrap what is out of date, or use what does not age as it is.",
        )
    until = extended_kit_expiry((lot.cure_date, one) for one in groups)
    moved = Lot.objects.filter(pk=lot.pk, extended_at=None).update(extended_at=timezone.now(), expires_on=until)
    if not moved:
        raise WrongState(f"Lot {lot.number} was extended once.", remedy="Read it again.")
    lot.refresh_from_db()
    record_change(
        "lot.extended",
        noun="lot",
        noun_id=lot.pk,
        version=lot.version,
        by=by,
        body={"number": lot.number, "expires_on": lot.expires_on, "inspected": dict(inspected)},
    )
    return lot
