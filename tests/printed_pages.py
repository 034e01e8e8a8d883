"""What another hand sees on a printed page: rendered by pypdfium2, its symbols decoded by zxing-cpp."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pypdfium2
import zxingcpp

DPI = 300


@dataclass(frozen=True)
class Seen:
    """A symbol on a page: what it says, and its corners in pixels."""

    text: str
    x: float
    y: float
    side: float
    level: str


def pages(pdf: bytes, dpi: int = DPI) -> list[Any]:
    """Each page as grey levels, rows by columns."""
    document = pypdfium2.PdfDocument(pdf)
    found = []
    for page in document:
        image = page.render(scale=dpi / 72, grayscale=True).to_numpy()
        found.append(np.ascontiguousarray(image.reshape(image.shape[:2])))
    return found


def text_of(pdf: bytes) -> list[str]:
    """The text of each page."""
    return [page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(pdf)]


def symbols(image: Any) -> list[Seen]:
    """The QR symbols of a page, row by row from the top left."""
    found = []
    for read in zxingcpp.read_barcodes(image):
        corner, right = read.position.top_left, read.position.top_right
        side = math.dist((corner.x, corner.y), (right.x, right.y))
        found.append(Seen(read.text, corner.x, corner.y, side, read.ec_level))
    rows: list[list[Seen]] = []
    for one in sorted(found, key=lambda one: one.y):
        if rows and one.y - rows[-1][0].y < one.side / 2:
            rows[-1].append(one)
        else:
            rows.append([one])
    return [one for row in rows for one in sorted(row, key=lambda one: one.x)]
