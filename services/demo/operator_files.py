"""The files of the invented operator, as an ERP and a workshop would hand them over, numbered in the order of loading.

`render` writes them; `kind_of` says of each what kind of load it is. The same day gives the same bytes.
"""

import datetime
import re
from collections.abc import Iterator
from pathlib import Path

import yaml

from services.demo.operator import blemishes, buying, history, instruments, kits, places, pump_models, pumps, stock
from services.demo.operator.days import Days
from services.demo.operator.parts import Catalogue, catalogue
from services.demo.operator.sheets import Sheet, sheet
from services.demo.operator.stock_plan import kept_items
from services.demo.operator.wear_positions import positions

HERE = Path(__file__).parent / "operator"
PROCEDURE_FILES = ("pull-out.yaml", "close-coupled.yaml", "in-line.yaml", "packed-gland.yaml")
PEOPLE, BLEMISHES = "people.yaml", "expected_blemishes.yaml"
_LOADED = re.compile(r"\d\d-([a-z-]+?)(?:\.csv|--[a-z-]+\.yaml)")


def render(folder: Path, today: datetime.date) -> list[Path]:
    """Write every file of the operator into ``folder``; the files to load come first, in the order of loading."""
    folder.mkdir(parents=True, exist_ok=True)
    days = Days(today)
    parts = catalogue()
    packed = {one.number: one for one in kits.kit_rows(parts)}
    sheets = list(_sheets(days, parts, packed))
    before, history_sheets = sheets[:-2], sheets[-2:]
    named: dict[str, Sheet | Path] = {}
    for one in before:
        named[f"{len(named) + 1:02d}-{one.kind}.csv"] = one
    for name in PROCEDURE_FILES:
        named[f"{len(named) + 1:02d}-procedures--{name}"] = HERE / "procedures" / name
    for one in history_sheets:
        named[f"{len(named) + 1:02d}-{one.kind}.csv"] = one
    for name, content in named.items():
        if isinstance(content, Sheet):
            content.write(folder / name)
        else:
            (folder / name).write_bytes(content.read_bytes())
    only_sheets = {name: one for name, one in named.items() if isinstance(one, Sheet)}
    told = blemishes.expected(only_sheets, packed, parts)
    told["rows"] = {name: len(one.rows) for name, one in only_sheets.items()}
    (folder / PEOPLE).write_bytes((HERE / PEOPLE).read_bytes())
    (folder / BLEMISHES).write_text(yaml.safe_dump(told, sort_keys=False, allow_unicode=True), encoding="utf-8")
    return [folder / name for name in (*named, PEOPLE, BLEMISHES)]


def kind_of(path: Path) -> str | None:
    """The kind of load that a file is; None for the people and for what is expected of the report."""
    found = _LOADED.fullmatch(path.name)
    return found[1] if found else None


def _sheets(days: Days, parts: Catalogue, packed: dict[str, kits.KitRow]) -> Iterator[Sheet]:
    """All sheets in the order of loading; the last two need procedures that are published."""
    rows = tuple(packed.values())
    installed = pumps.pump_rows(days)
    game = stock.play(days, kept_items(rows, parts, installed), rows)
    orders = buying.order_rows(days, rows, game.events)
    jobs = history.past_jobs(installed, packed, game.events)
    yield sheet("sites", "code,name,time_zone,central_store,latitude,longitude", places.SITES)
    yield sheet("bins", "site,code,default,name", places.BINS)
    yield sheet("makers", "code,name", places.MAKERS)
    yield sheet("fluids", "code,name,family,hazard", places.FLUIDS)
    yield _models()
    yield _positions(parts)
    yield sheet("pumps", pumps.PUMP_COLUMNS, [one.cells for one in installed])
    yield sheet("running-hours", "pump,read_at,hours", pumps.hour_rows(days, installed))
    yield sheet("suppliers", "code,name", places.SUPPLIERS)
    yield _parts(parts)
    yield sheet(
        "supersessions",
        "old_number,new_number,from_date,both_ways",
        [
            (one.old, one.new, days.off(-one.days_ago).isoformat(), "yes" if one.both_ways else "no")
            for one in parts.replaced
        ],
    )
    yield from _kits(rows)
    yield sheet("supplier-terms", buying.TERM_COLUMNS, buying.term_rows(rows, parts))
    yield sheet("lots", "item,revision,lot,cure_date,received_on", stock.lot_rows(game))
    yield sheet("opening-stock", stock.OPENING_COLUMNS, stock.opening_rows(game.opening))
    yield sheet("movements", stock.MOVEMENT_COLUMNS, stock.movement_rows(game.events))
    yield sheet("orders", buying.ORDER_COLUMNS, orders)
    yield sheet("instruments", instruments.COLUMNS, instruments.instrument_rows(days))
    yield sheet(
        "past-jobs",
        "number,pump,procedure,kit,kit_revision,lot,started_at,finished_at,fitter,supervisor",
        history.job_rows(jobs),
    )
    yield sheet(
        "past-measurements", "job,characteristic,readings,unit,instrument,taken_at", history.measurement_rows(jobs)
    )


def _models() -> Sheet:
    columns = (
        "external_id,maker,series,designation,configuration,shaft_diameter_at_seal_mm,rated_speed_rpm,rated_power_kw"
    )
    return sheet(
        "pump-models",
        columns,
        [
            (one.code, one.maker, one.series, one.designation, one.configuration, one.seal_mm, one.speed_rpm,
             one.power_kw)
            for one in pump_models.MODELS
        ],
    )  # fmt: skip


def _positions(parts: Catalogue) -> Sheet:
    columns = "model,role,quantity,mandatory,serial_from,serial_to,variant,part_number,category,specification"
    return sheet(
        "wear-positions",
        columns,
        [
            (one.model.code, one.role, one.quantity, "yes" if one.mandatory else "no", one.serial_from, one.serial_to,
             f"elastomer={one.elastomer}" if one.elastomer else "", parts.asked[one].number, one.category,
             parts.asked[one].specification)
            for one in positions()
        ],
    )  # fmt: skip


def _parts(parts: Catalogue) -> Sheet:
    return sheet(
        "parts",
        "external_id,number,name,maker,category,specification,unit,cost,currency",
        [
            (f"fmu-part-{one.number.lower()}", one.number, one.name, one.maker, one.category, one.specification,
             "piece", one.cost, "EUR")
            for one in parts.parts.values()
        ],
    )  # fmt: skip


def _kits(rows: tuple[kits.KitRow, ...]) -> Iterator[Sheet]:
    yield sheet(
        "kits",
        "external_id,number,revision,name,scope,criticality,cost,currency",
        [
            (f"fmu-kit-{one.number.lower()}-{one.revision.lower()}", one.number, one.revision, one.name, one.scope,
             one.criticality, one.cost, "EUR")
            for one in rows
        ],
    )  # fmt: skip
    yield sheet(
        "kit-lines",
        "kit,revision,line,role,part,quantity,optional,alternative_group",
        [
            (one.number, one.revision, 10 * line, role, part.number, quantity, "no", "")
            for one in rows
            for line, (role, part, quantity) in enumerate(one.lines, 1)
        ],
    )
    yield sheet("coverage", "kit,revision,model,serial_from,serial_to", kits.coverage_rows(rows))
