"""Work of kits that a worker does: thin, harmless when repeated, found by the sweep when a kick is lost."""

import uuid
from collections.abc import Mapping
from typing import Any

from celery import shared_task

from kits.operations.fit import MARKS_AT_ONCE, compute_marked
from kits.operations.lot_exchange import ask_nightly_exchange, exchange_lots
from kits.operations.replenishment import ask_nightly, replenish_site
from services.identity.callers import Caller
from services.work.claiming import take_up
from services.work.models import BackgroundRun


@shared_task
def run_replenishment(run_id: str) -> None:
    """Propose what a site should order."""
    take_up(run_id, _replenish)


def _replenish(by: Caller | None, run: BackgroundRun) -> Mapping[str, Any]:
    return replenish_site(by=by, site_id=uuid.UUID(str(run.site_id)))


@shared_task
def plan_nightly_replenishment() -> None:
    """Ask for one run a site and night, once the site's own night has begun."""
    ask_nightly()


@shared_task
def run_lot_exchange(run_id: str) -> None:
    """Go over the reserved lots of a site."""
    take_up(run_id, _exchange)


def _exchange(by: Caller | None, run: BackgroundRun) -> Mapping[str, Any]:
    return exchange_lots(by=by, site_id=uuid.UUID(str(run.site_id)))


@shared_task
def plan_nightly_lot_exchange() -> None:
    """Ask for one run a site and night, once the site's own night has begun."""
    ask_nightly_exchange()


@shared_task
def compute_fits() -> None:
    """Compute the fits of what changed since the last time: of many marks at once, since one look at the whole
    catalogue costs less than many at parts of it."""
    while compute_marked(limit=MARKS_AT_ONCE):
        continue
