"""Cancelling background work."""

import uuid

from django.db import transaction
from django.utils import timezone

from services.api.refusals import NotThere, WrongState
from services.identity.callers import Caller
from services.work.models import BackgroundRun


@transaction.atomic(savepoint=False)
def cancel_run(*, by: Caller, run_id: uuid.UUID) -> None:
    """Cancel work that the caller asked for. What a worker is doing at this moment is undone when it ends.

    Raises `NotThere`, `WrongState` where it has ended.
    """
    if not BackgroundRun.objects.filter(pk=run_id, requested_by_id=by.id).exists():
        raise NotThere("The run is not here.", remedy="Check the id; you see the work you asked for.")
    done = BackgroundRun.objects.filter(pk=run_id, state__in=["queued", "running"]).update(
        state="cancelled", ended_at=timezone.now(), lease_until=None
    )
    if not done:
        raise WrongState("The run has ended.", remedy="Read its result.")
