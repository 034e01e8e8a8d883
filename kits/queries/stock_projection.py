"""What comes, what is wanted and what dies of an item at a site: what projections and promises are made from."""

import datetime
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from statistics import median
from typing import Any

from django.db.models import F

from assets.queries.sites import site_for
from kits.calculations.kit_building import buildable
from kits.calculations.order_quantity import round_up
from kits.calculations.stock_projection import Need, Supply, delayed, project, promise, serve
from kits.calculations.storage_life import StorageGroup, kit_expiry
from kits.models import Balance, Item, Movement, OrderLine, Reservation, SupplierTerms
from kits.queries.ageing import ageing_groups
from kits.queries.availability import COMING, alternatives, free_at
from kits.queries.items import item_for
from kits.queries.kit_building import contents_of
from services.identity.callers import Caller

ZERO = Decimal(0)
# The last so many receipts from a supplier say how late what is overdue will be.
LATEST_RECEIPTS = 200
# One-sided 95 % of a normal distribution; a cautious promise waits so many deviations longer (common practice, no
# source).
CAUTION = Decimal("1.645")


@dataclass(frozen=True)
class Receipt:
    """A line of an order still to come. ``counted_on`` is None where it is overdue and nothing tells when it comes."""

    order: str
    expected_on: datetime.date
    counted_on: datetime.date | None
    quantity: Decimal
    spread_days: Decimal


@dataclass(frozen=True)
class Picture:
    """An item at a site on a day; ``receipts`` stand at the end of ``supplies`` in the same order, where counted."""

    by: Caller
    site_id: uuid.UUID
    site_code: str
    item: Item
    on: datetime.date
    supplies: list[Supply]
    needs: list[Need]
    receipts: list[Receipt]
    groups: list[StorageGroup]

    def fresh(self, day: datetime.date) -> datetime.date | None:
        """The last day of what comes fresh on a day."""
        return kit_expiry((day, one) for one in self.groups)


def picture_of(by: Caller, *, site_id: Any, item_id: Any, on: datetime.date) -> Picture:
    """Free stock by lot, claims of jobs, and orders still to come. Raises `NotThere`."""
    site, item = site_for(by, site_id), item_for(item_id)
    groups = ageing_groups({item.pk}).get(item.pk, [])
    supplies = [
        Supply(number, on, expires_on, free)
        for number, expires_on, free in Balance.objects.filter(
            site_id=site.pk, item_id=item.pk, condition="usable", on_hand__gt=F("reserved")
        )
        .order_by("lot__expires_on", "lot__received_on", "lot__number", "id")
        .values_list("lot__number", "lot__expires_on", F("on_hand") - F("reserved"))
    ]
    needs = [
        Need(number, max(day, on), quantity, held=state == "hard")
        for number, day, quantity, state in Reservation.objects.filter(
            site_id=site.pk, item_id=item.pk, state__in=["soft", "hard"], quantity__gt=F("issued")
        )
        .order_by("need_date", "id")
        .values_list("job_number", "need_date", F("quantity") - F("issued"), "state")
    ]
    receipts = _receipts(site.pk, item.pk, on)
    supplies += [
        Supply(one.order, one.counted_on, kit_expiry((one.counted_on, group) for group in groups), one.quantity)
        for one in receipts
        if one.counted_on is not None
    ]
    return Picture(by, site.pk, site.code, item, on, supplies, needs, receipts, groups)


def _receipts(site_id: uuid.UUID, item_id: uuid.UUID, on: datetime.date) -> list[Receipt]:
    lines = list(
        OrderLine.objects.filter(
            item_id=item_id, order__site_id=site_id, order__state__in=COMING, received__lt=F("quantity")
        )
        .order_by("expected_on", "id")
        .values_list("order__number", "order__supplier_id", "expected_on", F("quantity") - F("received"))
    )
    spreads = dict(
        SupplierTerms.objects.filter(item_id=item_id, supplier_id__in={one[1] for one in lines}).values_list(
            "supplier_id", "lead_time_sd_days"
        )
    )
    late = _lateness({one[1] for one in lines if one[2] < on})
    found = []
    for order, supplier, expected, rest in lines:
        counted: datetime.date | None = expected
        if expected < on:
            days = late.get(supplier)
            counted = None if days is None else on + datetime.timedelta(days=days)
        found.append(Receipt(order, expected, counted, rest, spreads.get(supplier, ZERO)))
    return found


