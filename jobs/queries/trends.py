"""What was measured on pumps over their running hours, and how it goes on."""

import datetime
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import numpy as np

from assets.calculations.units import UnitMismatch, UnknownUnit, convert
from assets.models import Pump, RunningHours
from jobs.calculations.running_lives import Readings, RunningTime
from jobs.calculations.trend_reading import TrendReading, read_trend
from jobs.calculations.wear_points import Renewal, Segment, Taken, WearPoint, wear_points
from jobs.models import FittedPart, Measurement
from jobs.queries.overhaul_history import day_number

RUNS = "in-service"


@dataclass(frozen=True)
class PumpAt:
    """A pump and its place in the running times that are given with it."""

    id: uuid.UUID
    place: int
    runs: bool
    installed_on: datetime.date | None


@dataclass(frozen=True)
class Trend:
    """One characteristic of one pump: ``roles`` are the positions whose renewal begins a new segment."""

    code: str
    name: str
    roles: tuple[str, ...]
    segments: list[Segment]
    points: list[WearPoint]
    reading: TrendReading


@dataclass(frozen=True)
class _Row:
    """A measurement as read; ``day`` as `day_number` counts."""

    pump: uuid.UUID
    code: str
    name: str
    roles: Sequence[str]
    job: str
    at: datetime.datetime
    section: str
    attempt: int
    value: Decimal
    uncertainty: Decimal
    lower: Decimal | None
    upper: Decimal | None
    unit: str
    verdict: str


def trends_of(
    known: Sequence[PumpAt],
    time: RunningTime,
    today: datetime.date,
    *,
    among: Mapping[str, Any],
    code: str | None = None,
    of_positions: bool = False,
) -> dict[uuid.UUID, list[Trend]]:
    """Trends of pumps by pump, in the order of their codes; what was measured after ``today`` is not known yet.
    ``among`` chooses at least those pumps by conditions on a pump; ``of_positions`` leaves out what belongs to no part
    in a position, such as the pressure left before opening or the temperature of the room. Two statements; callers have
    passed the gate."""
    place_of = {one.id: one for one in known}
    # A pump that came meanwhile, or that ``among`` has beside those asked for, is left aside.
    rows = [one for one in _measured(among, today, code, of_positions=of_positions) if one.pump in place_of]
    renewals = {pump: those for pump, those in _renewed(among, today).items() if pump in place_of}
    days = np.array([day_number(one.at) for one in rows], dtype=np.float64)
    places = np.array([place_of[one.pump].place for one in rows], dtype=np.int64)
    ran = time.at(places, days) if rows else np.zeros(0)
    fitted_days = np.array([day_number(at) for those in renewals.values() for _, _, at in those], dtype=np.float64)
    fitted_places = np.array([place_of[pump].place for pump, those in renewals.items() for _ in those], dtype=np.int64)
    fitted_ran = iter(time.at(fitted_places, fitted_days).tolist() if len(fitted_days) else [])
    fitted = {
        pump: [(role, Renewal(job, at, next(fitted_ran))) for role, job, at in those]
        for pump, those in renewals.items()
    }
    now_ran, born = now_by_pump(known, time, today), time.born()
    found: dict[uuid.UUID, list[Trend]] = {one.id: [] for one in known}
    grouped: dict[tuple[uuid.UUID, str], list[tuple[_Row, float]]] = {}
    for row, hours in zip(rows, ran.tolist(), strict=True):
        grouped.setdefault((row.pump, row.code), []).append((row, hours))
    for (pump, name), measured in sorted(grouped.items(), key=lambda one: one[0][1]):
        here = place_of[pump]
        per_day = float(time.per_day[here.place]) if here.runs else 0.0
        found[pump].append(
            _trend(name, measured, fitted.get(pump, []), here, float(born[here.place]), now_ran[pump], per_day, today)
        )
    return found


def _trend(
    code: str,
    measured: list[tuple[_Row, float]],
    fitted: list[tuple[str, Renewal]],
    pump: PumpAt,
    born: float,
    ran: float,
    per_day: float,
    today: datetime.date,
) -> Trend:
    last = max((row for row, _ in measured), key=lambda one: (one.at, one.attempt))
    taken = [one for row, hours in measured if (one := _taken(row, hours, last.unit)) is not None]
    first = min(one.ran for one in taken)
    # Nobody knows when it was new: then ages count from the first value.
    begun = first if np.isnan(born) else min(born, first)
    installed = (
        datetime.datetime.combine(pump.installed_on, datetime.time(), datetime.UTC) if pump.installed_on else None
    )
    renewals = [one for role, one in fitted if role in last.roles]
    segments, points = wear_points(taken, renewals, new=installed, born=begun)
    reading = read_trend(segments, points, ran=ran, per_day=per_day, today=today)
    return Trend(code, last.name, tuple(last.roles), segments, points, reading)


