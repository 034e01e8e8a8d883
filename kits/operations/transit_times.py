"""How long goods take from site to site. The data owner keeps it."""

import uuid
from typing import Any

from assets.access import require_operator_wide
from assets.operations.table_rows import OWNERS, Table, add_row, change_row, remove_row
from assets.queries.sites import site_codes
from kits.models import TransitTime
from services.api.refusals import InvalidValue
from services.identity.callers import Caller

TIMES = Table(
    TransitTime,
    "transit-time",
    "The transit time",
    lambda one: {
        "from_site": one.from_site_id,
        "to_site": one.to_site_id,
        "days": one.days,
        "cost": one.cost,
        "currency": one.currency,
    },
)


def add_transit_time(
    *, by: Caller, row_id: uuid.UUID | None = None, from_site: uuid.UUID, to_site: uuid.UUID, **figures: Any
) -> TransitTime:
    """Days and cost from one site to another, one way. Raises `NotAllowed`, `AlreadyThere`, `InvalidValue`."""
    require_operator_wide(by, *OWNERS)
    known = site_codes()
    for name, site in (("from_site", from_site), ("to_site", to_site)):
        if site not in known:
            raise InvalidValue("There is no such site.", remedy="GET /sites lists them.", pointer=f"#/{name}")
    if from_site == to_site:
        raise InvalidValue("Both are the same site.", remedy="Name two sites.", pointer="#/to_site")
    return add_row(TIMES, by=by, row_id=row_id, from_site_id=from_site, to_site_id=to_site, **figures)


def change_transit_time(*, by: Caller, row_id: uuid.UUID, expected_version: int, **figures: Any) -> TransitTime:
    """Other days or another cost; transfers agreed on keep theirs. Raises `NotAllowed`, `NotThere`,
    `VersionChanged`."""
    return change_row(TIMES, by=by, row_id=row_id, expected_version=expected_version, **figures)


def remove_transit_time(*, by: Caller, row_id: uuid.UUID, expected_version: int) -> TransitTime:
    """No transfer is promised between the two from now on. Raises `NotAllowed`, `NotThere`, `VersionChanged`."""
    return remove_row(TIMES, by=by, row_id=row_id, expected_version=expected_version)
