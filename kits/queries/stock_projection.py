"""What is on hand of an item at a site day by day, and every way to have more of it."""

import datetime
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from assets.calculations.written_numbers import plain
from assets.queries.sites import site_for
from kits.calculations.kit_building import buildable
from kits.calculations.order_quantity import round_up
from kits.calculations.stock_projection import Need, Supply, project, promise, serve
from kits.models import Item, SupplierTerms
from kits.queries.availability import alternatives, free_at
from kits.queries.items import item_for
from kits.queries.kit_building import contents_of
from kits.queries.lending import ways_by_transfer
from kits.queries.stock_picture import CAUTION, Shelf, shelves_of, whole
from services.identity.callers import Caller

ZERO = Decimal(0)
NO_WAY = "No way is known: no stock, no order, no transfer, no supplier's terms, too few parts."


@dataclass(frozen=True)
class Picture:
    """An item at a site on a day."""

    by: Caller
    site_id: uuid.UUID
    site_code: str
    item: Item
    on: datetime.date
    shelf: Shelf

    @property
    def supplies(self) -> list[Supply]:
        """What lies there free and what comes."""
        return self.shelf.supplies

    @property
    def needs(self) -> list[Need]:
        """What leaves and what jobs claim."""
        return self.shelf.needs


def picture_of(by: Caller, *, site_id: Any, item_id: Any, on: datetime.date) -> Picture:
    """Free stock by lot, claims of jobs, orders and transfers still to come. Raises `NotThere`."""
    site, item = site_for(by, site_id), item_for(item_id)
    return Picture(by, site.pk, site.code, item, on, shelves_of(site.pk, [item.pk], on)[item.pk])


def projection(picture: Picture, until: datetime.date) -> dict[str, Any]:
    """The days on which something happens, who goes short and what dies."""
    days = project(picture.supplies, picture.needs, start=picture.on, until=until)
    found = serve(picture.supplies, picture.needs)
    short = [
        {"job_number": need.label, "need_date": need.day, "quantity": need.quantity, "short": missing}
        for need, missing in zip(picture.needs, found.short, strict=True)
        if missing > 0 and need.day <= until
    ]
    dying = [
        {"lot": lot.label, "last_day": lot.last_day, "quantity": rest}
        for lot, taken in zip(picture.supplies, found.taken, strict=True)
        if lot.last_day is not None
        and lot.last_day < until
        and (rest := lot.quantity - sum((amount for _, amount in taken), ZERO)) > 0
    ]
    return {
        "site": picture.site_id,
        "site_code": picture.site_code,
        "item": picture.item.pk,
        "item_number": picture.item.number,
        "item_revision": picture.item.revision,
        "on": picture.on,
        "until": until,
        "days": [one.__dict__ for one in days],
        "short": short,
        "dying": dying,
        "receipts": [one.__dict__ for one in picture.shelf.receipts],
        "transfers": [one.__dict__ for one in picture.shelf.transfers],
        "words": _projection_words(picture, short, dying),
    }


def _projection_words(picture: Picture, short: Sequence[dict[str, Any]], dying: Sequence[dict[str, Any]]) -> str:
    told = []
    if short:
        one = short[0]
        told.append(f"Job {one['job_number']} is {plain(one['short'])} short on {one['need_date']}.")
        if len(short) > 1:
            told.append(f"So are {len(short) - 1} more.")
    elif picture.needs:
        told.append("Every claim is served.")
    else:
        told.append("No job claims it.")
    if dying:
        lots = ", ".join(f"{plain(one['quantity'])} of lot {one['lot']} on {one['last_day']}" for one in dying)
        told.append(f"Out of date before anybody claims it: {lots}.")
    away = [one for one in picture.shelf.transfers if one.counted_on is None]
    if away:
        named = ", ".join(f"{plain(one.quantity)} of {one.transfer} from {one.from_site}" for one in away)
        told.append(f"Not counted, overdue or no longer free at the lender: {named}.")
    lost = [one.order for one in picture.shelf.receipts if one.counted_on is None]
    if lost:
        told.append(
            f"Overdue and not counted, since it is long past its day or nothing tells when it comes: order "
            f"{', '.join(lost)}."
        )
    return " ".join(told)


