"""Working out which kits the pumps of a site are expected to need: asked for by a person or by the clock."""

import datetime
import uuid
from typing import Any

from django.db import transaction
from django.utils import timezone

from assets.operations.site_runs import ask_every_site, request_site_run
from jobs.queries.overhaul_forecasts import expectations
from kits.operations.expected_overhauls import replace_expected_overhauls
from services.identity.callers import Caller

TASK = "jobs.tasks.run_overhaul_forecast"
# An hour before replenishment, which reads what comes of it.
NIGHT_BEGINS = datetime.time(1, 0)


def request_forecast(*, by: Caller, site_id: uuid.UUID) -> uuid.UUID:
    """Ask for a site's forecast; a worker does it. Raises `NotThere`, `NotAllowed`."""
    return request_site_run(TASK, by=by, site_id=site_id)


def ask_nightly(*, now: datetime.datetime | None = None) -> list[uuid.UUID]:
    """Ask for one run a site and day, once it is past one in the morning there; which runs are new."""
    return ask_every_site(TASK, word="overhaul forecast", begins=NIGHT_BEGINS, now=now)


@transaction.atomic(savepoint=False)
def forecast_overhauls(*, by: Caller | None, site_id: uuid.UUID, as_of: datetime.date | None = None) -> dict[str, Any]:
    """Work out the site's expected overhauls and put them in place of the last; how many items and months, and whether
    anything is different. A second run with nothing changed changes nothing."""
    day = as_of or timezone.now().date()
    rows = expectations(site_id, day)
    changed = replace_expected_overhauls(by=by, site_id=site_id, rows=rows)
    return {"items": len({one.item_id for one in rows}), "rows": len(rows), "changed": changed}
