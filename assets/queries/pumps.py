"""Reading pumps and their running hours: the path from an outside id to a pump passes the gate here."""

import uuid
from collections.abc import Collection, Iterable, Iterator
from typing import Any

from django.db.models import QuerySet
from django.db.models.fields.json import KT

from assets.access import narrow, require_role
from assets.models import Pump, RunningHours
from services.api.many_rows import Among
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
    rows = pumps_of_files(external_ids).values_list("external_ids__file", "id", "site_id")
    return {str(name): {"id": pk, "site_id": site_id} for name, pk, site_id in rows}


def pumps_of_files(external_ids: Iterable[str]) -> QuerySet[Pump]:
    """Pumps with one of the ids under which files know them; callers check the grant."""
    return Pump.objects.filter(Among(KT("external_ids__file"), list(external_ids)))


Named = tuple[uuid.UUID, uuid.UUID, str, uuid.UUID, str]


def pumps_named(
    site_ids: Collection[uuid.UUID], tags: Collection[str], model_ids: Collection[uuid.UUID], serials: Collection[str]
) -> Iterator[Named]:
    """(id, site, tag, model, serial number) of pumps with one of the tags at one of the sites, or with one of the
    serial numbers of one of the models; whoever asks. Two queries."""
    for kept in (
        Pump.objects.filter(site_id__in=site_ids, tag__among=tags),
        Pump.objects.filter(pump_model_id__in=model_ids, serial_number__among=serials),
    ):
        yield from kept.values_list("id", "site_id", "tag", "pump_model_id", "serial_number")


def running_hours(*, by: Caller) -> QuerySet[RunningHours]:
    """Hour readings of pumps at granted sites."""
    return narrow(RunningHours.objects.all(), by, path="pump__site_id")
