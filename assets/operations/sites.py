"""Sites and their bins."""

import uuid
import zoneinfo
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db import transaction

from assets.access import require_operator_wide, require_role
from assets.models import Bin, Site
from services.api.refusals import InvalidValue, NotThere
from services.api.versions import version_changed
from services.changes.recording import record_change
from services.identity.callers import Caller

SITE_KEEPERS = ("admin", "integrator")


def check_time_zone(name: str) -> None:
    """Raises `InvalidValue` where there is no such time zone."""
    if name not in zoneinfo.available_timezones():
        raise InvalidValue(f"{name!r} is no time zone.", remedy="Write one like Europe/Oslo.", pointer="#/time_zone")


def check_place(latitude: Decimal | None, longitude: Decimal | None) -> None:
    """Raises `InvalidValue` where only one of the two is known."""
    if (latitude is None) != (longitude is None):
        missing = "latitude" if latitude is None else "longitude"
        raise InvalidValue(
            f"A place has two figures; {missing} is missing.", remedy="Give both or neither.", pointer=f"#/{missing}"
        )


@transaction.atomic(savepoint=False)
def register_site(
    *,
    by: Caller,
    code: str,
    name: str,
    time_zone: str,
    is_central_store: bool = False,
    latitude: Decimal | None = None,
    longitude: Decimal | None = None,
    site_id: uuid.UUID | None = None,
) -> Site:
    """A new site with a default bin, by somebody responsible for the whole operator."""
    require_operator_wide(by, *SITE_KEEPERS)
    check_time_zone(time_zone)
    check_place(latitude, longitude)
    site = Site.objects.create(
        code=code,
        name=name,
        time_zone=time_zone,
        is_central_store=is_central_store,
        latitude=latitude,
        longitude=longitude,
        **({"id": site_id} if site_id else {}),
    )
    home = Bin.objects.create(site=site, code="MAIN", is_default=True)
    by.memo.pop("grants", None)
    _tell_site("site.registered", site, by)
    _tell_bin("bin.registered", home, by)
    return site


@transaction.atomic(savepoint=False)
def change_site(*, by: Caller, site_id: uuid.UUID, expected_version: int, **changes: Any) -> Site:
    """Change name, time zone or rank. Raises `VersionChanged`, `InvalidValue`."""
    require_role(by, site_id, *SITE_KEEPERS, what="The site")
    if "time_zone" in changes:
        check_time_zone(changes["time_zone"])
    if {"latitude", "longitude"} & set(changes):
        _check_place_of(site_id, changes)
    done = Site.objects.filter(pk=site_id, version=expected_version).update(**changes) if changes else 1
    site = Site.objects.get(pk=site_id)
    if not done:
        raise version_changed("The site", site.version)
    _tell_site("site.changed", site, by)
    return site


def _check_place_of(site_id: uuid.UUID, changes: Mapping[str, Any]) -> None:
    kept = Site.objects.get(pk=site_id)
    check_place(changes.get("latitude", kept.latitude), changes.get("longitude", kept.longitude))


@transaction.atomic(savepoint=False)
def register_bin(
    *,
    by: Caller,
    site_id: uuid.UUID,
    code: str,
    name: str = "",
    is_default: bool = False,
    bin_id: uuid.UUID | None = None,
) -> Bin:
    """A new bin; the first one, or one said to be, is the site's default."""
    require_role(by, site_id, "stores", *SITE_KEEPERS, what="The site")
    first = not Bin.objects.filter(site_id=site_id, is_default=True).exists()
    if is_default and not first:
        Bin.objects.filter(site_id=site_id, is_default=True).update(is_default=False)
    given = {"id": bin_id} if bin_id else {}
    made = Bin.objects.create(site_id=site_id, code=code, name=name, is_default=is_default or first, **given)
    _tell_bin("bin.registered", made, by)
    return made


@transaction.atomic(savepoint=False)
def change_bin(*, by: Caller, bin_id: uuid.UUID, expected_version: int, **changes: Any) -> Bin:
    """Rename a bin, or make it the default one. Raises `NotThere`, `VersionChanged`, `InvalidValue`."""
    kept = Bin.objects.filter(pk=bin_id).first()
    if kept is None:
        raise NotThere("The bin is not here.", remedy="Check the id.")
    require_role(by, kept.site_id, "stores", *SITE_KEEPERS, what="The bin")
    if changes.get("is_default") is False and kept.is_default:
        raise InvalidValue(
            "A site needs a default bin.", remedy="Make another bin the default one.", pointer="#/is_default"
        )
    if changes.get("is_default") and not kept.is_default:
        Bin.objects.filter(site_id=kept.site_id, is_default=True).update(is_default=False)
    done = Bin.objects.filter(pk=bin_id, version=expected_version).update(**changes) if changes else 1
    kept.refresh_from_db()
    if not done:
        raise version_changed("The bin", kept.version)
    _tell_bin("bin.changed", kept, by)
    return kept


def _tell_site(kind: str, site: Site, by: Caller) -> None:
    record_change(
        kind,
        noun="site",
        noun_id=site.pk,
        version=site.version,
        site_id=site.pk,
        by=by,
        body={"code": site.code, "name": site.name, "time_zone": site.time_zone},
    )


def _tell_bin(kind: str, one: Bin, by: Caller) -> None:
    record_change(
        kind,
        noun="bin",
        noun_id=one.pk,
        version=one.version,
        site_id=one.site_id,
        by=by,
        body={"code": one.code, "is_default": one.is_default},
    )
