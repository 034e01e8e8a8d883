"""Approving by itself what is cheap and warns of nothing, where an administrator set a limit for that."""

import datetime
import uuid

from django.db import transaction
from django.utils import timezone

from kits.calculations.approval import AUTOMATIC, needs_a_person
from kits.models import Proposal
from kits.operations.orders import add_line
from kits.operations.proposals import line_of, tell_proposal
from kits.queries.approval_limits import limits
from kits.refusals import OverApprovalLimit

REASON = "within the automatic limit"


@transaction.atomic(savepoint=False)
def approve_within_limits(site_id: uuid.UUID, as_of: datetime.date | None = None) -> dict[str, int]:
    """Approve open proposals of a site, as long as each order stays within the automatic limit and no warning is set;
    how many were approved and how many are left for people. Off while no such limit is set.

    ``as_of`` is the day of the run: a proposal that was made on a later one is left, and so is one whose quantity
    somebody set, to decide later, or that has no price. A proposal is approved once, whoever tries at the same time.
    """
    day = as_of or timezone.now().date()
    if not any(one.role == AUTOMATIC for one in limits()):
        return {"approved_automatically": 0, "left_for_people": 0}
    found = list(
        Proposal.objects.select_for_update(no_key=True)
        .filter(site_id=site_id, state=Proposal.State.OPEN, as_of__lte=day)
        .order_by("id")
    )
    approved = 0
    # Supplier by supplier, so that two runs come to the suppliers' orders in one order.
    for proposal in sorted(found, key=lambda one: (str(one.supplier_id), one.pk)):
        if _needs_nobody(proposal) and _approve(proposal, day):
            approved += 1
    return {"approved_automatically": approved, "left_for_people": len(found) - approved}


def _needs_nobody(proposal: Proposal) -> bool:
    bought = proposal.kind == Proposal.Kind.BUY and proposal.price > 0
    return bought and proposal.edited_by_id is None and not needs_a_person(proposal.working)


def _approve(proposal: Proposal, day: datetime.date) -> bool:
    if proposal.supplier_id is None:
        return False
    wanted = line_of(proposal, proposal.quantity, day)
    try:
        line = add_line(by=None, site_id=proposal.site_id, supplier_id=proposal.supplier_id, wanted=wanted)
    except OverApprovalLimit:
        return False
    Proposal.objects.filter(pk=proposal.pk).update(
        state=Proposal.State.APPROVED,
        order_line=line,
        decided_by=None,
        decided_at=timezone.now(),
        decision_reason=REASON,
    )
    proposal.refresh_from_db()
    tell_proposal("proposal.approved", proposal, None, automatic=True)
    return True
