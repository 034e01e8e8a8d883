"""Cancelling background work."""

import uuid

from django.db import transaction
from django.utils import timezone

from services.api.refusals import NotThere, WrongState
from services.identity.callers import Caller
from services.work.models import BackgroundRun

NOTHING_LEFT = "Nothing of this work stays: what was done of it is undone."


@transaction.atomic(savepoint=False)
def cancel_run(*, by: Caller, run_id: uuid.UUID) -> None:
    """Cancel work that the caller asked for. A worker that is at it stops at its next report of progress, at the
    latest when it would end; its effect and its end are one transaction, so nothing of it stays.

    Raises `NotThere`, `WrongState` where it has ended.
    """
    if not BackgroundRun.objects.filter(pk=run_id, requested_by_id=by.id).exists():
        raise NotThere("The run is not here.", remedy="Check the id; you see the work you asked for.")
    done = BackgroundRun.objects.filter(pk=run_id, state__in=["queued", "running"]).update(
        state="cancelled", ended_at=timezone.now(), lease_until=None, result={"left": NOTHING_LEFT}
    )
    if not done:
        raise WrongState("The run has ended.", remedy="Read its result.")
