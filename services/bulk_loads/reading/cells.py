"""One cell read as its column's type: mended and noted where that takes no guessing, else a problem."""

import datetime
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import partial
from typing import Any

from services.api.loading import Column
from services.api.problems import near
from services.bulk_loads.reading import moments, numbers
from services.bulk_loads.reading.result import PLAIN, CellWrong, Marked, Reading

YES = {"yes", "y", "true", "1", "x"}
NO = {"no", "n", "false", "0"}
NOT_CLEAN = object()
_CLEAN_TEXT = re.compile(
    r"(?!\d+(?:[.,]\d+)?[eE][+-]?\d+$)(?!\d{1,2}-[A-Z][a-z]{2}$)(?![A-Z][a-z]{2}-\d{2}$)[!-~](?:[ -~]*[!-~])?"
)
_POWER = re.compile(r"[+-]?\d+(?:[.,]\d+)?[eE][+-]?\d+")
_CUT_DATE = re.compile(r"(?:\d{1,2}-[A-Z][a-z]{2}|[A-Z][a-z]{2}-\d{2})")
_INVISIBLE = str.maketrans({**dict.fromkeys("\u200b\ufeff\u2060\u00ad"), **dict.fromkeys("\u00a0\u202f", " ")})
_WHOLE = re.compile(r"[+-]?\d{1,9}")
# A spreadsheet keeps 15 digits of a number; from here on the last ones are made up.
_EXACT_BELOW = 1e15


@dataclass(frozen=True)
class Habits:
    """How a whole file writes: columns with decimal commas, and the width of codes that are padded with zeros."""

    commas: frozenset[str] = frozenset()
    padded: Mapping[str, int] = field(default_factory=dict)
    bent: bool = False
    typed: bool = False
    zero: datetime.date = moments.DAY_ZERO
    reading: Reading = PLAIN


def clean_reader(column: Column, habits: Habits) -> Callable[[str], Any]:
    """A quick reader for texts that need no mending; it answers NOT_CLEAN for all others."""
    plain = not habits.reading.translations.get(column.name)
    if column.type == "text" and plain and column.name not in habits.padded:
        fits = _CLEAN_TEXT.fullmatch
        return lambda text: text if fits(text) else NOT_CLEAN
    mark_is_point = habits.reading.decimal_mark != "," and column.name not in habits.commas
    if column.type == "decimal" and plain and mark_is_point and column.name not in habits.reading.units:
        places = 14 if column.places is None else column.places
        point = re.compile(rf"[+-]?\d{{1,12}}(?:\.\d{{1,{places}}})?" if places else r"[+-]?\d{1,12}").fullmatch
        return lambda text: Decimal(text) if len(text) < 15 and point(text) else NOT_CLEAN
    if column.type == "choice" and plain:
        known = {one: one for one in column.choices}
        return lambda text: known.get(text, NOT_CLEAN)
    return lambda text: NOT_CLEAN


def read_cell(cell: Any, column: Column, habits: Habits) -> tuple[Any, list[str]]:
    """(value, notes); an empty cell is None. Raises `CellWrong` saying what is wrong."""
    notes: list[str] = []
    if isinstance(cell, Marked):
        if cell.problem:
            raise CellWrong(cell.problem, cell.remedy)
        cell, notes = cell.value, [cell.note]
    if cell is None or cell == "":
        return None, []
    if isinstance(cell, bool):
        cell = "yes" if cell else "no"
    if isinstance(cell, (list, dict)):
        raise CellWrong("It is no single value.")
    if not isinstance(cell, str):
        value, more = _read_value(cell, column, habits)
        return value, notes + more
    if "\x00" in cell:
        raise CellWrong("It holds a NUL character.")
    bare = cell.strip().strip("\u200b\ufeff").strip()
    if bare != cell:
        notes.append("spaces around it taken off")
    if not bare:
        return None, []
    bare, translated = _translated(bare, column, habits.reading)
    value, more = _READERS[column.type](bare, column, habits)
    return value, notes + translated + more


def _translated(text: str, column: Column, reading: Reading) -> tuple[str, list[str]]:
    words = reading.translations.get(column.name)
    if not words:
        return text, []
    ours = words.get(text)
    if ours is None:
        ours = {one.strip().casefold(): other for one, other in words.items()}.get(text.casefold())
    return (text, []) if ours is None else (ours, [f"translated to {ours}"])


def _text(text: str, column: Column, habits: Habits) -> tuple[str, list[str]]:
    notes = []
    plain = text.translate(_INVISIBLE)
    if plain != text:
        notes.append("non-breaking and invisible characters replaced")
    untyped = habits.bent and not habits.typed
    if untyped and _POWER.fullmatch(plain):
        raise CellWrong(
            "It looks like a number that a spreadsheet shortened.",
            "Format the column as text, enter the value again, and save; or send the workbook as XLSX.",
        )
    if untyped and _CUT_DATE.fullmatch(plain):
        notes.append("it looks like a date that a spreadsheet made of a number; taken as written")
    return plain, notes + _may_lack_zeros(plain, column, habits)


def _may_lack_zeros(text: str, column: Column, habits: Habits) -> list[str]:
    width = habits.padded.get(column.name, 0)
    if len(text) < width and text.isascii() and text.isdigit() and not text.startswith("0"):
        return [f"may have lost leading zeros: other rows have {width} digits, such as {text.zfill(width)}"]
    return []


