"""Pumps and their hour readings handed in as rows of files."""

import uuid
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.db import transaction

from assets.access import has_role
from assets.calculations.running_hours import HoursRefused, check_reading
from assets.calculations.serial_ranges import normalise_serial
from assets.models import Criticality, Fluid, Pump, PumpState, RunningHours
from assets.operations.build_classes import place_pumps
from assets.operations.pumps import KEEPERS
from assets.operations.running_hours import READERS
from assets.queries.build_classes import as_built
from assets.queries.pump_models import pump_models_by_code
from assets.queries.pumps import pumps_by_external_id
from assets.queries.sites import site_ids_by_code
from services.api.loading import LoadRow, RowNote, RowOutcome
from services.api.refusals import InvalidValue
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller

FIGURES = (
    "tag", "site_id", "pump_model_id", "serial_number", "variant", "fluid_id", "temperature_min_c",
    "temperature_max_c", "criticality", "state", "installed_on",
)  # fmt: skip
COLUMNS = {"elastomer": "elastomer", "seal_faces": "seal_faces", "impeller_diameter_mm": "impeller_diameter_mm"}


@transaction.atomic(savepoint=False)
def load_pumps(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Pumps keyed by external id; each finds its build class. A fixed number of queries for any number of rows."""
    sites = site_ids_by_code({str(row.values["site"]) for row in rows})
    models = pump_models_by_code({str(row.values["model"]) for row in rows})
    fluids = dict(Fluid.objects.values_list("code", "id"))
    names = [str(row.values["external_id"]) for row in rows]
    known = {str(one.external_ids["file"]): one for one in Pump.objects.filter(external_ids__file__in=names)}
    taken = _taken(sites, models)
    outcomes, fresh, changed = [], [], []
    for row in rows:
        key = str(row.values["external_id"])
        made = _figures(by, row, key, sites, models, fluids)
        if isinstance(made, RowOutcome):
            outcomes.append(made)
            continue
        figures, notes = made
        old = known.get(key)
        clash = _clash(figures, taken, old)
        if clash:
            outcomes.append(RowOutcome.refused(row, key, *clash))
        elif old is None:
            known[key] = Pump(external_ids={"file": key}, **figures)
            fresh.append(known[key])
            outcomes.append(RowOutcome(row.number, key, "created", notes=notes))
            _take(taken, known[key])
        elif any(getattr(old, name) != value for name, value in figures.items()):
            for name, value in figures.items():
                setattr(old, name, value)
            changed.append(old)
            outcomes.append(RowOutcome(row.number, key, "changed", notes=notes))
            _take(taken, old)
        else:
            outcomes.append(RowOutcome(row.number, key, "unchanged", notes=notes))
    Pump.objects.bulk_create(fresh)
    Pump.objects.bulk_update(changed, list(FIGURES))
    ids = [one.pk for one in [*fresh, *changed]]
    place_pumps(list(Pump.objects.filter(pk__in=ids).select_related("fluid__family").order_by("id")))
    record_changes(
        [
            Recorded(
                kind,
                "pump",
                one.pk,
                one.version,
                one.site_id,
                {"tag": one.tag, "serial_number": one.serial_number, "state": one.state},
            )
            for kind, some in (("pump.registered", fresh), ("pump.changed", changed))
            for one in some
        ],
        by=by,
    )
    return outcomes


def _figures(
    by: Caller,
    row: LoadRow,
    key: str,
    sites: dict[str, uuid.UUID],
    models: dict[str, uuid.UUID],
    fluids: dict[str, uuid.UUID],
) -> tuple[dict[str, Any], list[RowNote]] | RowOutcome:
    values = row.values
    site_id, model_id = sites.get(str(values["site"])), models.get(str(values["model"]))
    fluid_id = fluids.get(str(values["fluid"]))
    if site_id is None or not has_role(by, site_id, *KEEPERS):
        return RowOutcome.refused(row, key, "site", "No such site is granted to you.", "Check the site's code.")
    if model_id is None:
        return RowOutcome.refused(row, key, "model", "No such pump model is known.", "Load the pump models first.")
    if fluid_id is None:
        return RowOutcome.refused(row, key, "fluid", "No such fluid is known.", "Load the fluids first.")
    if values["criticality"] not in Criticality.values:
        return RowOutcome.refused(row, key, "criticality", "Not known.", f"One of {', '.join(Criticality.values)}.")
    state = values.get("state") or "in-service"
    if state not in PumpState.values:
        return RowOutcome.refused(row, key, "state", "Not known.", f"One of {', '.join(PumpState.values)}.")
    if values["temperature_min_c"] > values["temperature_max_c"]:
        return RowOutcome.refused(
            row, key, "temperature_max_c", "The lowest temperature is above the highest.", "Swap the two."
        )
    try:
        variant = as_built({name: values.get(column) for name, column in COLUMNS.items()})
    except InvalidValue as error:
        return RowOutcome.refused(row, key, "elastomer", error.detail, error.remedy)
    serial, notes = normalise_serial(str(values["serial_number"]))
    return {
        "tag": str(values["tag"]).strip(),
        "site_id": site_id,
        "pump_model_id": model_id,
        "serial_number": serial,
        "variant": variant,
        "fluid_id": fluid_id,
        "temperature_min_c": values["temperature_min_c"],
        "temperature_max_c": values["temperature_max_c"],
        "criticality": values["criticality"],
        "state": state,
        "installed_on": values.get("installed_on"),
    }, [RowNote("serial_number", str(values["serial_number"]), one) for one in notes]


Taken = dict[tuple[str, uuid.UUID, str], uuid.UUID]


def _taken(sites: dict[str, uuid.UUID], models: dict[str, uuid.UUID]) -> Taken:
    taken: Taken = {}
    for one in Pump.objects.filter(site_id__in=sites.values()).only(
        "id", "site_id", "tag", "pump_model", "serial_number"
    ):
        _take(taken, one)
    for one in Pump.objects.filter(pump_model_id__in=models.values()).only(
        "id", "site_id", "tag", "pump_model", "serial_number"
    ):
        _take(taken, one)
    return taken


def _take(taken: Taken, pump: Pump) -> None:
    taken["tag", pump.site_id, pump.tag] = pump.pk
    taken["serial", pump.pump_model_id, pump.serial_number] = pump.pk


def _clash(figures: dict[str, Any], taken: Taken, old: Pump | None) -> tuple[str, str, str] | None:
    mine = old.pk if old else None
    if taken.get(("tag", figures["site_id"], figures["tag"]), mine) != mine:
        return "tag", "Another pump at the site has this tag.", "One tag means one pump; check both rows."
    if taken.get(("serial", figures["pump_model_id"], figures["serial_number"]), mine) != mine:
        return "serial_number", "Another pump of this model has this serial number.", "Check the nameplates."
    return None


@transaction.atomic(savepoint=False)
def load_running_hours(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Hour readings keyed by pump and time; a meter never runs backwards."""
    pumps = pumps_by_external_id({str(row.values["pump"]) for row in rows})
    ids = {one["id"] for one in pumps.values()}
    kept: dict[uuid.UUID, dict[Any, Decimal]] = {}
    for pump_id, read_at, hours in RunningHours.objects.filter(pump_id__in=ids).values_list(
        "pump_id", "read_at", "hours"
    ):
        kept.setdefault(pump_id, {})[read_at] = hours
    outcomes: dict[int, RowOutcome] = {}
    fresh = []
    for row in sorted(rows, key=lambda one: (str(one.values["pump"]), one.values["read_at"], one.number)):
        key = f"{row.values['pump']} {row.values['read_at']:%Y-%m-%d %H:%M}"
        pump = pumps.get(str(row.values["pump"]))
        if pump is None or not has_role(by, pump["site_id"], *READERS):
            outcomes[row.number] = RowOutcome.refused(
                row, key, "pump", "No such pump is granted to you.", "Check its external id; load the pumps first."
            )
            continue
        known = kept.setdefault(pump["id"], {})
        if row.values["read_at"] in known:
            same = known[row.values["read_at"]] == row.values["hours"]
            outcomes[row.number] = (
                RowOutcome(row.number, key, "unchanged")
                if same
                else RowOutcome.refused(row, key, "hours", "Another reading of that moment is kept.", "Check both.")
            )
            continue
        try:
            before = max((at for at in known if at < row.values["read_at"]), default=None)
            after = min((at for at in known if at > row.values["read_at"]), default=None)
            check_reading(
                hours=row.values["hours"],
                meter_change=False,
                before=known[before] if before else None,
                after=known[after] if after else None,
            )
        except HoursRefused as error:
            outcomes[row.number] = RowOutcome.refused(row, key, "hours", str(error), "Check the reading.")
            continue
        known[row.values["read_at"]] = row.values["hours"]
        fresh.append(
            RunningHours(pump_id=pump["id"], read_at=row.values["read_at"], hours=row.values["hours"], by_id=by.id)
        )
        outcomes[row.number] = RowOutcome(row.number, key, "created")
    RunningHours.objects.bulk_create(fresh)
    sites = {one["id"]: one["site_id"] for one in pumps.values()}
    record_changes(
        [
            Recorded(
                "running-hours.recorded",
                "running-hours",
                one.pk,
                1,
                sites[one.pump_id],
                {"pump": one.pump_id, "hours": one.hours, "read_at": one.read_at},
            )
            for one in fresh
        ],
        by=by,
    )
    return [outcomes[row.number] for row in rows]
