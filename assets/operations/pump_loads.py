"""Pumps and their hour readings handed in as rows of files."""

import uuid
from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from functools import partial
from typing import Any

import orjson
from django.db import transaction

from assets.access import has_role
from assets.calculations.running_hours import HoursRefused, check_reading
from assets.calculations.serial_ranges import normalise_serial
from assets.models import Criticality, Fluid, Pump, PumpState, RunningHours
from assets.operations.build_classes import ClassFinder
from assets.operations.pumps import KEEPERS
from assets.operations.running_hours import READERS
from assets.queries.build_classes import HOTTEST_C, LONGEST_SERIAL, as_built
from assets.queries.pump_models import pump_models_by_code
from assets.queries.pumps import pumps_by_external_id, pumps_named, pumps_of_files
from assets.queries.sites import site_ids_by_code
from services.api.identifiers import new_id
from services.api.loading import LoadRow, RowNote, RowOutcome
from services.api.many_rows import copy_in, insert_many, update_many
from services.api.refusals import InvalidValue
from services.api.sorting_rows import SortedRows
from services.changes.recording import Recorded, record_changes
from services.changes.sorted_rows import record_sorted
from services.identity.callers import Caller

FIGURES = (
    "tag", "site", "pump_model", "serial_number", "variant", "fluid", "temperature_min_c",
    "temperature_max_c", "criticality", "state", "installed_on",
)  # fmt: skip
NEW = (
    "id", "version", "tag", "site_id", "pump_model_id", "serial_number", "variant", "fluid_id", "temperature_min_c",
    "temperature_max_c", "criticality", "state", "installed_on", "external_ids", "build_class_id",
)  # fmt: skip
Figures = dict[str, Any]
COLUMNS = ("elastomer", "seal_faces", "impeller_diameter_mm")
ELSEWHERE = ("A pump of that id stands at a site not granted to you.", "Check the id; ask whoever keeps that site.")
CRITICALITIES, STATES = tuple(Criticality.values), tuple(PumpState.values)


