"""What is inside an XLSX file, looked at before a library unfolds it: sizes, extents, faults that it would not tell.

The form is that of ECMA-376, Part 1: a ZIP archive of XML parts, a sheet's cells in rows with their addresses.
"""

import io
import re
import zipfile
import zlib
from dataclasses import dataclass, field
from xml.etree import ElementTree

from services.bulk_loads.refusals import FileUnreadable

MOST_PARTS = 2000
LARGEST_UNPACKED = 256 * 1024 * 1024
MOST_CELLS = 8_000_000
MOST_TEXT = 256 * 1024 * 1024
SHARED = "xl/sharedStrings.xml"
LARGEST_INDEX = 4 * 1024 * 1024
_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_PREFIX = rb"<(?:\w+:)?"
_ADDRESS = re.compile(rb"\sr\s*=\s*[\"']([^\"']*)[\"']")
DIGITS, LETTERS = b"0123456789", b"ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_REFS = re.compile(rb"(?:[A-Z]{0,3}[0-9]{1,7}(?: |$))++")
# None of these runs past the next tag, so a hostile sheet costs no more than its length.
_FORMULA = _PREFIX + rb"f\b(?:[^<>]*/>|[^<>]*>[^<]*</(?:\w+:)?f>)\s*"
_ERROR = re.compile(
    _PREFIX + rb"c\b([^<>]*\bt=[\"']e[\"'][^<>]*)>\s*(?:" + _FORMULA + rb")?" + _PREFIX + rb"v\b[^<>]*>([^<]*)<"
)
_UNVALUED = re.compile(
    _PREFIX + rb"c\b([^<>]*[^/<>]|)>\s*" + _FORMULA + rb"(?:<(?:\w+:)?v\s*/>|<(?:\w+:)?v>\s*</(?:\w+:)?v>)?\s*"
    rb"</(?:\w+:)?c>"
)
_TEXT_ENDS = re.compile(rb"</(?:\w+:)?si>")
_TEXT_AT = re.compile(_PREFIX + rb"c\b[^<>]*\bt=[\"']s[\"'][^<>]*>\s*" + _PREFIX + rb"v>\s*(\d{1,9})\s*<")
_OFFICE_BINARY = b"\xd0\xcf\x11\xe0"


@dataclass
class Parts:
    """The sheets' parts by name, and how the workbook counts its days."""

    archive: zipfile.ZipFile
    sheets: dict[str, str] = field(default_factory=dict)
    day_zero_1904: bool = False


@dataclass(frozen=True)
class Fault:
    """A cell whose value is not there: what is wrong, and what would help."""

    row: int
    column: int
    words: str
    remedy: str
    value: str = ""


def open_parts(content: bytes) -> Parts:
    """The parts of a workbook. Raises `FileUnreadable` for what is none, is damaged, or unfolds beyond measure."""
    if content.startswith(_OFFICE_BINARY):
        raise FileUnreadable(
            "It is an old XLS file, or a workbook with a password.", remedy="Save it as XLSX without a password."
        )
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
        _bound(archive)
        index = _xml(archive, "xl/workbook.xml")
        relations = _xml(archive, "xl/_rels/workbook.xml.rels")
    except (zipfile.BadZipFile, zlib.error, KeyError, NotImplementedError, RuntimeError, EOFError, OSError) as error:
        raise FileUnreadable("It is no XLSX workbook, or a damaged one.", remedy="Save it as XLSX again.") from error
    except ElementTree.ParseError as error:
        raise FileUnreadable("The workbook's index cannot be read.", remedy="Save it as XLSX again.") from error
    targets = {one.get("Id"): str(one.get("Target", "")) for one in relations}
    properties = index.find(f"{_MAIN}workbookPr")
    found = Parts(archive, day_zero_1904=properties is not None and properties.get("date1904") in {"1", "true", "on"})
    for one in index.iter(f"{_MAIN}sheet"):
        target = targets.get(one.get(_RELATION), "")
        found.sheets[str(one.get("name", ""))] = (
            target.lstrip("/") if target.startswith("/") else f"xl/{target.removeprefix('./')}"
        )
    return found


