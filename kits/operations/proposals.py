"""Deciding on proposals of replenishment: approve, reject until a day, put off until a day."""

import datetime
import uuid
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from assets.calculations.written_numbers import plain
from kits.models import Proposal
from kits.operations.orders import BUYERS, LineWanted, add_line
from kits.operations.transfers import Wanted, approve_transfer
from kits.queries.proposals import proposal_for
from kits.refusals import ProposalDecided
from services.api.refusals import InvalidValue
from services.api.versions import version_changed
from services.changes.recording import record_change
from services.identity.callers import Caller

State = Proposal.State
UNDECIDED = (State.OPEN, State.SNOOZED)
REJECTION_HOLDS = datetime.timedelta(days=30)


@transaction.atomic(savepoint=False)
def approve_proposal(
    *,
    by: Caller,
    proposal_id: uuid.UUID,
    expected_version: int,
    quantity: Decimal | None = None,
    override_reason: str = "",
) -> Proposal:
    """Approve what was seen: a line joins the site's unsent order at the supplier, or a transfer is agreed on.

    Where a lender would run short, ``override_reason`` says why it shall lend all the same. Raises `ProposalDecided`,
    `InvalidValue`, `VersionChanged`, `OverApprovalLimit`, and with a transfer what `approve_transfer` raises.
    """
    proposal = _locked(by, proposal_id, expected_version)
    wanted = proposal.quantity if quantity is None else quantity
    _must_be_some(wanted)
    line, transfer = None, None
    if not proposal.item.is_active:
        raise InvalidValue("The item is no longer in use.", remedy="Reject the proposal, or take the item up again.")
    if proposal.kind == Proposal.Kind.TRANSFER and proposal.lender_id is not None:
        transfer = approve_transfer(
            by=by,
            from_site=proposal.lender_id,
            to_site=proposal.site_id,
            lines=[Wanted(proposal.item_id, wanted)],
            override_reason=override_reason,
        )
    elif proposal.supplier_id is None:
        raise InvalidValue("The proposal names no supplier.", remedy="Add supplier terms for the item, then run again.")
    else:
        line = add_line(
            by=by,
            site_id=proposal.site_id,
            supplier_id=proposal.supplier_id,
            wanted=line_of(proposal, wanted, timezone.now().date()),
        )
    Proposal.objects.filter(pk=proposal.pk).update(
        state=State.APPROVED,
        quantity=wanted,
        order_line=line,
        transfer=transfer,
        decided_by_id=by.id,
        decided_at=timezone.now(),
        decision_reason="" if wanted == proposal.quantity else f"proposed {plain(proposal.quantity)}",
    )
    return _told("proposal.approved", proposal, by)


def line_of(proposal: Proposal, quantity: Decimal, day: datetime.date) -> LineWanted:
    """The order line that a proposal becomes when it is approved on a day: the lead time it was worked out with counts
    from then on, so that what waited for a decision is not late when it is ordered."""
    expected_on = max(proposal.expected_on, day + (proposal.expected_on - proposal.as_of))
    return LineWanted(proposal.item_id, quantity, expected_on, proposal.price, proposal.currency)


@transaction.atomic(savepoint=False)
def edit_proposal(*, by: Caller, proposal_id: uuid.UUID, expected_version: int, quantity: Decimal) -> Proposal:
    """Propose another quantity; it stands, however the position changes, until somebody decides, unless jobs go short
    or it is no longer needed. Raises `ProposalDecided`, `InvalidValue`."""
    proposal = _locked(by, proposal_id, expected_version)
    _must_be_some(quantity)
    Proposal.objects.filter(pk=proposal.pk).update(quantity=quantity, edited_by_id=by.id)
    return _told("proposal.edited", proposal, by, proposed=proposal.quantity)


@transaction.atomic(savepoint=False)
def reject_proposal(
    *,
    by: Caller,
    proposal_id: uuid.UUID,
    expected_version: int,
    reason: str,
    until: datetime.date | None = None,
) -> Proposal:
    """Reject it; the same is not proposed again before that day (30 days if none is named; common practice, no
    source) unless a job would go short. Raises `ProposalDecided`, `InvalidValue`."""
    proposal = _locked(by, proposal_id, expected_version)
    holds = until or timezone.now().date() + REJECTION_HOLDS
    _must_be_ahead(holds)
    Proposal.objects.filter(pk=proposal.pk).update(
        state=State.REJECTED,
        decided_by_id=by.id,
        decided_at=timezone.now(),
        decision_reason=reason,
        holds_until=holds,
    )
    return _told("proposal.rejected", proposal, by, reason=reason)


@transaction.atomic(savepoint=False)
def snooze_proposal(*, by: Caller, proposal_id: uuid.UUID, expected_version: int, until: datetime.date) -> Proposal:
    """Put it off: it is shown again from that day. Raises `ProposalDecided`, `InvalidValue`."""
    proposal = _locked(by, proposal_id, expected_version)
    _must_be_ahead(until)
    Proposal.objects.filter(pk=proposal.pk).update(state=State.SNOOZED, holds_until=until)
    return _told("proposal.snoozed", proposal, by)


def _must_be_some(quantity: Decimal) -> None:
    if quantity <= 0:
        raise InvalidValue("The quantity must be above zero.", remedy="Give how many.", pointer="#/quantity")


def _must_be_ahead(day: datetime.date) -> None:
    if day <= timezone.now().date():
        raise InvalidValue("The day must lie ahead.", remedy="Give a day after today.", pointer="#/until")


def _locked(by: Caller, proposal_id: uuid.UUID, expected_version: int) -> Proposal:
    proposal_for(by, proposal_id, *BUYERS)
    proposal = Proposal.objects.select_for_update(no_key=True).get(pk=proposal_id)
    if proposal.state not in UNDECIDED:
        raise ProposalDecided(
            f"The proposal is {proposal.state} already.", remedy="Read it again.", state=proposal.state
        )
    if proposal.version != expected_version:
        raise version_changed("The proposal", proposal.version)
    return proposal


def _told(kind: str, proposal: Proposal, by: Caller, **facts: Any) -> Proposal:
    proposal.refresh_from_db()
    tell_proposal(kind, proposal, by, **facts)
    return proposal


def tell_proposal(kind: str, proposal: Proposal, by: Caller | None, **facts: Any) -> None:
    """Record what became of a proposal."""
    record_change(
        kind,
        noun="proposal",
        noun_id=proposal.pk,
        version=proposal.version,
        site_id=proposal.site_id,
        by=by,
        body={"item": proposal.item_id, "quantity": proposal.quantity, "state": proposal.state, **facts},
    )