@transaction.atomic(savepoint=False)
def load_pumps(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Pumps keyed by external id; each finds its build class. A fixed number of queries for any number of rows."""
    reader = _PumpReader(by, rows)
    names = [str(row.values["external_id"]) for row in rows]
    found: SortedRows[Pump | _NewPump] = SortedRows({one.external_ids["file"]: one for one in pumps_of_files(names)})
    read = [reader.figures(row) for row in rows]
    taken = _Taken([one for one, _ in read if not isinstance(one, RowOutcome)])
    outcomes = []
    for row, name, (figures, notes) in zip(rows, names, read, strict=True):
        if isinstance(figures, RowOutcome):
            outcomes.append(figures)
            continue
        old = found.known.get(name)
        if old is not None and not reader.keeps(old.site_id):
            outcomes.append(RowOutcome.refused(row, name, "external_id", *ELSEWHERE))
            continue
        clash = taken.clash(figures, old)
        if clash:
            outcomes.append(RowOutcome.refused(row, name, *clash))
            continue
        outcome = found.take(row, name, name, figures, partial(_NewPump, name, figures), notes)
        if outcome.outcome != "unchanged":
            taken.take(found.known[name])
        outcomes.append(outcome)
    _write(found, by)
    return outcomes


class _NewPump:
    """A pump not yet written: no model instance, of which 100,000 take longer than all the rest."""

    tag: str
    site_id: uuid.UUID
    pump_model_id: uuid.UUID
    serial_number: str

    def __init__(self, name: str, figures: Figures) -> None:
        self.pk = new_id()
        self.name = name
        self.version = 1
        self.__dict__.update(figures)


def _write(found: SortedRows[Any], by: Caller) -> None:
    finder = ClassFinder({one.pump_model_id for some in (found.fresh, found.changed) for one in some})
    new = [finder.key_of(one.__dict__) for one in found.fresh]
    moved = [finder.key_of(one.__dict__) for one in found.changed]
    ids = finder.ids_by_key()
    copy_in(Pump._meta.db_table, NEW, (_row_of(one, ids[key]) for one, key in zip(found.fresh, new, strict=True)))
    for one, key in zip(found.changed, moved, strict=True):
        one.build_class_id = ids[key]
    versions = update_many(found.changed, [*FIGURES, "build_class"])
    record_sorted(
        found,
        versions,
        by=by,
        noun="pump",
        told=lambda one: {"tag": one.tag, "serial_number": one.serial_number, "state": one.state},
        site_of=lambda one: one.site_id,
    )


def _row_of(one: Any, build_class_id: uuid.UUID) -> tuple[Any, ...]:
    """A new pump as `NEW` names its columns."""
    return (
        one.pk, one.version, one.tag, one.site_id, one.pump_model_id, one.serial_number,
        orjson.dumps(one.variant).decode(), one.fluid_id, one.temperature_min_c, one.temperature_max_c,
        one.criticality, one.state, one.installed_on, orjson.dumps({"file": one.name}).decode(), build_class_id,
    )  # fmt: skip


class _PumpReader:
    """Reads rows as figures of pumps. What many rows share, sites, models, fluids, builds, is looked up once."""

    def __init__(self, by: Caller, rows: Sequence[LoadRow]) -> None:
        sites = site_ids_by_code({str(row.values["site"]) for row in rows})
        self.sites = {code: one for code, one in sites.items() if has_role(by, one, *KEEPERS)}
        self._by, self._kept = by, set(self.sites.values())
        self.models = pump_models_by_code({str(row.values["model"]) for row in rows})
        self.fluids = dict(Fluid.objects.values_list("code", "id"))
        self.builds: dict[tuple[str | None, ...], dict[str, str]] = {}
        self.degrees: dict[Decimal, Decimal] = {}

    def keeps(self, site_id: uuid.UUID) -> bool:
        """Whether pumps at the site are the caller's to change."""
        return site_id in self._kept or has_role(self._by, site_id, *KEEPERS)

    def figures(self, row: LoadRow) -> tuple[Figures | RowOutcome, list[RowNote]]:
        """The figures of a row with the notes on them, or its refusal."""
        values = row.values
        key = str(values["external_id"])
        site_id, model_id = self.sites.get(str(values["site"])), self.models.get(str(values["model"]))
        fluid_id = self.fluids.get(str(values["fluid"]))
        wrong = _unsound(values, site_id, model_id, fluid_id)
        if wrong:
            return RowOutcome.refused(row, key, *wrong), []
        try:
            variant = self._built(values)
        except InvalidValue as error:
            return RowOutcome.refused(row, key, "elastomer", error.detail, error.remedy), []
        serial, notes = normalise_serial(str(values["serial_number"]))
        return {
            "tag": str(values["tag"]).strip(),
            "site_id": site_id,
            "pump_model_id": model_id,
            "serial_number": serial,
            "variant": variant,
            "fluid_id": fluid_id,
            "temperature_min_c": self._degrees(values["temperature_min_c"]),
            "temperature_max_c": self._degrees(values["temperature_max_c"]),
            "criticality": values["criticality"],
            "state": values.get("state") or "in-service",
            "installed_on": values.get("installed_on"),
        }, [RowNote("serial_number", str(values["serial_number"]), one) for one in notes]

    def _degrees(self, written: Decimal) -> Decimal:
        """A temperature rounded to the places in which it is kept, as the database would."""
        found = self.degrees.get(written)
        if found is None:
            found = self.degrees[written] = written.quantize(Decimal("0.01"), ROUND_HALF_UP)
        return found

    def _built(self, values: Mapping[str, Any]) -> dict[str, str]:
        # As texts: 209 and 209.0 are the same number, but not the same text of a build.
        written = tuple([None if (one := values.get(column)) is None else str(one) for column in COLUMNS])
        found = self.builds.get(written)
        if found is None:
            found = self.builds[written] = as_built(dict(zip(COLUMNS, written, strict=True)))
        return found


def _unsound(
    values: Mapping[str, Any], site_id: uuid.UUID | None, model_id: uuid.UUID | None, fluid_id: uuid.UUID | None
) -> tuple[str, str, str] | None:
    if site_id is None:
        return "site", "No such site is granted to you.", "Check the site's code."
    if model_id is None:
        return "model", "No such pump model is known.", "Load the pump models first."
    if fluid_id is None:
        return "fluid", "No such fluid is known.", "Load the fluids first."
    for name in ("tag", "serial_number"):
        if len(str(values[name])) > LONGEST_SERIAL:
            return name, f"It is longer than {LONGEST_SERIAL} characters.", "Shorten it."
    if values["criticality"] not in CRITICALITIES:
        return "criticality", "Not known.", f"One of {', '.join(CRITICALITIES)}."
    if (values.get("state") or "in-service") not in STATES:
        return "state", "Not known.", f"One of {', '.join(STATES)}."
    for name in ("temperature_min_c", "temperature_max_c"):
        if not -HOTTEST_C <= values[name] <= HOTTEST_C:
            return name, "No pump works at that temperature.", "Give degrees Celsius."
    if values["temperature_min_c"] > values["temperature_max_c"]:
        return "temperature_max_c", "The lowest temperature is above the highest.", "Swap the two."
    return None


class _Taken:
    """Which pump has which tag at a site, and which serial number of a model: as kept, and as the rows go on."""

    def __init__(self, figures: Sequence[Figures]) -> None:
        self._tags: dict[tuple[uuid.UUID, str], uuid.UUID] = {}
        self._serials: dict[tuple[uuid.UUID, str], uuid.UUID] = {}
        for pump_id, site_id, tag, model_id, serial in pumps_named(
            {one["site_id"] for one in figures},
            {one["tag"] for one in figures},
            {one["pump_model_id"] for one in figures},
            {one["serial_number"] for one in figures},
        ):
            self._tags[site_id, tag] = pump_id
            self._serials[model_id, serial] = pump_id

    def take(self, pump: "Pump | _NewPump") -> None:
        """From now on the pump has its tag and its serial number."""
        self._tags[pump.site_id, pump.tag] = pump.pk
        self._serials[pump.pump_model_id, pump.serial_number] = pump.pk

    def clash(self, figures: Figures, old: "Pump | _NewPump | None") -> tuple[str, str, str] | None:
        """Why these figures cannot be those of the pump, or of a new one."""
        mine = old.pk if old else None
        if self._tags.get((figures["site_id"], figures["tag"]), mine) != mine:
            return "tag", "Another pump at the site has this tag.", "One tag means one pump; check both rows."
        if self._serials.get((figures["pump_model_id"], figures["serial_number"]), mine) != mine:
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
    insert_many(fresh)
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
