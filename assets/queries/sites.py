"""Reading sites, bins and grants."""

import uuid
from collections.abc import Iterable
from typing import Any

from django.db.models import QuerySet

from assets.access import narrow, require_role
from assets.calculations.distances import great_circle_km
from assets.models import Bin, Grant, Site
from services.api.models import as_uuid
from services.api.refusals import NotThere
from services.api.rows import plain_rows
from services.identity.callers import Caller


def sites(*, by: Caller) -> QuerySet[Site]:
    """Sites granted to the caller."""
    return narrow(Site.objects.all(), by, path="id")


def granted_sites(by: Caller) -> list[dict[str, Any]]:
    """Id, code and name of the caller's sites, by name. One query beside the grants."""
    return plain_rows(sites(by=by).order_by("name", "code").values("id", "code", "name"))


def site_for(by: Caller, site_id: Any, *roles: str) -> Site:
    """One site, where the caller has one of the roles there. Raises `NotThere`, `NotAllowed`."""
    found = sites(by=by).filter(pk=as_uuid(site_id)).first()
    if found is None:
        raise NotThere("The site is not here.", remedy="Check the id, or ask for a role there.")
    if roles:
        require_role(by, found.pk, *roles, what="The site")
    return found


def site_ids_by_code(codes: Iterable[str]) -> dict[str, uuid.UUID]:
    """Ids by code, whoever asks; callers check the grant. One query."""
    return dict(Site.objects.filter(code__in=list(codes)).values_list("code", "id"))


def bins(*, by: Caller) -> QuerySet[Bin]:
    """Bins of granted sites."""
    return narrow(Bin.objects.all(), by)


def default_bins(site_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, uuid.UUID]:
    """The default bin of each site. One query."""
    return dict(Bin.objects.filter(site_id__in=list(site_ids), is_default=True).values_list("site_id", "id"))


def bins_by_code(site_ids: Iterable[uuid.UUID]) -> dict[tuple[uuid.UUID, str], uuid.UUID]:
    """Ids of the sites' bins by site and code. One query."""
    rows = Bin.objects.filter(site_id__in=list(site_ids)).values_list("site_id", "code", "id")
    return {(site, code): pk for site, code, pk in rows}


def bin_codes(site_id: uuid.UUID) -> list[str]:
    """Codes of a site's bins, in their order. One query."""
    return list(Bin.objects.filter(site_id=site_id).order_by("code").values_list("code", flat=True))


def bin_at(site_id: uuid.UUID, code: str) -> uuid.UUID | None:
    """A site's bin by its code."""
    return Bin.objects.filter(site_id=site_id, code=code).values_list("id", flat=True).first()


def grants(*, by: Caller) -> QuerySet[Grant]:
    """Grants at sites where the caller is an administrator; operator-wide ones for who is one everywhere."""
    return narrow(Grant.objects.all(), by, "admin")


def site_clocks() -> list[tuple[uuid.UUID, str, str]]:
    """(id, code, time zone) of every site, for work that the clock asks for."""
    return list(Site.objects.order_by("code").values_list("id", "code", "time_zone"))


def distances_from(site_id: uuid.UUID | None) -> dict[uuid.UUID, float]:
    """Kilometres over the sphere from a site to every other whose place is known; none where its own is not. One
    query."""
    places = {
        pk: (north, east)
        for pk, north, east in Site.objects.values_list("id", "latitude", "longitude")
        if north is not None and east is not None
    }
    here = places.pop(site_id, None) if site_id else None
    if here is None:
        return {}
    return {pk: round(great_circle_km(here, place), 1) for pk, place in places.items()}


def site_codes() -> dict[uuid.UUID, str]:
    """Codes of all sites by id, to name the sites of the caller's own grants."""
    return dict(Site.objects.values_list("id", "code"))
