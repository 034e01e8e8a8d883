"""Reading proposals."""

import datetime
from typing import Any

from django.db.models import BooleanField, ExpressionWrapper, Q, QuerySet

from assets.access import narrow, require_role
from kits.models import Proposal, ReplenishmentLevel
from services.api.models import as_uuid
from services.api.refusals import NotThere
from services.identity.callers import Caller


def proposals(*, by: Caller) -> QuerySet[Proposal]:
    """Proposals for granted sites; ``automatic`` where nobody but replenishment itself approved."""
    by_itself = ExpressionWrapper(Q(state="approved", decided_by=None), output_field=BooleanField())
    return narrow(Proposal.objects.annotate(automatic=by_itself), by)


def levels(*, by: Caller) -> QuerySet[ReplenishmentLevel]:
    """Levels of granted sites."""
    return narrow(ReplenishmentLevel.objects.all(), by)


def waiting(*, by: Caller, on: datetime.date) -> QuerySet[Proposal]:
    """Proposals that want a decision on a day: open, or put off until that day or before."""
    return proposals(by=by).filter(Q(state="open") | Q(state="snoozed", holds_until__lte=on))


def proposal_for(by: Caller, proposal_id: Any, *roles: str) -> Proposal:
    """One proposal, where the caller has one of the roles at its site. Raises `NotThere`, `NotAllowed`."""
    proposal = proposals(by=by).filter(pk=as_uuid(proposal_id)).first()
    if proposal is None:
        raise NotThere("The proposal is not here.", remedy="Check the id, or ask for a role at its site.")
    if roles:
        require_role(by, proposal.site_id, *roles, what="The proposal")
    return proposal