def _lateness(suppliers: set[uuid.UUID]) -> dict[uuid.UUID, int]:
    """By supplier, the median of the days by which its latest receipts came after they were expected, at least one.
    One query, none without suppliers."""
    days: dict[uuid.UUID, list[int]] = {}
    if suppliers:
        rows = (
            Movement.objects.filter(
                kind="receipt", reverses=None, reversed_by=None, order_line__order__supplier_id__in=suppliers
            )
            .order_by("-occurred_at")
            .values_list("order_line__order__supplier_id", "occurred_at", "order_line__expected_on")[:LATEST_RECEIPTS]
        )
        for supplier, came, expected in rows:
            days.setdefault(supplier, []).append((came.date() - expected).days)
    return {supplier: max(round(median(found)), 1) for supplier, found in days.items()}


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
        "receipts": [one.__dict__ for one in picture.receipts],
        "words": _projection_words(picture, short, dying),
    }


def _projection_words(picture: Picture, short: Sequence[dict[str, Any]], dying: Sequence[dict[str, Any]]) -> str:
    told = []
    if short:
        one = short[0]
        told.append(f"Job {one['job_number']} is {_plain(one['short'])} short on {one['need_date']}.")
        if len(short) > 1:
            told.append(f"So are {len(short) - 1} more.")
    elif picture.needs:
        told.append("Every claim is served.")
    else:
        told.append("No job claims it.")
    if dying:
        lots = ", ".join(f"{_plain(one['quantity'])} of lot {one['lot']} on {one['last_day']}" for one in dying)
        told.append(f"Out of date before anybody claims it: {lots}.")
    lost = [one.order for one in picture.receipts if one.counted_on is None]
    if lost:
        told.append(f"Overdue and not counted, since nothing tells when it comes: order {', '.join(lost)}.")
    return " ".join(told)


def promises(picture: Picture, *, quantity: Decimal, earliest: datetime.date) -> dict[str, Any]:
    """Every way to have so many more at the site, the first day of each, and the first of all."""
    ways = [_from_stock(picture, quantity, earliest)]
    ordered = _from_new_order(picture, quantity, earliest)
    built = _from_parts(picture, quantity, earliest)
    ways += [one for one in (built, ordered) if one is not None]
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
        "ways": ways,
        "out_of_date_by_then": dead,
        "elsewhere": alternatives(picture.by, item_id=picture.item.pk, site_id=picture.site_id, on=earliest),
        "words": best["words"] if best else "No way is known: no stock, no order, no supplier's terms, too few parts.",
    }


def _from_stock(picture: Picture, quantity: Decimal, earliest: datetime.date) -> dict[str, Any]:
    on = promise(picture.supplies, picture.needs, quantity=quantity, earliest=earliest)
    counted = [one for one in picture.receipts if one.counted_on is not None]
    shelf = len(picture.supplies) - len(counted)
    late = delayed(picture.supplies, [0] * shelf + [_whole(one.spread_days * CAUTION) for one in counted])
    cautious = promise(late, picture.needs, quantity=quantity, earliest=earliest)
    if on is None:
        words = "Stock and open orders never have so many free and in date without another job going short."
    else:
        comes = [one.order for one in counted if one.counted_on and earliest < one.counted_on == on]
        source = f"with order {comes[0]}" if comes else "from stock and open orders"
        words = f"{_plain(quantity)} can be had on {on} {source}."
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
        comes = picture.on + datetime.timedelta(days=_whole(lead + longer))
        added = Supply("new", comes, picture.fresh(comes), ordered)
        days.append(
            promise([*picture.supplies, added], picture.needs, quantity=quantity, earliest=max(earliest, comes))
        )
    on, cautious = days
    words = (
        f"{_plain(ordered)} ordered today from {supplier} at {_plain(ordered * price)} {currency}: on {on}."
        if on
        else f"An order of {_plain(ordered)} from {supplier} today would go to jobs that are short already."
    )
    return {"way": "new-order", "on": on, "cautious_on": cautious, "words": words}


def _from_parts(picture: Picture, quantity: Decimal, earliest: datetime.date) -> dict[str, Any] | None:
    if picture.item.kind != "kit":
        return None
    contents = contents_of(picture.item.pk, earliest)
    count = buildable(contents.requirements, free_at(picture.site_id, contents.numbers, earliest))
    missing = serve(picture.supplies, picture.needs).shortage
    wanted = _whole(quantity + missing)
    enough = count >= wanted
    words = f"{count} can be built from loose parts"
    if enough:
        words += f": enough on {earliest}."
    elif missing:
        words += f"; {wanted} would be needed, {_plain(missing)} of them for jobs that are short already."
    else:
        words += f"; {wanted} would be needed."
    return {
        "way": "build-from-parts",
        "on": earliest if enough else None,
        "cautious_on": earliest if enough else None,
        "words": words,
    }


def _whole(number: Decimal) -> int:
    return int(number.to_integral_value(rounding=ROUND_CEILING))


def _plain(number: Decimal) -> str:
    return f"{number.normalize():f}"