def _taken(row: _Row, ran: float, unit: str) -> Taken | None:
    """The row in the unit of the newest; None where an earlier revision measured something else under the code."""
    values: list[float | None] = []
    for one in (row.value, row.uncertainty, row.lower, row.upper):
        if one is None or row.unit == unit:
            values.append(None if one is None else float(one))
            continue
        try:
            zero = convert(Decimal(0), row.unit, unit) if one is row.uncertainty else Decimal(0)
            values.append(float(convert(one, row.unit, unit) - zero))
        except (UnknownUnit, UnitMismatch):
            return None
    value, uncertainty, lower, upper = values
    return Taken(
        row.job,
        row.at,
        ran,
        row.section,
        row.attempt,
        value or 0.0,
        uncertainty or 0.0,
        lower,
        upper,
        unit,
        row.verdict,
    )


def _measured(among: Mapping[str, Any], today: datetime.date, code: str | None, *, of_positions: bool) -> list[_Row]:
    found = Measurement.objects.filter(
        occurred_at__lt=_midnight_after(today), **_through("job_characteristic__job__pump__", among)
    ).exclude(job_characteristic__job__state="cancelled")
    if code is not None:
        found = found.filter(job_characteristic__code=code)
    if of_positions:
        found = found.exclude(job_characteristic__job_step__step__positions=[])
    rows = found.order_by("occurred_at", "attempt").values_list(
        "job_characteristic__job__pump_id", "job_characteristic__code", "job_characteristic__characteristic__name",
        "job_characteristic__job_step__step__positions", "job_characteristic__job__number", "occurred_at",
        "job_characteristic__job_step__section", "attempt", "value", "expanded_uncertainty", "lower", "upper",
        "limits_unit", "verdict",
    )  # fmt: skip
    # The columns stand in the order of the fields.
    return [_Row(*one) for one in rows]


def _renewed(
    among: Mapping[str, Any], today: datetime.date
) -> dict[uuid.UUID, list[tuple[str, str, datetime.datetime]]]:
    """(role, job, when) of every part fitted, by pump."""
    rows = FittedPart.objects.filter(fitted_at__lt=_midnight_after(today), **_through("pump__", among)).values_list(
        "pump_id", "role", "job__number", "fitted_at"
    )
    found: dict[uuid.UUID, list[tuple[str, str, datetime.datetime]]] = {}
    for pump, role, job, at in rows.order_by("pump_id", "fitted_at", "id"):
        found.setdefault(pump, []).append((role, job, at))
    return found


def _midnight_after(day: datetime.date) -> datetime.datetime:
    return datetime.datetime.combine(day + datetime.timedelta(days=1), datetime.time(), datetime.UTC)


def _through(path: str, among: Mapping[str, Any]) -> dict[str, Any]:
    """Conditions on a pump as conditions on rows that lead to one."""
    return {path + name: value for name, value in among.items()}


def now_by_pump(known: Sequence[PumpAt], time: RunningTime, today: datetime.date) -> dict[uuid.UUID, float]:
    """Running time of each pump by now; where it stands, by its last reading."""
    places = np.array([one.place for one in known], dtype=np.int64)
    if not len(places):
        return {}
    day = np.full(len(places), float(today.toordinal()))
    runs = np.array([one.runs for one in known])
    when = np.where(runs, day, np.minimum(time.last_read(places, day), day))
    return dict(zip((one.id for one in known), time.at(places, when).tolist(), strict=True))


def running_time_of(rows: Sequence[tuple[uuid.UUID, datetime.date | None]], among: Mapping[str, Any]) -> RunningTime:
    """Running times of pumps given as (id, installed on), in their order; ``among`` chooses their readings. One
    statement; a second one where a pump has no hours that tell: then all pumps say how many a day are usual."""
    ids = [pk for pk, _ in rows]
    installed = np.array([float(day.toordinal()) if day else np.nan for _, day in rows], dtype=np.float64)
    time = RunningTime(len(ids), _readings(ids, _through("pump__", among)), installed)
    if time.read.all():
        return time
    everyone = Pump.objects.exclude(pk__in=ids).order_by("id").values_list("id", "installed_on")
    others = [(pk, day) for pk, day in everyone]
    days = np.array([float(day.toordinal()) if day else np.nan for _, day in others], dtype=np.float64)
    return RunningTime(
        len(ids) + len(others), _readings([*ids, *(pk for pk, _ in others)], {}), np.concatenate([installed, days])
    )


def _readings(ids: Sequence[uuid.UUID], among: Mapping[str, Any]) -> Readings:
    place = {pk: number for number, pk in enumerate(ids)}
    rows = [
        (place[pump], day_number(at), float(hours), new)
        for pump, at, hours, new in RunningHours.objects.filter(**among).values_list(
            "pump_id", "read_at", "hours", "meter_change"
        )
    ]
    rows.sort(key=lambda one: one[:2])
    return Readings(
        np.array([one[0] for one in rows], dtype=np.int64),
        np.array([one[1] for one in rows], dtype=np.float64),
        np.array([one[2] for one in rows], dtype=np.float64),
        np.array([one[3] for one in rows], dtype=np.bool_),
    )
