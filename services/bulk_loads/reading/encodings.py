"""From bytes to text: UTF-8, UTF-16 with its mark, and what older spreadsheets on Windows write."""

import codecs
import re

from services.bulk_loads.refusals import FileUnreadable

# The longer mark first: the one of UTF-32 begins with that of UTF-16.
_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_CONTROLS = re.compile(r"[\x01-\x08\x0b\x0c\x0e-\x1f\x7f]")
_FOREIGN = re.compile(r"[^\x00-\x7f]")


def decode(content: bytes, *, older: bool = False) -> tuple[str, list[str]]:
    """(text, notes on the file). ``older`` also takes Windows-1252, of which Latin-1's letters are a part.

    Raises `FileUnreadable` where the bytes are no text, with the first offending byte.
    """
    encoding = next((name for mark, name in _MARKS if content.startswith(mark)), "")
    notes = []
    try:
        if encoding in {"", "utf-8"}:
            text = content.decode("utf-8-sig")
        else:
            text = content.decode(encoding)
            notes.append(f"The file is {encoding.upper()}, read by its byte order mark.")
    except UnicodeDecodeError as error:
        if encoding or not older:
            raise FileUnreadable(
                f"The file is not {(encoding or 'utf-8').upper()} (byte {error.start}).",
                remedy="Save it as UTF-8 and send it again.",
            ) from error
        text = _windows(content, error.start)
        notes.append(f"The file is not UTF-8; it was read as Windows-1252. Check {_example(text)!r}.")
    if "\x00" in text:
        raise FileUnreadable("The file holds NUL characters.", remedy="Send plain text, as UTF-8.")
    return text, notes


def _windows(content: bytes, first: int) -> str:
    try:
        text = content.decode("cp1252")
    except UnicodeDecodeError as error:
        raise FileUnreadable(
            f"The file is neither UTF-8 (byte {first}) nor Windows-1252 (byte {error.start}).",
            remedy="Save it as UTF-8 and send it again.",
        ) from error
    found = _CONTROLS.search(text)
    if found:
        raise FileUnreadable(
            f"The file is neither UTF-8 (byte {first}) nor plain text (byte {found.start()}).",
            remedy="Save it as CSV in UTF-8, or send the workbook as XLSX.",
        )
    return text


def _example(text: str) -> str:
    """The first word that was read otherwise than as ASCII."""
    found = _FOREIGN.search(text)
    place = found.start() if found else 0
    start = max((text.rfind(sign, 0, place) for sign in ' ,;\t\n"'), default=-1) + 1
    return re.split(r"[ ,;\t\r\n\"]", text[start : start + 60], maxsplit=1)[0]
