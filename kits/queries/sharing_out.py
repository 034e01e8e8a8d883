"""Who gets what there is and comes of an item at a site, and which jobs wait."""

import datetime
import uuid
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from assets.calculations.written_numbers import plain
from assets.queries.sites import site_for, sites
from kits.calculations.scarce_stock import Share, SharedOut, Wish, share_out
from kits.models import Item, Reservation
from kits.queries.items import item_for
from kits.queries.stock_picture import Shelf, shelves_at, shelves_of
from services.identity.callers import Caller


def allocation_of(by: Caller, *, site_id: Any, item_id: Any, on: datetime.date) -> dict[str, Any]:
    """Every claim without lots, in its order, with the day it is served. Raises `NotThere`, `InvalidValue`."""
    site, item = site_for(by, site_id), item_for(item_id)
    shared = _shared(shelves_of(site.pk, [item.pk], on)[item.pk])
    return {
        "site": site.pk,
        "site_code": site.code,
        "item": item.pk,
        "item_number": item.number,
        "item_revision": item.revision,
        "on": on,
        "claims": [_row(one) for one in shared.shares],
        **_sums([shared]),
    }


def allocation_everywhere(by: Caller, *, item_id: Any, on: datetime.date) -> dict[str, Any]:
    """The same for each of the caller's sites where jobs claim the item. Ten queries, however many sites. Raises
    `InvalidValue`."""
    item = item_for(item_id)
    claiming = Reservation.objects.filter(item_id=item.pk, state="soft").order_by().values("site_id")
    names = dict(sites(by=by).filter(pk__in=claiming).values_list("id", "code"))
    found = {site: _shared(shelf) for (site, _), shelf in shelves_at(names, [item.pk], on).items()} if names else {}
    return {
        "item": item.pk,
        "item_number": item.number,
        "item_revision": item.revision,
        "on": on,
        "sites": [
            {
                "site": site,
                "site_code": names[site],
                "claims": [_row(one) for one in found[site].shares],
                **_sums([found[site]]),
            }
            for site in sorted(found, key=names.__getitem__)
        ],
        **_sums(list(found.values())),
    }


def waiting_jobs(by: Caller, *, site_id: Any, on: datetime.date) -> dict[str, Any]:
    """Claims without lots that are not served on their day, over all items of a site, in their order. Eleven queries,
    however many items. Raises `NotThere`."""
    site = site_for(by, site_id)
    claimed = Reservation.objects.filter(site_id=site.pk, state="soft").order_by().values_list("item_id", flat=True)
    items: dict[uuid.UUID, Item] = Item.objects.in_bulk(set(claimed))
    found = {pk: _shared(shelf) for pk, shelf in shelves_of(site.pk, items, on).items()} if items else {}
    waiting = [(pk, one) for pk, shared in found.items() for one in shared.shares if one.waits]
    return {
        "site": site.pk,
        "site_code": site.code,
        "on": on,
        "waiting": [
            {"item": pk, "item_number": items[pk].number, "item_revision": items[pk].revision, **_row(one)}
            for pk, one in sorted(waiting, key=lambda each: (each[1].wish.rank, items[each[0]].number))
        ],
        **_sums(list(found.values())),
    }


def _shared(shelf: Shelf) -> SharedOut:
    wishes = [
        Wish(one.job_number, one.criticality, one.need_date, one.quantity) for one in shelf.claims if not one.hard
    ]
    return share_out(shelf.supplies, wishes, today=shelf.on)


def _row(one: Share) -> dict[str, Any]:
    return {
        "job_number": one.wish.job_number,
        "criticality": one.wish.criticality or None,
        "need_date": one.wish.due,
        "quantity": one.wish.quantity,
        "on": one.on,
        "waits": one.waits,
        "waits_days": (one.on - one.due).days if one.on is not None else None,
        "waits_for": list(one.waits_for),
        "behind": list(one.behind),
        "why": _why(one),
    }


def _why(one: Share) -> str:
    if not one.waits:
        return f"Served on {one.due}."
    if one.on is None:
        until = "Nothing known serves it: no stock in date, no order and no transfer is left for it."
    else:
        until = f"Served on {one.on}, with {', '.join(one.waits_for)}."
    if not one.enough_alone:
        return f"Too few are there and in date on {one.due}. {until}"
    return f"On {one.due} {', '.join(one.behind)} {'comes' if len(one.behind) == 1 else 'come'} first. {until}"


def _sums(shared: Sequence[SharedOut]) -> dict[str, Any]:
    def total(name: str) -> Decimal:
        return sum((getattr(one, name) for one in shared), Decimal(0))

    fewer = total("fewer")
    words = f"Served on their day: {plain(total('on_their_day'))} of {plain(total('asked'))}."
    if fewer:
        words += f" By date alone it would be {plain(fewer)} more: that is what putting criticality first costs."
    return {
        "asked": total("asked"),
        "on_their_day": total("on_their_day"),
        "on_their_day_at_most": total("on_their_day_at_most"),
        "words": words,
    }