def _bound(archive: zipfile.ZipFile) -> None:
    """Unfold every part once, counting: what a directory claims is only believed after that."""
    parts = archive.infolist()
    if len(parts) > MOST_PARTS or sum(one.file_size for one in parts) > LARGEST_UNPACKED:
        raise FileUnreadable(
            f"The workbook unfolds to more than {LARGEST_UNPACKED // 1024**2} MB.",
            remedy="Cut it into several files, or send CSV.",
        )
    for one in parts:
        with archive.open(one) as opened:
            while opened.read(1024 * 1024):
                continue


def _xml(archive: zipfile.ZipFile, name: str) -> ElementTree.Element:
    text = archive.read(name)
    if len(text) > LARGEST_INDEX or b"<!DOCTYPE" in text:
        raise FileUnreadable("The workbook's index cannot be read.", remedy="Save it as XLSX again.")
    # Bounded in size and without a document type there is nothing that could grow or reach out.
    return ElementTree.fromstring(text)  # noqa: S314


def check_sheet(parts: Parts, sheet: str) -> list[Fault]:
    """Cells of a sheet that a reader would take for empty: errors, and formulas that were never worked out.

    Raises `FileUnreadable` where the sheet would unfold into more cells or text than can be held.
    """
    try:
        text = parts.archive.read(parts.sheets[sheet])
        shared = (
            parts.archive.read("xl/sharedStrings.xml") if "xl/sharedStrings.xml" in parts.archive.NameToInfo else b""
        )
    except (KeyError, zipfile.BadZipFile) as error:
        raise FileUnreadable(f"The sheet {sheet!r} cannot be read.", remedy="Save it as XLSX again.") from error
    if b"\x00" in text[:200] or b"<!DOCTYPE" in text[:2000]:
        raise FileUnreadable(f"The sheet {sheet!r} is not UTF-8.", remedy="Save it as XLSX again.")
    _bound_cells(text, sheet)
    _bound_text(text, shared, sheet)
    faults = []
    if b't="e"' in text or b"t='e'" in text:
        for found in _ERROR.finditer(text):
            value = found[2].decode(errors="replace")
            faults.append(_fault(found[1], f"The cell holds the error {value}.", "Correct the formula.", value))
    if b"<f" in text or b":f" in text:
        faults += [
            _fault(
                found[1],
                "The cell holds a formula that was never worked out.",
                "Open it in a spreadsheet program, save it and send it again.",
                "",
            )
            for found in _UNVALUED.finditer(text)
            if b't="str"' not in found[1]
        ]
    return [one for one in faults if one]


def _bound_cells(text: bytes, sheet: str) -> None:
    addresses = b" ".join(_ADDRESS.findall(text))
    if addresses and not _REFS.fullmatch(addresses):
        raise FileUnreadable(f"The sheet {sheet!r} has cells without a place.", remedy="Save it as XLSX again.")
    columns, numbers = set(addresses.translate(None, DIGITS).split()), set(addresses.translate(None, LETTERS).split())
    wide = max((_column(one) + 1 for one in columns), default=1)
    tall = max(map(int, numbers), default=1)
    # Cells without an address follow one another, so there are never more than there are cells.
    if wide * tall > MOST_CELLS or text.count(b"<c") > MOST_CELLS:
        raise FileUnreadable(
            f"The sheet {sheet!r} reaches over more than {MOST_CELLS} cells.",
            remedy="Delete what stands far outside the table, or send CSV.",
        )


def _bound_text(text: bytes, shared: bytes, sheet: str) -> None:
    lengths = [len(one) for one in _TEXT_ENDS.split(shared)]
    if max(lengths) * text.count(b"<c") <= MOST_TEXT:
        return
    whole = sum(lengths[number] for one in _TEXT_AT.findall(text) if (number := int(one)) < len(lengths))
    if whole > MOST_TEXT:
        raise FileUnreadable(f"The sheet {sheet!r} repeats too long texts.", remedy="Send CSV.")


def _fault(attributes: bytes, words: str, remedy: str, value: str) -> Fault | None:
    found = _ADDRESS.search(attributes)
    if found is None:
        return None
    letters = found[1].rstrip(b"0123456789")
    return Fault(int(found[1][len(letters) :]) - 1, _column(letters), words, remedy, value)


def _column(letters: bytes) -> int:
    number = 0
    for one in letters:
        number = number * 26 + one - 64
    return number - 1
