"""What is wrong with the files on purpose, and what a report of their loading must say of it."""

from collections.abc import Mapping
from typing import Any

from services.demo.operator.buying import COMMA_PRICE_KIT
from services.demo.operator.kits import EARLIER_NUMBER, KitRow
from services.demo.operator.parts import Catalogue
from services.demo.operator.pumps import COMMA_HOURS_TAG, COMMA_IMPELLER_TAGS, LOST_PUMP, SPACED_SERIAL_TAG
from services.demo.operator.sheets import Sheet


def expected(sheets: Mapping[str, Sheet], kits: Mapping[str, KitRow], parts: Catalogue) -> dict[str, Any]:
    """Rows that are taken with a note and rows that are refused: file, kind, row, column, the cell as written."""
    noted = [
        _of(sheets, "pumps", "serial_number", "spaces", tag=SPACED_SERIAL_TAG),
        *(_of(sheets, "pumps", "impeller_diameter_mm", "decimal comma", tag=tag) for tag in COMMA_IMPELLER_TAGS),
        _of(sheets, "supplier-terms", "price", "decimal comma", item=COMMA_PRICE_KIT),
        _hours(sheets),
        *_superseded_lines(sheets, kits[EARLIER_NUMBER], parts),
    ]
    refused = [_of(sheets, "pumps", "site", "No such site", tag=LOST_PUMP[0])]
    return {"noted": noted, "refused": refused}


def _of(sheets: Mapping[str, Sheet], kind: str, column: str, says: str, **wanted: str) -> dict[str, Any]:
    name, sheet = next((name, one) for name, one in sheets.items() if one.kind == kind)
    row = sheet.row_of(**wanted)
    written = str(sheet.rows[row - 2][column])
    return {"file": name, "kind": kind, "row": row, "column": column, "value": written, "says": says}


def _hours(sheets: Mapping[str, Sheet]) -> dict[str, Any]:
    name, sheet = next((name, one) for name, one in sheets.items() if one.kind == "running-hours")
    pump = f"fmu-{COMMA_HOURS_TAG[2:]}"
    found = next(row for row in sheet.rows if row["pump"] == pump and "," in row["hours"])
    return _of({name: sheet}, "running-hours", "hours", "decimal comma", pump=pump, hours=found["hours"])


def _superseded_lines(sheets: Mapping[str, Sheet], kit: KitRow, parts: Catalogue) -> list[dict[str, Any]]:
    newer = {one.old: one.new for one in parts.replaced}
    return [
        _of(sheets, "kit-lines", "part", f"superseded by {newer[part.number]}", kit=kit.number, part=part.number)
        for _, part, _ in kit.lines
        if part.number in newer
    ]
