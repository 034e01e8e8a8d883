"""Work that is done a site at a time: asked for by a person, or by the clock once a site and night."""

import datetime
import uuid
import zoneinfo

from django.db import transaction
from django.utils import timezone

from assets.access import require_role
from assets.queries.sites import site_clocks
from services.api.refusals import WrongState
from services.identity.callers import Caller
from services.work.recording import record_run

ASKERS = ("stores", "planner", "integrator", "admin")


@transaction.atomic(savepoint=False)
def request_site_run(task: str, *, by: Caller, site_id: uuid.UUID) -> uuid.UUID:
    """Ask for work on a site; a worker does it. Raises `NotThere`, `NotAllowed`, `WrongState` where it is asked for."""
    require_role(by, site_id, *ASKERS, what="The site")
    run = record_run(task, by=by, site_id=site_id)
    if run is None:
        raise WrongState("The run is asked for already.", remedy="Wait for it.")
    return run


@transaction.atomic(savepoint=False)
def ask_every_site(
    task: str, *, word: str, begins: datetime.time, now: datetime.datetime | None = None
) -> list[uuid.UUID]:
    """Ask for one run a site and day, once it is past ``begins`` there; which runs are new. ``word`` names the work
    among others of the same day."""
    moment = now or timezone.now()
    asked = []
    for site_id, code, zone in site_clocks():
        local = moment.astimezone(zoneinfo.ZoneInfo(zone))
        if local.time() < begins:
            continue
        run = record_run(task, by=None, site_id=site_id, slot=f"{word} {code} {local.date()}")
        if run is not None:
            asked.append(run)
    return asked
