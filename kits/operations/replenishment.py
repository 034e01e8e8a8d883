"""Proposing what a site should order: asked for by a person or by the clock, one run a site at a time."""

import datetime
import uuid
from typing import Any

from django.db import connection, transaction
from django.utils import timezone

from assets.operations.site_runs import ask_every_site, request_site_run
from kits.calculations.replenishment_working import (
    ReplenishmentInputs,
    ReplenishmentPlan,
    plan_replenishments,
    should_replace,
    words_of,
    working_of,
)
from kits.models import Proposal
from kits.operations.proposals import tell_proposal
from kits.queries.replenishment import StockPicture, fill_rates, held_back, stock_pictures, undecided
from services.identity.callers import Caller

TASK = "kits.tasks.run_replenishment"
HISTORY = datetime.timedelta(days=37 * 31)
NIGHT_BEGINS = datetime.time(2, 0)
LOCK_SPACE = 7302


def request_run(*, by: Caller, site_id: uuid.UUID) -> uuid.UUID:
    """Ask for a run of a site; a worker does it. Raises `NotThere`, `NotAllowed`."""
    return request_site_run(TASK, by=by, site_id=site_id)


def ask_nightly(*, now: datetime.datetime | None = None) -> list[uuid.UUID]:
    """Ask for one run a site and day, once it is past two in the morning there; which runs are new."""
    return ask_every_site(TASK, word="replenishment", begins=NIGHT_BEGINS, now=now)


@transaction.atomic(savepoint=False)
def replenish_site(*, by: Caller | None, site_id: uuid.UUID, as_of: datetime.date | None = None) -> dict[str, Any]:
    """Look at every item of a site and bring its proposals up to date; how many were opened, renewed, withdrawn.

    A second run with nothing changed changes nothing. A rejection holds until its day unless jobs would go short; a
    snoozed proposal is renewed where it lies. Two runs of one site wait for each other.
    """
    day = as_of or timezone.now().date()
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s, hashtext(%s))", [LOCK_SPACE, str(site_id)])
    rates, open_ones, held = fill_rates(), undecided(site_id), held_back(site_id, day)
    counts = {"looked_at": 0, "opened": 0, "renewed": 0, "withdrawn": 0}
    pictures = [one for one in stock_pictures(site_id, as_of=day, since=day - HISTORY) if one.criticality in rates]
    plans = plan_replenishments([inputs_of(one, day, rates[one.criticality]) for one in pictures])
    counts["looked_at"] = len(pictures)
    for picture, plan in zip(pictures, plans, strict=True):
        kept = open_ones.pop(picture.item_id, None)
        if plan.quantity == 0:
            if kept is not None:
                _withdraw(kept, by)
                counts["withdrawn"] += 1
        elif kept is None:
            if picture.item_id not in held or plan.firm_shortage:
                _open(site_id, picture, plan, by)
                counts["opened"] += 1
        elif should_replace(kept.quantity, kept.working.get("position", {}).get("total", ""), plan):
            _renew(kept, picture, plan, by)
            counts["renewed"] += 1
    for orphan in open_ones.values():
        _withdraw(orphan, by)
        counts["withdrawn"] += 1
    return counts


def inputs_of(picture: StockPicture, day: datetime.date, fill_rate: Any) -> ReplenishmentInputs:
    """What a plan for the item is made from."""
    terms = picture.terms
    return ReplenishmentInputs(
        as_of=day,
        kept_since=picture.first_moved_on or day,
        needs=tuple(picture.needs),
        usable=picture.usable,
        held_for_jobs=picture.held_for_jobs,
        lots=tuple(picture.lots),
        claims=tuple(picture.claimed),
        on_order=tuple(picture.on_order),
        lead_time_days=terms.lead_time_days,
        lead_time_sd_days=terms.lead_time_sd_days,
        minimum=terms.minimum,
        multiple=terms.multiple,
        price=terms.price,
        order_cost=terms.order_cost,
        fill_rate=fill_rate,
        storage_years=picture.storage_years,
        free_elsewhere=picture.free_elsewhere,
    )


def _figures(picture: StockPicture, plan: ReplenishmentPlan) -> dict[str, Any]:
    terms = picture.terms
    return {
        "supplier_id": terms.supplier_id,
        "quantity": plan.quantity,
        "price": terms.price,
        "currency": terms.currency,
        "expected_on": plan.inputs.as_of + datetime.timedelta(days=round(terms.lead_time_days)),
        "working": working_of(plan),
        "words": "\n".join(words_of(plan)),
        "as_of": plan.inputs.as_of,
    }


def _open(site_id: uuid.UUID, picture: StockPicture, plan: ReplenishmentPlan, by: Caller | None) -> None:
    made = Proposal.objects.create(
        site_id=site_id, item_id=picture.item_id, kind=plan.source.kind, **_figures(picture, plan)
    )
    tell_proposal("proposal.opened", made, by)


def _renew(kept: Proposal, picture: StockPicture, plan: ReplenishmentPlan, by: Caller | None) -> None:
    Proposal.objects.filter(pk=kept.pk).update(**_figures(picture, plan))
    kept.refresh_from_db()
    tell_proposal("proposal.renewed", kept, by)


def _withdraw(kept: Proposal, by: Caller | None) -> None:
    Proposal.objects.filter(pk=kept.pk).update(state=Proposal.State.WITHDRAWN)
    kept.refresh_from_db()
    tell_proposal("proposal.withdrawn", kept, by)
