"""Reading instruments, at the caller's sites."""

import datetime
import uuid
from collections.abc import Iterable
from typing import Any

from django.db.models import QuerySet

from assets.access import narrow
from jobs.models import Instrument
from services.api.rows import plain_rows
from services.identity.callers import Caller

# What a phone must know of an instrument to judge alone.
USABLE_COLUMNS = (
    "id", "number", "type", "range_from", "range_to", "unit", "resolution", "expanded_uncertainty", "calibration_due",
)  # fmt: skip


def instruments(*, by: Caller) -> QuerySet[Instrument]:
    """Instruments at granted sites."""
    return narrow(Instrument.objects.all(), by)


def at_site(site_id: uuid.UUID, types: Iterable[str]) -> list[dict[str, Any]]:
    """Instruments of these types at a site, the longest in calibration first."""
    return plain_rows(
        Instrument.objects.filter(site_id=site_id, type__in=list(types))
        .order_by("type", "-calibration_due", "number")
        .values("id", "number", "type", "calibration_due")
    )


def usable_at(site_id: uuid.UUID, types: Iterable[str]) -> list[dict[str, Any]]:
    """What a phone must know of a site's instruments of these types to judge alone. One statement."""
    return plain_rows(
        Instrument.objects.filter(site_id=site_id, type__in=sorted(types))
        .order_by("type", "-calibration_due", "number")
        .values(*USABLE_COLUMNS)
    )


def overdue_on(instrument: Instrument, day: datetime.date) -> bool:
    """Whether the calibration has run out on a day."""
    return instrument.calibration_due < day
