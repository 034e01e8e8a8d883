"""Work of kits that a worker does: thin, harmless when repeated, found by the sweep when a kick is lost."""

import uuid
from collections.abc import Mapping
from typing import Any

from celery import shared_task

from kits.operations.automatic_approval import approve_within_limits
from kits.operations.fit import MARKS_AT_ONCE, compute_marked
from kits.operations.late_orders import ask_nightly_review, tell_late_orders
from kits.operations.lead_times import ask_nightly_learning, learn_all
from kits.operations.lot_exchange import ask_nightly_exchange, exchange_lots
from kits.operations.replenishment import ask_nightly, replenish_site
from services.identity.callers import Caller
from services.work.claiming import take_up
from services.work.models import BackgroundRun


@shared_task
def run_replenishment(run_id: str) -> None:
    """Propose what a site should order, and approve what may be approved automatically."""
    take_up(run_id, _replenish)


def _replenish(by: Caller | None, run: BackgroundRun) -> Mapping[str, Any]:
    site_id = uuid.UUID(str(run.site_id))
    return {**replenish_site(by=by, site_id=site_id), **approve_within_limits(site_id)}


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
def run_lead_time_learning(run_id: str) -> None:
    """Learn how long suppliers take."""
    take_up(run_id, lambda by, run: learn_all(by=by))


@shared_task
def plan_nightly_lead_time_learning() -> None:
    """Ask for one run a day."""
    ask_nightly_learning()


@shared_task
def run_late_order_review(run_id: str) -> None:
    """Tell of orders of a site that are late."""
    take_up(run_id, _review_late_orders)


def _review_late_orders(by: Caller | None, run: BackgroundRun) -> Mapping[str, Any]:
    return tell_late_orders(by=by, site_id=uuid.UUID(str(run.site_id)))


@shared_task
def plan_nightly_late_order_review() -> None:
    """Ask for one run a site and night, once the site's own night has begun."""
    ask_nightly_review()


@shared_task
def compute_fits() -> None:
    """Compute the fits of what changed since the last time: of many marks at once, since one look at the whole
    catalogue costs less than many at parts of it."""
    while compute_marked(limit=MARKS_AT_ONCE):
        continue