def promises(picture: Picture, *, quantity: Decimal, earliest: datetime.date) -> dict[str, Any]:
    """Every way to have so many more at the site, the first day of each, and the first of all."""
    ways = [_from_stock(picture, quantity, earliest)]
    moved = ways_by_transfer(
        picture.by, picture.shelf, site_id=picture.site_id, item_id=picture.item.pk, quantity=quantity,
        earliest=earliest,
    )  # fmt: skip
    ordered = _from_new_order(picture, quantity, earliest)
    built = _from_parts(picture, quantity, earliest)
    ways += [one for one in (built, *moved.ways, ordered) if one is not None]
    possible = [one for one in ways if one["on"] is not None]
    best = min(possible, key=lambda one: one["on"], default=None)
    dead = [
        {"lot": lot.label, "last_day": lot.last_day, "quantity": lot.quantity}
        for lot in picture.supplies
        if lot.last_day is not None and lot.last_day < (best["on"] if best else earliest) and lot.quantity > 0
    ]
    return {
        "site": picture.site_id,
        "site_code": picture.site_code,
        "item": picture.item.pk,
        "item_number": picture.item.number,
        "item_revision": picture.item.revision,
        "quantity": quantity,
        "earliest": earliest,
        "on": best and best["on"],
        "way": best and best["way"],
        "ways": [{"pieces": [], **one} for one in ways],
        "out_of_date_by_then": dead,
        "elsewhere": alternatives(picture.by, item_id=picture.item.pk, site_id=picture.site_id, on=earliest),
        "no_transit_time": moved.no_transit_time,
        "words": " ".join([best["words"] if best else NO_WAY, *moved.words]),
    }


def _from_stock(picture: Picture, quantity: Decimal, earliest: datetime.date) -> dict[str, Any]:
    on = promise(picture.supplies, picture.needs, quantity=quantity, earliest=earliest)
    counted = [one for one in picture.shelf.receipts if one.counted_on is not None]
    late = picture.shelf.late_supplies
    cautious = promise(late, picture.needs, quantity=quantity, earliest=earliest)
    if on is None:
        words = "Stock and open orders never have so many free and in date without another job going short."
    else:
        comes = [f"order {one.order}" for one in counted if one.counted_on and earliest < one.counted_on == on]
        comes += [f"transfer {one.transfer}" for one in picture.shelf.transfers if earliest < on == one.counted_on]
        source = f"with {comes[0]}" if comes else "from stock and open orders"
        words = f"{plain(quantity)} can be had on {on} {source}."
        if cautious is None:
            words += " If open orders come late, not at all."
        elif cautious > on:
            words += f" If open orders come late, on {cautious}."
    return {"way": "stock-and-orders", "on": on, "cautious_on": cautious, "words": words}


def _from_new_order(picture: Picture, quantity: Decimal, earliest: datetime.date) -> dict[str, Any] | None:
    terms = (
        SupplierTerms.objects.filter(item_id=picture.item.pk)
        .order_by("lead_time_days", "price", "supplier__code")
        .values_list(
            "supplier__code", "lead_time_days", "lead_time_sd_days", "minimum", "multiple", "price", "currency"
        )
        .first()
    )
    if terms is None:
        return None
    supplier, lead, spread, minimum, multiple, price, currency = terms
    steps = Decimal(round_up(float(max(quantity, minimum) / multiple), minimum=1, multiple=1))
    ordered = steps * multiple
    days = []
    for longer in (ZERO, spread * CAUTION):
        comes = picture.on + datetime.timedelta(days=whole(lead + longer))
        added = Supply("new", comes, picture.shelf.fresh(comes), ordered)
        days.append(
            promise([*picture.supplies, added], picture.needs, quantity=quantity, earliest=max(earliest, comes))
        )
    on, cautious = days
    words = (
        f"{plain(ordered)} ordered today from {supplier} at {plain(ordered * price)} {currency}: on {on}."
        if on
        else f"An order of {plain(ordered)} from {supplier} today would go to jobs that are short already."
    )
    return {"way": "new-order", "on": on, "cautious_on": cautious, "words": words}


def _from_parts(picture: Picture, quantity: Decimal, earliest: datetime.date) -> dict[str, Any] | None:
    if picture.item.kind != "kit":
        return None
    contents = contents_of(picture.item.pk, earliest)
    count = buildable(contents.requirements, free_at(picture.site_id, contents.numbers, earliest))
    missing = serve(picture.supplies, picture.needs).shortage
    wanted = whole(quantity + missing)
    enough = count >= wanted
    words = f"{count} can be built from loose parts"
    if enough:
        words += f": enough on {earliest}."
    elif missing:
        words += f"; {wanted} would be needed, {plain(missing)} of them for jobs that are short already."
    else:
        words += f"; {wanted} would be needed."
    return {
        "way": "build-from-parts",
        "on": earliest if enough else None,
        "cautious_on": earliest if enough else None,
        "words": words,
    }
