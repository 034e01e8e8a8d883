"""Sites, bins, makers and fluids handed in as rows of files."""

import zoneinfo
from collections.abc import Sequence
from decimal import Decimal
from functools import partial

from django.db import transaction

from assets.access import has_role, require_operator_wide
from assets.models import Bin, Fluid, FluidFamily, Maker, Site
from assets.operations.pump_models import OWNERS
from assets.operations.sites import SITE_KEEPERS
from assets.queries.sites import site_ids_by_code
from services.api.loading import LoadRow, RowOutcome
from services.api.many_rows import insert_many
from services.api.sorting_rows import SortedRows
from services.changes.recording import Recorded, record_changes
from services.changes.sorted_rows import write_sorted
from services.identity.callers import Caller


@transaction.atomic(savepoint=False)
def load_sites(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Sites keyed by code; each new one has a default bin MAIN until another is made the default."""
    require_operator_wide(by, *SITE_KEEPERS)
    zones = zoneinfo.available_timezones()
    found = SortedRows({one.code: one for one in Site.objects.filter(code__among=[row.values["code"] for row in rows])})
    outcomes = []
    for row in rows:
        key = str(row.values["code"])
        if row.values["time_zone"] not in zones:
            outcomes.append(
                RowOutcome.refused(row, key, "time_zone", "There is no such time zone.", "Write one like Europe/Oslo.")
            )
            continue
        figures = {
            "name": row.values["name"],
            "time_zone": row.values["time_zone"],
            "is_central_store": bool(row.values.get("central_store")),
        }
        wrong = _place_wrong(row)
        if wrong:
            outcomes.append(RowOutcome.refused(row, key, *wrong))
            continue
        figures |= {name: value.quantize(Decimal("0.00001")) for name, value in _place(row).items()}
        outcomes.append(found.take(row, key, key, figures, partial(Site, code=key, **figures)))
    write_sorted(
        found,
        ["name", "time_zone", "is_central_store", "latitude", "longitude"],
        by=by,
        noun="site",
        told=lambda one: {"code": one.code, "name": one.name},
        site_of=lambda one: one.pk,
    )
    insert_many([Bin(site=one, code="MAIN", is_default=True) for one in found.fresh])
    by.memo.pop("grants", None)
    return outcomes


FURTHEST_DEGREES = {"latitude": 90, "longitude": 180}


def _place(row: LoadRow) -> dict[str, Decimal]:
    """Where a site lies; empty where the row does not say, which leaves what is known."""
    return {name: row.values[name] for name in FURTHEST_DEGREES if row.values.get(name) is not None}


def _place_wrong(row: LoadRow) -> tuple[str, str, str] | None:
    given = _place(row)
    for name, most in FURTHEST_DEGREES.items():
        if len(given) == 1 and name not in given:
            return name, f"A place has two figures; {name} is missing.", "Give both or neither."
        if abs(given.get(name, Decimal(0))) > most:
            return name, f"It lies beyond {most} degrees.", f"Give degrees from -{most} to {most}."
    return None


@transaction.atomic(savepoint=False)
def load_bins(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Bins keyed by site and code. One bin a site is the default: the one that says so, else the first."""
    sites = site_ids_by_code({str(row.values["site"]) for row in rows})
    known = {(one.site_id, one.code): one for one in Bin.objects.filter(site_id__in=sites.values())}
    homes = {one.site_id: one for one in known.values() if one.is_default}
    outcomes, fresh, renamed, dethroned = [], [], [], []
    for row in rows:
        key = f"{row.values['site']} {row.values['code']}"
        site_id = sites.get(str(row.values["site"]))
        if site_id is None or not has_role(by, site_id, "stores", *SITE_KEEPERS):
            outcomes.append(
                RowOutcome.refused(row, key, "site", "No such site is granted to you.", "Check the site's code.")
            )
            continue
        wanted, name = bool(row.values.get("default")), str(row.values.get("name") or "")
        old = known.get((site_id, str(row.values["code"])))
        if old is None:
            old = Bin(site_id=site_id, code=str(row.values["code"]), name=name)
            known[site_id, old.code] = old
            fresh.append(old)
            outcome = "created"
        else:
            outcome = "changed" if old.name != name or (wanted and not old.is_default) else "unchanged"
            if outcome == "changed":
                old.name = name
                renamed.append(old)
        home = homes.get(site_id)
        if (wanted or home is None) and home is not old:
            if home is not None:
                home.is_default = False
                dethroned.append(home)
            old.is_default = True
            homes[site_id] = old
        outcomes.append(RowOutcome(row.number, key, outcome))  # type: ignore[arg-type]
    Bin.objects.bulk_update([one for one in dethroned if one not in fresh], ["is_default"])
    Bin.objects.bulk_create(fresh)
    Bin.objects.bulk_update(renamed, ["name", "is_default"])
    record_changes(
        [
            Recorded(kind, "bin", one.pk, one.version, one.site_id, {"code": one.code, "is_default": one.is_default})
            for kind, some in (("bin.registered", fresh), ("bin.changed", renamed))
            for one in some
        ],
        by=by,
    )
    return outcomes


@transaction.atomic(savepoint=False)
def load_makers(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Makers keyed by code."""
    require_operator_wide(by, *OWNERS)
    found = SortedRows(
        {one.code: one for one in Maker.objects.filter(code__among=[row.values["code"] for row in rows])}
    )
    outcomes = []
    for row in rows:
        key, figures = str(row.values["code"]), {"name": str(row.values["name"])}
        outcomes.append(found.take(row, key, key, figures, partial(Maker, code=key, **figures)))
    write_sorted(found, ["name"], by=by, noun="maker", told=lambda one: {"code": one.code, "name": one.name})
    return outcomes


@transaction.atomic(savepoint=False)
def load_fluids(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Fluids keyed by code, each in a family of the material tables."""
    require_operator_wide(by, *OWNERS)
    families = dict(FluidFamily.objects.values_list("code", "id"))
    found = SortedRows(
        {one.code: one for one in Fluid.objects.filter(code__among=[row.values["code"] for row in rows])}
    )
    outcomes = []
    for row in rows:
        key = str(row.values["code"])
        family_id = families.get(str(row.values["family"]))
        if family_id is None:
            outcomes.append(
                RowOutcome.refused(
                    row, key, "family", "No such fluid family.", f"Known: {', '.join(sorted(families))}."
                )
            )
            continue
        figures = {
            "name": row.values["name"],
            "family_id": family_id,
            "hazard": str(row.values.get("hazard") or ""),
        }
        outcomes.append(found.take(row, key, key, figures, partial(Fluid, code=key, **figures)))
    write_sorted(found, ["name", "family", "hazard"], by=by, noun="fluid", told=lambda one: {"code": one.code})
    return outcomes
