"""A sheet of labels as PDF, set by typst from the template beside this file: no network, bundled fonts only.

What stands on a label reaches the template as JSON and is shown as text; none of it is read as markup.
"""

import datetime
import io
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path

import segno
import typst

from jobs.calculations.label_sheets import QUIET_ZONE, LabelFormat, cells, layout

TEMPLATE = Path(__file__).with_name("label_sheet.typ")
ERROR_CORRECTION = "m"
# typst keeps what it worked out for its last documents; after a large sheet that is given back.
LARGE = 50
DOCUMENTS_KEPT = 12


@dataclass(frozen=True)
class PrintedLabel:
    """What is printed: the address in the symbol, the code for people, what it is, its heading and further lines."""

    address: str
    code: str
    kind: str
    heading: str
    lines: tuple[str, ...] = ()
    strong: str = ""


def symbol(address: str) -> segno.QRCode:
    """The QR symbol of an address, error correction M, in the smallest version that holds it."""
    return segno.make(address, error=ERROR_CORRECTION, boost_error=False, micro=False)


def symbol_modules(address: str) -> int:
    """Modules of the symbol's side with its quiet zone."""
    return int(symbol(address).symbol_size(border=QUIET_ZONE)[0])


def sheet_pdf(
    labels: Sequence[PrintedLabel], sheet: LabelFormat, *, printed_at: datetime.datetime, start_at: int = 1
) -> bytes:
    """The PDF of labels in their order, copies among them; equal input gives equal bytes.

    Raises `SheetMisused`, `LabelTooSmall`.
    """
    places = cells(sheet, len(labels), start_at)
    symbols: dict[str, str] = {}
    side = 0
    for one in labels:
        if one.address not in symbols:
            made = symbol(one.address)
            side = max(side, int(made.symbol_size(border=QUIET_ZONE)[0]))
            symbols[one.address] = _svg(made)
    content = {
        "page": {"width": sheet.page_width, "height": sheet.page_height, "count": places[-1].page + 1},
        "label": {"width": sheet.width, "height": sheet.height},
        "layout": asdict(layout(sheet, side)),
        "symbols": symbols,
        "labels": [asdict(one) | asdict(place) for one, place in zip(labels, places, strict=True)],
    }
    pdf = typst.compile(
        TEMPLATE,
        root=TEMPLATE.parent,
        font_paths=_bundled_fonts(),
        sys_inputs={"content": json.dumps(content)},
        timestamp=int(printed_at.timestamp()),
        pdf_tags=False,
    )
    if len(labels) > LARGE:
        for _ in range(DOCUMENTS_KEPT):
            typst.compile(b"", font_paths=_bundled_fonts())
    return pdf


@cache
def _bundled_fonts() -> typst.Fonts:
    return typst.Fonts(include_system_fonts=False)


def _svg(made: segno.QRCode) -> str:
    """The symbol with its quiet zone on white; scaled by its view box."""
    buffer = io.BytesIO()
    made.save(buffer, kind="svg", border=QUIET_ZONE, light="white", xmldecl=False, omitsize=True)
    return buffer.getvalue().decode()
