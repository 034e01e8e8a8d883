"""Where labels lie on a page, and where symbol and text lie on a label. Everything in millimetres from the top left.

The sizes of sheets are common practice, no source. ISO/IEC 18004 (value from memory): a QR symbol needs a quiet zone of
four modules on each side. Modules of 0.35 mm and more are read by any telephone: common practice, no source.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

QUIET_ZONE = 4
WANTED_MODULE_MM = 0.35
SMALLEST_MODULE_MM = 0.25
# A thermal printer of 203 dots an inch sets eight dots a millimetre; modules of whole dots come out alike.
DOT_MM = 0.125
MOST_LABELS = 500
# Office printers leave the outermost millimetres of a page blank.
BLANK_EDGE_MM = 5.0
PADDING_MM = 1.5
BETWEEN_MM = 1.5
CODE_LINE_MM = 3.2
NARROWEST_TEXT_MM = 12.0


class LabelTooSmall(ValueError):
    """The symbol does not fit on the label in a size that can be read."""


class SheetMisused(ValueError):
    """The sheet has no such cell, or more labels were asked for than are set at once."""


@dataclass(frozen=True)
class LabelFormat:
    """A page with its labels in columns and rows, in the middle of the page."""

    name: str
    words: str
    page_width: float
    page_height: float
    columns: int
    rows: int
    width: float
    height: float
    gap_across: float = 0.0
    gap_down: float = 0.0
    blank_edge: float = 0.0

    @property
    def left(self) -> float:
        """From the page's left edge to the first column."""
        return (self.page_width - self.columns * self.width - (self.columns - 1) * self.gap_across) / 2

    @property
    def top(self) -> float:
        """From the page's top edge to the first row."""
        return (self.page_height - self.rows * self.height - (self.rows - 1) * self.gap_down) / 2

    @property
    def per_page(self) -> int:
        """Labels on one page."""
        return self.columns * self.rows

    @property
    def padding(self) -> tuple[float, float]:
        """What stays blank inside each label, across and down, so that no printer's blank edge cuts the outer ones."""
        return max(PADDING_MM, self.blank_edge - self.left), max(PADDING_MM, self.blank_edge - self.top)


_A4, _LETTER = (210.0, 297.0), (215.9, 279.4)
FORMATS: Mapping[str, LabelFormat] = {
    one.name: one
    for one in (
        LabelFormat(
            "a4-70x37", "A4, 3 columns of 8, 70 x 37 mm", *_A4, 3, 8, 70.0, 37.0, blank_edge=BLANK_EDGE_MM
        ),
        LabelFormat(
            "a4-99.1x38.1", "A4, 2 columns of 7, 99.1 x 38.1 mm", *_A4, 2, 7, 99.1, 38.1, 2.5, blank_edge=BLANK_EDGE_MM
        ),
        LabelFormat(
            "letter-66.7x25.4", "Letter, 3 columns of 10, 66.7 x 25.4 mm", *_LETTER, 3, 10, 66.7, 25.4, 3.175,
            blank_edge=BLANK_EDGE_MM,
        ),
        LabelFormat("roll-62x29", "A roll, one label a page, 62 x 29 mm", 62.0, 29.0, 1, 1, 62.0, 29.0),
        LabelFormat("roll-50x25", "A roll, one label a page, 50 x 25 mm", 50.0, 25.0, 1, 1, 50.0, 25.0),
    )
}  # fmt: skip


@dataclass(frozen=True)
class Cell:
    """A label's place: the page from 0, and its top left corner."""

    page: int
    x: float
    y: float


@dataclass(frozen=True)
class Box:
    """A rectangle on a label."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class LabelLayout:
    """What lies where on each label of a format. The symbol's box holds its quiet zone."""

    module: float
    symbol: Box
    code: Box
    text: Box


def cells(sheet: LabelFormat, count: int, start_at: int = 1) -> list[Cell]:
    """Places of ``count`` labels row by row, from cell ``start_at`` of the first page on (1 is the first).

    Raises `SheetMisused`.
    """
    if not 1 <= start_at <= sheet.per_page:
        raise SheetMisused(f"A page of {sheet.name} has the cells 1 to {sheet.per_page}.")
    if not 1 <= count <= MOST_LABELS:
        raise SheetMisused(f"{count} labels with their copies are asked for; 1 to {MOST_LABELS} are set at once.")
    found = []
    for number in range(start_at - 1, start_at - 1 + count):
        page, cell = divmod(number, sheet.per_page)
        row, column = divmod(cell, sheet.columns)
        found.append(
            Cell(
                page,
                sheet.left + column * (sheet.width + sheet.gap_across),
                sheet.top + row * (sheet.height + sheet.gap_down),
            )
        )
    return found


def layout(sheet: LabelFormat, modules: int) -> LabelLayout:
    """Symbol on the left with the code beneath, text on the right.

    ``modules`` are those of the symbol's side with its quiet zone. The module is as large as the label lets it be, in
    whole printer dots where that leaves it large enough. Raises `LabelTooSmall`.
    """
    across, down = sheet.padding
    width, height = sheet.width - 2 * across, sheet.height - 2 * down
    room = min(height - CODE_LINE_MM, width - BETWEEN_MM - NARROWEST_TEXT_MM)
    module = _whole_dots(room / modules)
    if module < SMALLEST_MODULE_MM:
        raise LabelTooSmall(
            f"A symbol of {modules} modules would have modules of {module:.2f} mm on {sheet.name}; "
            f"{SMALLEST_MODULE_MM} mm is the least that is read."
        )
    side = module * modules
    top = down + (height - side - CODE_LINE_MM) / 2
    text_from = across + side + BETWEEN_MM
    return LabelLayout(
        module,
        Box(across, top, side, side),
        Box(across, top + side, side, CODE_LINE_MM),
        Box(text_from, down, sheet.width - across - text_from, height),
    )


def _whole_dots(module: float) -> float:
    dots = math.floor(module / DOT_MM + 1e-9) * DOT_MM
    return dots if dots >= WANTED_MODULE_MM else math.floor(module * 100 + 1e-9) / 100
