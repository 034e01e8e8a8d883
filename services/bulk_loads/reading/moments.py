"""Dates and times as people and spreadsheets write them, read in one way only or not at all."""

import contextlib
import datetime
import re

from services.bulk_loads.reading.result import CellWrong, DateForm

NO_DATE, NO_TIME = "It is no date.", "It is no time."
# A spreadsheet counts days; with this zero its numbers are right from March 1900 on.
DAY_ZERO = datetime.date(1899, 12, 30)
DAY_ZERO_1904 = datetime.date(1904, 1, 1)
EARLIEST, LATEST = datetime.date(1930, 1, 1), datetime.date(2130, 1, 1)
_SERIAL = re.compile(r"\d{5}(?:\.\d{1,15})?")
_DOTS = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})\.?")
_STROKES = re.compile(r"(\d{1,2})[/-](\d{1,2})[/-](\d{4})")
_YEAR_FIRST = re.compile(r"(\d{4})[/.](\d{1,2})[/.](\d{1,2})")
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2})(?:\.\d{1,6})?)?")


def read_date(text: str, form: DateForm = "", *, zero: datetime.date = DAY_ZERO) -> tuple[datetime.date, list[str]]:
    """(date, notes). Raises `CellWrong` for what is no date, or two."""
    if len(text) == 10:
        with contextlib.suppress(ValueError):
            return datetime.date.fromisoformat(text), []
    day = _other_date(text, form, zero)
    return day, [f"read as {day.isoformat()}"]


def _other_date(text: str, form: DateForm, zero: datetime.date) -> datetime.date:
    if _SERIAL.fullmatch(text):
        return from_serial(float(text), zero)[0]
    for sign in ("T", " "):
        day, found, clock = text.partition(sign)
        if found and _is_clock(clock):
            return read_date(day, form, zero=zero)[0]
    return _written(text, form)


def _is_clock(text: str) -> bool:
    found = _CLOCK.fullmatch(text.strip().removesuffix("Z"))
    return bool(found) and int(found[1]) < 24 and int(found[2]) < 60  # type: ignore[index]


def _written(text: str, form: DateForm) -> datetime.date:
    found = _YEAR_FIRST.fullmatch(text)
    if found:
        return _day(found[1], found[2], found[3])
    found = _DOTS.fullmatch(text)
    if found and form != "month-first":
        return _day(found[3], found[2], found[1])
    found = found or _STROKES.fullmatch(text)
    if not found:
        raise CellWrong(NO_DATE)
    first, second, year = found.groups()
    if form == "day-first" or int(first) > 12 or first == second:
        return _day(year, second, first)
    if form == "month-first" or int(second) > 12:
        return _day(year, first, second)
    either = [f"{year}-{int(month):02d}-{int(day):02d}" for month, day in ((second, first), (first, second))]
    raise CellWrong(
        f"It could be {either[0]} or {either[1]}.",
        f"Write {either[0]} or {either[1]}, or load with a mapping that names the form of dates.",
    )


def _day(year: str, month: str, day: str) -> datetime.date:
    try:
        return datetime.date(int(year), int(month), int(day))
    except ValueError as error:
        raise CellWrong(NO_DATE) from error


def from_serial(number: float, zero: datetime.date = DAY_ZERO) -> tuple[datetime.date, datetime.datetime]:
    """(date, moment in UTC) of a spreadsheet's day number. Raises `CellWrong` outside two centuries around ours."""
    try:
        day = zero + datetime.timedelta(days=int(number))
    except OverflowError as error:
        raise CellWrong(NO_DATE) from error
    if not EARLIEST <= day < LATEST:
        raise CellWrong(NO_DATE, "Write it like 2026-01-31.")
    seconds = round((number - int(number)) * 86400)
    start = datetime.datetime.combine(day, datetime.time(), datetime.UTC)
    return day, start + datetime.timedelta(seconds=seconds)


def read_moment(
    text: str, form: DateForm = "", *, zero: datetime.date = DAY_ZERO
) -> tuple[datetime.datetime, list[str]]:
    """(moment in UTC, notes). A time without a zone is UTC. Raises `CellWrong`."""
    if len(text) >= 10:
        with contextlib.suppress(ValueError, OverflowError):
            return in_utc(datetime.datetime.fromisoformat(text)), []
    moment = _other_moment(text, form, zero)
    return moment, [f"read as {moment:%Y-%m-%d %H:%M} UTC"]


def _other_moment(text: str, form: DateForm, zero: datetime.date) -> datetime.datetime:
    if _SERIAL.fullmatch(text):
        return from_serial(float(text), zero)[1]
    day, _, clock = text.partition(" ")
    found = _CLOCK.fullmatch(clock.strip() or "0:00")
    if not found:
        raise CellWrong(NO_TIME)
    try:
        time = datetime.time(int(found[1]), int(found[2]), int(found[3] or 0))
        return datetime.datetime.combine(_written(day, form), time, datetime.UTC)
    except CellWrong as error:
        raise CellWrong(NO_TIME if str(error) == NO_DATE else str(error), error.remedy) from error
    except ValueError as error:
        raise CellWrong(NO_TIME) from error


def in_utc(moment: datetime.datetime) -> datetime.datetime:
    """The moment in UTC; without a zone it is UTC. Raises `OverflowError` at the ends of the calendar."""
    return (moment if moment.tzinfo else moment.replace(tzinfo=datetime.UTC)).astimezone(datetime.UTC)
