"""Lots, opening stock and movements handed in as rows of files."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import transaction

from assets.access import has_role, require_anywhere
from assets.calculations.written_numbers import plain
from assets.queries.sites import bins_by_code, default_bins, site_ids_by_code
from kits.calculations.storage_life import CureUnreadable, parse_cure
from kits.models import Balance, Condition, Lot, Movement, MovementKind
from kits.operations.lots import LotWanted, ensure_lots, lots_known
from kits.operations.movements import BalanceKey, Entry, post_movements
from kits.queries.ageing import ageing_groups
from kits.queries.items import items_by_number
from services.api.loading import LoadRow, RowOutcome
from services.identity.callers import Caller

KEEPERS = ("stores", "integrator", "admin")
OUT = {MovementKind.ISSUE, MovementKind.SCRAP, MovementKind.TRANSFER_OUT}
EITHER = {MovementKind.COUNT_ADJUSTMENT, MovementKind.CONDITION_CHANGE, MovementKind.BIN_MOVE}


def item_keys(rows: Sequence[LoadRow]) -> set[tuple[str, str | None]]:
    """The (number, revision) pairs that rows name."""
    return {(str(row.values.get("item")), row.values.get("revision")) for row in rows}


def item_of(row: LoadRow, items: Mapping[tuple[str, str | None], uuid.UUID]) -> uuid.UUID | None:
    """The item a row names."""
    return items.get((str(row.values.get("item")), row.values.get("revision")))


def no_item(row: LoadRow, key: str) -> RowOutcome:
    """The refusal of a row whose item is not in the catalogue."""
    return RowOutcome.refused(
        row, key, "item", "No part or kit has this number and revision.", "Load the catalogue first; check both."
    )


@transaction.atomic(savepoint=False)
def load_lots(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Lots keyed by item and number. A fixed number of queries whatever the number of rows."""
    require_anywhere(by, *KEEPERS)
    items = items_by_number(item_keys(rows))
    known = lots_known({(items[pair], str(row.values["lot"])) for row in rows if (pair := _pair(row)) in items})
    ages = ageing_groups(set(items.values()))
    outcomes: list[RowOutcome] = []
    wanted: dict[tuple[uuid.UUID, str], LotWanted] = {}
    for row in rows:
        key = f"{row.values.get('item')} {row.values.get('lot')}"
        item_id = item_of(row, items)
        if item_id is None:
            outcomes.append(no_item(row, key))
            continue
        text = row.values.get("cure_date")
        try:
            cured = parse_cure(str(text)) if text else None
        except CureUnreadable as error:
            outcomes.append(RowOutcome.refused(row, key, "cure_date", str(error), "Write it as on the pack."))
            continue
        if cured is None and ages.get(item_id):
            outcomes.append(
                RowOutcome.refused(
                    row, key, "cure_date", "Something in this item ages.", "Give the earliest cure date on its packs."
                )
            )
            continue
        old = known.get((item_id, str(row.values["lot"])))
        if old is not None:
            outcomes.append(_compare(row, key, old, cured))
            continue
        lot = LotWanted(item_id, str(row.values["lot"]), row.values["received_on"], cured)
        repeated = wanted.setdefault((item_id, lot.number), lot) is not lot
        outcomes.append(RowOutcome(row.number, key, "unchanged" if repeated else "created"))
    ensure_lots(wanted.values(), by=by)
    return outcomes


def _pair(row: LoadRow) -> tuple[str, str | None]:
    return str(row.values.get("item")), row.values.get("revision")


def _compare(row: LoadRow, key: str, old: Lot, cured: Any) -> RowOutcome:
    if cured is not None and old.cure_date is not None and cured != old.cure_date:
        return RowOutcome.refused(
            row, key, "cure_date", f"The lot is known with cure date {old.cure_date}.", "Check the label."
        )
    return RowOutcome(row.number, key, "unchanged")