def _decimal(text: str, column: Column, habits: Habits) -> tuple[Decimal, list[str]]:
    number = partial(numbers.read_number, mark=habits.reading.decimal_mark, commas=column.name in habits.commas)
    if column.convert is None:
        value, notes = number(text)
    else:
        value, notes = numbers.measured(text, column, habits.reading.units.get(column.name, ""), number)
    value, more = numbers.kept(value, column)
    return value, notes + more


def _integer(text: str, column: Column, habits: Habits) -> tuple[int, list[str]]:
    if _WHOLE.fullmatch(text):
        return int(text), []
    try:
        value, notes = numbers.read_number(text, habits.reading.decimal_mark, commas=column.name in habits.commas)
    except CellWrong as error:
        raise CellWrong("It is no whole number.", error.remedy) from error
    return _whole(value), notes or [f"read as {value:.0f}"]


def _whole(value: Decimal) -> int:
    if value != value.to_integral_value() or abs(value) >= 10**9:
        raise CellWrong("It is no whole number.")
    return int(value)


def _yes_no(text: str, column: Column, habits: Habits) -> tuple[bool, list[str]]:
    low = text.lower()
    if low in YES:
        return True, []
    if low in NO:
        return False, []
    raise CellWrong("It is neither yes nor no.")


def _date(text: str, column: Column, habits: Habits) -> tuple[datetime.date, list[str]]:
    return moments.read_date(text, habits.reading.date_form, zero=habits.zero)


def _datetime(text: str, column: Column, habits: Habits) -> tuple[datetime.datetime, list[str]]:
    return moments.read_moment(text, habits.reading.date_form, zero=habits.zero)


def _choice(text: str, column: Column, habits: Habits) -> tuple[str, list[str]]:
    plain = " ".join(text.translate(_INVISIBLE).split()).casefold()
    for one in column.choices:
        if plain == one.casefold() or re.sub(r"[ _]+", "-", plain) == one.casefold():
            return one, [] if text == one else [f"read as {one}"]
    raise CellWrong(f"It is none of those possible.{near(text, column.choices)}")


_READERS: Mapping[str, Callable[[str, Column, Habits], tuple[Any, list[str]]]] = {
    "text": _text,
    "decimal": _decimal,
    "integer": _integer,
    "yes_no": _yes_no,
    "date": _date,
    "datetime": _datetime,
    "choice": _choice,
}


def _read_value(cell: Any, column: Column, habits: Habits) -> tuple[Any, list[str]]:
    """A number or a date that the file gives as such."""
    if isinstance(cell, (int, float)):
        return _read_figure(cell, column, habits)
    if isinstance(cell, datetime.date):
        return _read_day(cell, column)
    if isinstance(cell, datetime.timedelta) and column.type == "decimal" and column.unit == "h":
        hours = numbers.kept(Decimal(round(cell.total_seconds())) / 3600, column)[0]
        return hours, [f"a span of time, read as {hours:f} h"]
    raise CellWrong("It is a time of day.", "" if column.type != "text" else "Format the column as text.")


def _read_figure(cell: float, column: Column, habits: Habits) -> tuple[Any, list[str]]:
    value, notes = numbers.from_float(cell) if isinstance(cell, float) else (Decimal(cell), [])
    if column.type == "decimal":
        unit = habits.reading.units.get(column.name, "")
        if unit:
            value = numbers.convert(value, unit, column)
        value, more = numbers.kept(value, column)
        return value, notes + more
    if column.type == "integer":
        return _whole(value), notes
    if column.type in {"date", "datetime"} and habits.bent:
        day, moment = moments.from_serial(float(cell), habits.zero)
        found = day if column.type == "date" else moment
        return found, [f"a spreadsheet's day number, read as {found:%Y-%m-%d}"]
    if column.type == "text" and habits.bent and abs(cell) >= _EXACT_BELOW:
        raise CellWrong(
            "A spreadsheet kept it as a number, of which it keeps only 15 digits.",
            "Format the column as text and enter the value again.",
        )
    text = f"{value:f}"
    if column.type == "text" and habits.bent and value != value.to_integral_value():
        notes = [*notes, "it was kept as a number; zeros at its end may be lost"]
    found, more = _READERS[column.type](*_translated(text, column, habits.reading)[:1], column, habits)
    return found, notes + more


def _read_day(cell: datetime.date, column: Column) -> tuple[Any, list[str]]:
    is_moment = isinstance(cell, datetime.datetime)
    if column.type == "date":
        day = cell.date() if isinstance(cell, datetime.datetime) else cell
        return day, [f"read as {day.isoformat()}; the time of day left out"] if is_moment and cell != day else []
    if column.type == "datetime":
        start = cell if isinstance(cell, datetime.datetime) else datetime.datetime.combine(cell, datetime.time())
        return moments.in_utc(start), []
    if column.type == "text" and column.may_be_date:
        return cell.isoformat()[:10], []
    raise CellWrong(
        "A spreadsheet turned it into a date.", "Format the column as text and enter the value again as it should be."
    )


def remedy(column: Column) -> str:
    """What would help in a cell of the column."""
    number = "Write a number such as 12.5."
    return {
        "decimal": number if not column.unit else f"Write a number such as 12.5, in {column.unit}.",
        "integer": "Write a whole number.",
        "yes_no": "Write yes or no.",
        "date": "Write it like 2026-01-31.",
        "datetime": "Write it like 2026-01-31 06:00 (UTC) or 2026-01-31T06:00:00Z.",
        "choice": f"One of {', '.join(column.choices)}.",
    }.get(column.type, column.help or "Fill it in.")
