"""What lies dead at a site or is more than enough, in a fixed number of queries however many items there are."""

import datetime
import uuid
from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.db.models import F, FilteredRelation, Max, Min, Q, Sum
from django.db.models.functions import Least

from assets.queries.sites import site_for
from kits.calculations.demand_history import HISTORY
from kits.calculations.replenishment_working import ReplenishmentInputs, plan_site_of
from kits.calculations.stock_surplus import (
    LONGEST_USE_MONTHS,
    QUIET_MONTHS,
    USUAL_LEAD_TIME_DAYS,
    USUAL_TARGET,
    StockAtHand,
    judge_stock,
)
from kits.models import Balance, Item, KitLine, Movement, Reservation
from kits.queries.availability import in_date
from kits.queries.backtest_history import needs_of
from kits.queries.expected_overhauls import ExpectedDemand, expected_overhauls
from kits.queries.movements import taken_at_once
from kits.queries.replenishment_pictures import Target, Terms, best_terms, targets
from kits.queries.transfers import promised_away
from services.api.rows import plain_rows
from services.identity.callers import Caller

ZERO, ONE = Decimal(0), Decimal(1)
LOOKED_AHEAD_DAYS = round(LONGEST_USE_MONTHS / 12 * 365.25)
# Below so many pieces over all the months looked ahead, installed pumps do not need an item (common practice, no
# source).
NEEDED_FROM = 0.05
Lots = tuple[tuple[datetime.date | None, Decimal], ...]


def stock_surplus(
    by: Caller, site_id: Any, *, on: datetime.date, limit: int, kind: str | None = None
) -> dict[str, Any]:
    """What could leave a granted site, the most valuable first, at most ``limit`` items. Thirteen queries. Raises
    `NotThere`."""
    site = site_for(by, site_id)
    lots = _lots(site.pk, on)
    names = _items(site.pk, lots)
    overhauls = expected_overhauls(site.pk, on, LOOKED_AHEAD_DAYS)
    judged = _judged(site.pk, lots, names, overhauls, on)
    found = [
        {name: names[item][name] for name in NAMES} | row for item, row in judged.items() if kind in (None, row["kind"])
    ]
    found.sort(key=lambda one: (one["value"] is None, -(one["value"] or ZERO), one["number"], one["revision"]))
    values: dict[str, Decimal] = {}
    for one in found:
        if one["value"] is not None:
            values[one["currency"]] = values.get(one["currency"], ZERO) + one["value"]
    return {
        "site": site.pk,
        "site_code": site.code,
        "on": on,
        "quiet_months": QUIET_MONTHS,
        "looked_ahead_months": LONGEST_USE_MONTHS,
        "overhauls_as_of": min((one.as_of for one in overhauls.values()), default=None),
        "looked_at": len(lots),
        "dead": sum(one["kind"] == "dead" for one in found),
        "excess": sum(one["kind"] == "excess" for one in found),
        "values": [{"currency": currency, "value": value} for currency, value in sorted(values.items())],
        "items": found[:limit],
        "left_off": max(len(found) - limit, 0),
    }


def _judged(
    site_id: uuid.UUID,
    lots: dict[uuid.UUID, Lots],
    names: dict[uuid.UUID, dict[str, Any]],
    overhauls: dict[uuid.UUID, ExpectedDemand],
    on: datetime.date,
) -> dict[uuid.UUID, dict[str, Any]]:
    items = list(names)
    if not items:
        return {}
    moved, claimed = _moved(site_id, items), _claimed(site_id, items)
    promised, needed = promised_away(site_id, items), _needed(overhauls)
    needs: dict[uuid.UUID, list[tuple[datetime.date, Decimal]]] = {}
    for one in needs_of(site_id, on - HISTORY):
        needs.setdefault(one.item, []).append((one.day, one.quantity))
    terms, rates, taken = best_terms(items), targets(), taken_at_once([site_id], on - HISTORY, items)
    # What replenishment would fill up to, also of what it never looked at because nobody sells it.
    plan = plan_site_of(
        [
            _inputs(
                names[one], needs.get(one, ()), taken.get((site_id, one), {}), moved[one][0], terms.get(one), rates, on
            )
            for one in items
        ]
    )
    found = {}
    for place, item in enumerate(items):
        since, last_used = moved[item]
        kept_so_far = names[item]["level"]
        stock = StockAtHand(
            lots=lots[item],
            reserved=claimed.get(item, ZERO),
            promised_away=promised.get(item, ZERO),
            kept_since=since,
            last_used_on=last_used,
            monthly_use=float(plan.forecasts.mean[place]) if plan.forecasts.months[place] else None,
            installed_use=needed.get(item, 0.0),
            needed_by_pumps=needed.get(item, 0.0) >= NEEDED_FROM,
            level=int(plan.up_to[place]) if kept_so_far is None else kept_so_far,
            pumps_known=bool(overhauls),
        )
        surplus = judge_stock(stock, on=on)
        if surplus is not None:
            cost = names[item]["cost"]
            found[item] = {
                "kind": surplus.kind,
                "on_hand": stock.on_hand,
                "reserved": stock.reserved,
                "promised_away": stock.promised_away,
                "level": stock.level,
                "kept": surplus.kept,
                "surplus": surplus.quantity,
                "value": None if cost is None else cost * surplus.quantity,
                "kept_since": since,
                "last_used_on": last_used,
                "first_out_of_date_on": min((day for day, _ in lots[item] if day is not None), default=None),
                "reasons": list(surplus.reasons),
            }
    return found


