"""Proposing what a site should order: asked for by a person or by the clock, one run a site at a time."""

import datetime
import uuid
from decimal import Decimal
from typing import Any

from django.db import connection, transaction
from django.utils import timezone

from assets.operations.site_runs import ask_every_site, request_site_run
from kits.calculations.proposal_stability import FREEZE, JOBS_GO_SHORT, Asked, why_changed
from kits.calculations.site_plan import plan_site
from kits.models import Proposal
from kits.operations.replenishment_levels import keep_levels
from kits.operations.replenishment_wanted import Wanted, wanted_of_site
from kits.queries.replenishment import held_back, undecided
from kits.queries.site_stock import site_stock
from services.api.identifiers import new_id
from services.api.many_rows import insert_many, update_many
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller

TASK = "kits.tasks.run_replenishment"
NIGHT_BEGINS = datetime.time(2, 0)
LOCK_SPACE = 7302
FIGURES = (
    "kind", "lender", "supplier", "quantity", "price", "currency", "expected_on", "need_by", "firm_shortage",
    "warnings", "frozen_until", "working", "words", "as_of", "edited_by",
    "state", "holds_until",
)  # fmt: skip


def request_run(*, by: Caller, site_id: uuid.UUID) -> uuid.UUID:
    """Ask for a run of a site; a worker does it. Raises `NotThere`, `NotAllowed`."""
    return request_site_run(TASK, by=by, site_id=site_id)


def ask_nightly(*, now: datetime.datetime | None = None) -> list[uuid.UUID]:
    """Ask for one run a site and day, once it is past two in the morning there; which runs are new."""
    return ask_every_site(TASK, word="replenishment", begins=NIGHT_BEGINS, now=now)


@transaction.atomic(savepoint=False)
def replenish_site(*, by: Caller | None, site_id: uuid.UUID, as_of: datetime.date | None = None) -> dict[str, Any]:
    """Look at every item of a site and bring its levels and proposals up to date; how many of each became different.

    A second run with nothing changed changes nothing. An open proposal stays as people saw it until there is a reason
    to change it; a rejection or a snooze holds until its day unless jobs go short; a snoozed one is changed where it
    lies. What was edited by a person stays as edited, unless jobs go short. Two runs of one site wait for each other.
    """
    day = as_of or timezone.now().date()
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s, hashtext(%s))", [LOCK_SPACE, str(site_id)])
    # Who decides on one waits until the run is over.
    open_ones = {one.item_id: one for one in undecided(site_id).select_for_update(no_key=True)}
    held = held_back(site_id, day)
    stock = site_stock(site_id, day)
    plan = plan_site(stock.figures)
    levels = keep_levels(site_id, stock, plan, day)
    wanted = wanted_of_site(site_id, stock, plan, day, held=held)
    opened = [
        _figures(Proposal(id=new_id(), site_id=site_id, item_id=item), one)
        for item, one in wanted.items()
        if item not in open_ones and (item not in held or one.plan.firm_shortage)
    ]
    renewed, withdrawn, why = [], [], {}
    for item, kept in open_ones.items():
        if item not in wanted:
            kept.state = Proposal.State.WITHDRAWN
            withdrawn.append(kept)
        elif reason := _why_renewed(kept, wanted[item], day):
            if reason == JOBS_GO_SHORT:
                kept.state, kept.holds_until = Proposal.State.OPEN, None
            renewed.append(_figures(kept, wanted[item]))
            why[kept.pk] = reason
    insert_many(opened)
    versions = update_many(renewed, FIGURES) | update_many(withdrawn, ["state"])
    record_changes(
        [
            *(_change("proposal.opened", one, 1) for one in opened),
            *(_change("proposal.renewed", one, versions[one.pk], why=why[one.pk]) for one in renewed),
            *(_change("proposal.withdrawn", one, versions[one.pk]) for one in withdrawn),
        ],
        by=by,
    )
    return {
        "looked_at": len(stock.items),
        "levels_changed": levels,
        "opened": len(opened),
        "renewed": len(renewed),
        "withdrawn": len(withdrawn),
    }


def _why_renewed(kept: Proposal, new: Wanted, day: datetime.date) -> str:
    old = Asked(
        kept.quantity,
        kept.need_by or kept.as_of,
        kept.lender_id,
        kept.firm_shortage,
        kept.supplier_id,
        (kept.price, kept.currency),
    )
    reason = why_changed(old, new.asked, frozen_until=kept.frozen_until, today=day)
    return "" if kept.edited_by_id and reason != JOBS_GO_SHORT else reason


def _figures(kept: Proposal, new: Wanted) -> Proposal:
    plan, lender = new.plan, new.source.lender
    days = new.lead_time_days if lender is None else lender.days or 0
    kept.kind = Proposal.Kind.BUY if lender is None else Proposal.Kind.TRANSFER
    kept.lender_id = None if lender is None else lender.site_id
    kept.supplier_id = new.supplier_id
    kept.quantity = Decimal(new.quantity)
    kept.price, kept.currency = new.terms.price, new.terms.currency
    kept.expected_on = plan.as_of + datetime.timedelta(days=round(days))
    kept.need_by, kept.firm_shortage = plan.need_by, plan.firm_shortage
    kept.warnings = new.warnings
    kept.frozen_until = plan.as_of + FREEZE
    kept.working = new.working
    kept.words = "\n".join(new.words)
    kept.as_of = plan.as_of
    # What somebody set is replaced, so it is theirs no longer.
    kept.edited_by_id = None
    return kept


def _change(kind: str, one: Proposal, version: int, **facts: Any) -> Recorded:
    body = {"item": one.item_id, "kind": one.kind, "quantity": one.quantity, "state": one.state, **facts}
    return Recorded(kind, "proposal", one.pk, version, one.site_id, body)
