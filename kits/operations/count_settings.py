"""How often a site counts, and what was found missing between counts."""

import datetime
import uuid
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from assets.access import require_role
from kits.models import CountSettings, Lot, StockDiscrepancy
from kits.queries.counts import COUNTERS
from kits.queries.items import item_for
from services.api.refusals import InvalidValue
from services.api.versions import version_changed
from services.changes.recording import record_change
from services.identity.callers import Caller

# Not stores: who counts and posts does not also choose when a second person is needed (common practice, no source).
CHOOSERS = ("supervisor", "admin")


@transaction.atomic(savepoint=False)
def change_count_settings(
    *, by: Caller, site_id: uuid.UUID, expected_version: int, changes: Mapping[str, Any]
) -> CountSettings:
    """Change how often the classes are counted, or the limit. Raises `VersionChanged`, `NotAllowed`, `NotThere`."""
    require_role(by, site_id, *CHOOSERS, what="The site")
    CountSettings.objects.bulk_create([CountSettings(site_id=site_id)], ignore_conflicts=True)
    settings = CountSettings.objects.select_for_update(no_key=True).get(site_id=site_id)
    if settings.version != expected_version:
        raise version_changed("How the site counts", settings.version)
    CountSettings.objects.filter(pk=settings.pk).update(**changes)
    settings.refresh_from_db()
    record_change(
        "count-settings.changed",
        noun="count-settings",
        noun_id=settings.pk,
        version=settings.version,
        site_id=site_id,
        by=by,
        body={
            "a_times_a_year": settings.a_times_a_year,
            "b_times_a_year": settings.b_times_a_year,
            "c_times_a_year": settings.c_times_a_year,
            "value_limit": settings.value_limit,
            "currency": settings.currency,
        },
    )
    return settings


@transaction.atomic(savepoint=False)
def report_discrepancy(
    *,
    by: Caller,
    site_id: uuid.UUID,
    item_id: uuid.UUID,
    quantity: Decimal,
    reason: str,
    lot: str = "",
    occurred_at: datetime.datetime | None = None,
) -> StockDiscrepancy:
    """Somebody found less than the book says. Nothing is posted; the item is to be counted at once.

    Raises `InvalidValue`, `NotAllowed`, `NotThere`.
    """
    require_role(by, site_id, *COUNTERS, what="The site")
    item = item_for(item_id)
    if quantity <= 0:
        raise InvalidValue("The quantity must be above zero.", remedy="Give what was missing.", pointer="#/quantity")
    now = timezone.now()
    if occurred_at is not None and occurred_at > now:
        raise InvalidValue("That lies in the future.", remedy="Give when it was seen.", pointer="#/occurred_at")
    known = Lot.objects.filter(item_id=item.pk, number=lot).first() if lot else None
    if lot and known is None:
        raise InvalidValue(
            f"The item has no lot {lot}.", remedy="Leave the lot out if it is not known.", pointer="#/lot"
        )
    return open_discrepancy(
        by=by, site_id=site_id, item_id=item.pk, lot_id=known.pk if known else None, quantity=quantity,
        occurred_at=occurred_at or now, reason=reason,
    )  # fmt: skip


def open_discrepancy(
    *,
    by: Caller,
    site_id: uuid.UUID,
    item_id: uuid.UUID,
    lot_id: uuid.UUID | None,
    quantity: Decimal,
    occurred_at: datetime.datetime,
    reason: str,
) -> StockDiscrepancy:
    """Keep that so much was not there; callers have passed the gate and hold a transaction."""
    made = StockDiscrepancy.objects.create(
        site_id=site_id,
        item_id=item_id,
        lot_id=lot_id,
        quantity=quantity,
        occurred_at=occurred_at,
        reason=reason,
        by_id=by.id,
    )
    record_change(
        "discrepancy.reported",
        noun="discrepancy",
        noun_id=made.pk,
        version=made.version,
        site_id=site_id,
        by=by,
        body={"item": item_id, "quantity": quantity, "reason": reason},
    )
    return made