def _lots(site_id: uuid.UUID, on: datetime.date) -> dict[uuid.UUID, Lots]:
    """What is usable and in date, by item and last day."""
    rows = (
        Balance.objects.filter(in_date(on), site_id=site_id, condition="usable", on_hand__gt=0)
        .order_by("item_id", "lot__expires_on")
        .values_list("item_id", "lot__expires_on")
        .annotate(total=Sum("on_hand"))
    )
    found: dict[uuid.UUID, Lots] = {}
    for item, last_day, total in rows:
        found[item] = (*found.get(item, ()), (last_day, total))
    return found


NAMES = ("item", "number", "revision", "name", "item_kind", "cost", "currency")


def _items(site_id: uuid.UUID, items: Collection[uuid.UUID]) -> dict[uuid.UUID, dict[str, Any]]:
    """How items are called, how long they keep, and what replenishment fills them up to, where it has set a level."""
    rows = plain_rows(
        Item.objects.filter(pk__in=items)
        .annotate(here=FilteredRelation("levels", condition=Q(levels__site_id=site_id)))
        .order_by("number", "revision", "id")
        .values("number", "revision", "name", "cost", "currency", "criticality", item=F("id"), item_kind=F("kind"))
        .annotate(
            level=F("here__reorder_point") + F("here__order_quantity"),
            years=Least("part__storage_group__initial_years", Min("kit__lines__part__storage_group__initial_years")),
        )
    )
    return {one["item"]: one for one in rows}


def _inputs(
    item: dict[str, Any],
    needs: Sequence[tuple[datetime.date, Decimal]],
    taken: Mapping[Decimal, int],
    kept_since: datetime.date,
    terms: Terms | None,
    rates: Mapping[str, Target],
    on: datetime.date,
) -> ReplenishmentInputs:
    """What the item's levels are planned from. A level does not ask what lies here or comes."""
    target = rates.get(item["criticality"], Target(USUAL_TARGET, "fill"))
    return ReplenishmentInputs(
        as_of=on,
        kept_since=kept_since,
        needs=tuple(needs),
        usable=ZERO,
        held_for_jobs=ZERO,
        lots=(),
        claims=(),
        on_order=(),
        lead_time_days=terms.lead_time_days if terms else USUAL_LEAD_TIME_DAYS,
        lead_time_sd_days=terms.lead_time_sd_days if terms else ZERO,
        minimum=terms.minimum if terms else ONE,
        multiple=terms.multiple if terms else ONE,
        price=terms.price if terms else ZERO,
        order_cost=terms.order_cost if terms else ZERO,
        fill_rate=target.share,
        measure=target.measure,
        storage_years=item["years"],
        is_part=item["item_kind"] == "part",
        taken_at_once=taken,
    )


def _moved(
    site_id: uuid.UUID, items: Collection[uuid.UUID]
) -> dict[uuid.UUID, tuple[datetime.date, datetime.date | None]]:
    """Since when each item is kept, and when it was last used: issued, built into a kit, or sent to another site."""
    used = Q(kind__in=["issue", "kit-build", "transfer-out"], quantity__lt=0)
    rows = (
        Movement.objects.filter(site_id=site_id, item_id__in=items)
        .values_list("item_id")
        .annotate(first=Min("occurred_at"), last=Max("occurred_at", filter=used))
    )
    return {item: (first.date(), last.date() if last else None) for item, first, last in rows}


def _claimed(site_id: uuid.UUID, items: Collection[uuid.UUID]) -> dict[uuid.UUID, Decimal]:
    """What live claims of jobs still ask for, with lots or without."""
    rows = Reservation.objects.filter(site_id=site_id, item_id__in=items, state__in=["soft", "hard"])
    return dict(rows.order_by().values_list("item_id").annotate(rest=Sum(F("quantity") - F("issued"))))


def _needed(overhauls: dict[uuid.UUID, ExpectedDemand]) -> dict[uuid.UUID, float]:
    """What installed pumps are expected to need over the months looked ahead: kits, and the parts in them."""
    kits = {kit: one.mean + one.certain for kit, one in overhauls.items()}
    found = dict(kits)
    rows = KitLine.objects.filter(kit_id__in=kits).values_list("kit_id", "part_id", "quantity")
    for kit, part, quantity in rows:
        found[part] = found.get(part, 0.0) + kits[kit] * float(quantity)
    return found
