"""Reading pumps and their running hours: the path from an outside id to a pump passes the gate here."""

import datetime
import uuid
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet

from assets.access import narrow, require_role
from assets.models import Pump, RunningHours
from services.api.models import as_uuid
from services.api.refusals import NotThere
from services.identity.callers import Caller


def pumps(*, by: Caller) -> QuerySet[Pump]:
    """Pumps at granted sites."""
    return narrow(Pump.objects.all(), by)


def pump_for(by: Caller, pump_id: Any, *roles: str) -> Pump:
    """One pump with its model, site and fluid, if the caller has one of the roles at its site (any if none is named).

    Raises `NotThere`, `NotAllowed`.
    """
    found = (
        narrow(Pump.objects.select_related("pump_model", "site", "fluid__family", "build_class"), by)
        .filter(pk=as_uuid(pump_id))
        .first()
    )
    if found is None:
        raise NotThere("The pump is not here.", remedy="Check the id, or ask for a role at its site.")
    if roles:
        require_role(by, found.site_id, *roles, what="The pump")
    return found


def pumps_by_external_id(external_ids: Iterable[str]) -> dict[str, dict[str, uuid.UUID]]:
    """Pumps by the id under which files know them: id and site. One query; callers check the grant."""
    wanted = list(external_ids)
    rows = Pump.objects.filter(external_ids__file__in=wanted).values_list("external_ids__file", "id", "site_id")
    return {str(name): {"id": pk, "site_id": site_id} for name, pk, site_id in rows}


def running_hours(*, by: Caller) -> QuerySet[RunningHours]:
    """Hour readings of pumps at granted sites."""
    return narrow(RunningHours.objects.all(), by, path="pump__site_id")


def latest_hours(pump_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, tuple[datetime.datetime, Decimal]]:
    """The last reading of each pump: when and how many hours. One query."""
    rows = (
        RunningHours.objects.filter(pump_id__in=list(pump_ids))
        .order_by("pump_id", "-read_at")
        .distinct("pump_id")
        .values_list("pump_id", "read_at", "hours")
    )
    return {pump: (read_at, hours) for pump, read_at, hours in rows}