def load_opening_stock(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """What lay on the shelves when the ledger began, keyed by external id."""
    return _load(by, [LoadRow(row.number, {**row.values, "kind": MovementKind.OPENING}) for row in rows])


def load_movements(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Past movements, keyed by external id. What goes out may be written with or without a minus sign."""
    return _load(by, rows)


@dataclass
class _Known:
    """What rows refer to, looked up at once."""

    sites: Mapping[str, uuid.UUID]
    bins: Mapping[tuple[uuid.UUID, str], uuid.UUID]
    homes: Mapping[uuid.UUID, uuid.UUID]
    items: Mapping[tuple[str, str | None], uuid.UUID]
    lots: Mapping[tuple[uuid.UUID, str], Lot]
    posted: dict[str, uuid.UUID]
    reversed: set[uuid.UUID]


@transaction.atomic(savepoint=False)
def _load(by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    known = _look_up(rows)
    outcomes: dict[int, RowOutcome] = {}
    entries: list[tuple[LoadRow, Entry]] = []
    for row in sorted(rows, key=lambda one: (one.values["occurred_at"], one.number)):
        key = str(row.values["external_id"])
        if key in known.posted:
            outcomes[row.number] = RowOutcome(row.number, key, "unchanged")
            continue
        found = _entry(by, row, key, known)
        if isinstance(found, RowOutcome):
            outcomes[row.number] = found
            continue
        known.posted[key] = found.id
        if found.reverses_id is not None:
            known.reversed.add(found.reverses_id)
        entries.append((row, found))
    post_movements(by=by, entries=_what_the_shelves_bear(entries, known, outcomes))
    return [outcomes[row.number] for row in rows]


def _look_up(rows: Sequence[LoadRow]) -> _Known:
    sites = site_ids_by_code({str(row.values.get("site")) for row in rows})
    items = items_by_number(item_keys(rows))
    names = {str(row.values["external_id"]) for row in rows}
    names |= {str(row.values["reverses"]) for row in rows if row.values.get("reverses")}
    posted = dict(Movement.objects.filter(external_id__in=names).values_list("external_id", "id"))
    return _Known(
        sites=sites,
        bins=bins_by_code(set(sites.values())),
        homes=default_bins(set(sites.values())),
        items=items,
        lots=lots_known({(items[pair], str(row.values.get("lot"))) for row in rows if (pair := _pair(row)) in items}),
        posted={str(name): pk for name, pk in posted.items()},
        reversed=set(Movement.objects.filter(reverses_id__in=posted.values()).values_list("reverses_id", flat=True)),
    )


def _entry(by: Caller, row: LoadRow, key: str, known: _Known) -> Entry | RowOutcome:
    values = row.values
    site_id = known.sites.get(str(values.get("site")))
    if site_id is None or not has_role(by, site_id, *KEEPERS):
        return RowOutcome.refused(row, key, "site", "No such site is granted to you.", "Check the site's code.")
    bin_id = known.bins.get((site_id, str(values["bin"]))) if values.get("bin") else known.homes.get(site_id)
    if bin_id is None:
        return RowOutcome.refused(row, key, "bin", "The site has no such bin.", "Load the bins first; check the code.")
    item_id = item_of(row, known.items)
    if item_id is None:
        return no_item(row, key)
    lot = known.lots.get((item_id, str(values.get("lot"))))
    if lot is None:
        return RowOutcome.refused(row, key, "lot", "The item has no such lot.", "Load the lots first.")
    reverses_id = None
    if values.get("reverses"):
        reverses_id = known.posted.get(str(values["reverses"]))
        if reverses_id is None or reverses_id in known.reversed:
            return RowOutcome.refused(
                row, key, "reverses", "No movement of this external id can be reversed.", "Name an earlier movement."
            )
    quantity = _signed(values["kind"], values["quantity"], reverses_id is not None)
    if quantity == 0:
        return RowOutcome.refused(row, key, "quantity", "Nothing would move.", "Give a quantity other than zero.")
    return Entry(
        kind=str(values["kind"]),
        site_id=site_id,
        bin_id=bin_id,
        item_id=item_id,
        lot_id=lot.pk,
        condition=str(values.get("condition") or Condition.USABLE),
        quantity=quantity,
        occurred_at=values["occurred_at"],
        reason=str(values.get("reason") or "")[:300],
        job_number=str(values.get("job") or "")[:40],
        reverses_id=reverses_id,
        external_id=key,
    )


def _signed(kind: str, quantity: Decimal, reversal: bool) -> Decimal:
    if kind in EITHER:
        return quantity
    out = kind in OUT
    return -abs(quantity) if out != reversal else abs(quantity)


def _what_the_shelves_bear(
    entries: Sequence[tuple[LoadRow, Entry]], known: _Known, outcomes: dict[int, RowOutcome]
) -> list[Entry]:
    """The entries that leave no balance below zero or below what is reserved; the others are refused, row by row."""
    free: dict[BalanceKey, Decimal] = {
        (one.site_id, one.item_id, one.lot_id, one.bin_id, one.condition): one.on_hand - one.reserved
        for one in Balance.objects.filter(lot_id__in={entry.lot_id for _, entry in entries})
    }
    taken, dropped = [], set()
    for row, entry in entries:
        key = str(entry.external_id)
        shelf = (
            entry.site_id,
            entry.item_id,
            entry.lot_id,
            entry.bin_id or known.homes[entry.site_id],
            entry.condition,
        )
        after = free.get(shelf, Decimal(0)) + entry.quantity
        if after < 0:
            detail = f"{plain(free.get(shelf, Decimal(0)))} is free of this lot there."
            outcomes[row.number] = RowOutcome.refused(row, key, "quantity", detail, "Load what came in before it.")
            dropped.add(entry.id)
        elif entry.reverses_id in dropped:
            outcomes[row.number] = RowOutcome.refused(row, key, "reverses", "That one was refused.", "Mend it first.")
            dropped.add(entry.id)
        else:
            free[shelf] = after
            outcomes[row.number] = RowOutcome(row.number, key, "created")
            taken.append(entry)
    return taken
