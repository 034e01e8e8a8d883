"""How wrong history and the installed pumps would have been lately: both asked again as of four earlier days.

Each origin is told only what was known on its day: readings and overhauls up to it, lives fitted to those alone. What
they are held against is how many overhauls that nobody had planned used a kit in the three months after it, over all
sites together; pumps with a planned one in that time are left out on both sides, as they are from the forecast.
"""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from jobs.calculations.life_families import fit_families
from jobs.calculations.overhaul_chances import chance_of_overhaul
from jobs.calculations.running_lives import Counts, Flags, Floats, Overhauls, Readings, RunningTime, lives_of
from kits.calculations.demand_forecast import forecast
from kits.calculations.demand_history import months_after, months_before
from kits.calculations.forecast_blend import weight_of_history

ORIGINS, MONTHS_AHEAD, FEWEST_MONTHS = 4, 3, 6


@dataclass(frozen=True)
class Fleet:
    """Everything known of all pumps; days as `datetime.date.toordinal` counts them. ``kit`` [overhauls] numbers."""

    family_of: Sequence[str]
    class_of: Mapping[str, str]
    readings: Readings
    installed: Floats
    running: Flags
    overhauls: Overhauls
    kit: Counts


@dataclass(frozen=True)
class Judged:
    """Of one kit: the weight of history, and what it came from."""

    weight_of_history: float
    origins: int
    history_errors: list[float]
    installed_errors: list[float]


def judge_history(fleet: Fleet, kits: Sequence[int], as_of: datetime.date) -> dict[int, Judged]:
    """The weight of history by number of the kit, over the origins with six whole months of records before them."""
    errors: dict[int, tuple[list[float], list[float]]] = {kit: ([], []) for kit in kits}
    days = fleet.overhauls.day
    if len(days):
        begun = _next_month(datetime.date.fromordinal(int(days.min())))
        for back in range(ORIGINS, 0, -1):
            origin = months_before(as_of, MONTHS_AHEAD * back)
            if months_between(begun, origin) >= FEWEST_MONTHS:
                _judge(fleet, errors, begun, origin)
    return {kit: Judged(weight_of_history(*both), len(both[0]), both[0], both[1]) for kit, both in errors.items()}


def _judge(
    fleet: Fleet, errors: dict[int, tuple[list[float], list[float]]], begun: datetime.date, origin: datetime.date
) -> None:
    start, end = float(origin.toordinal()), float(months_after(origin, MONTHS_AHEAD).toordinal())
    done = fleet.overhauls
    known, within = done.day <= start, (done.day > start) & (done.day <= end)
    planned = np.zeros(len(fleet.installed), dtype=bool)
    planned[done.pump[within & done.foreseen]] = True
    chances = _chances_at(fleet, start, end)
    chances[planned] = 0.0
    came = within & ~done.foreseen & ~planned[done.pump]
    shares = _shares_by_family(fleet, known)
    months = months_between(begun, origin)
    for kit, (of_history, of_pumps) in errors.items():
        used = known & ~done.foreseen & (fleet.kit == kit)
        series = [0.0] * months
        for day in done.day[used]:
            place = months_between(begun, datetime.date.fromordinal(int(day)).replace(day=1))
            if 0 <= place < months:
                series[place] += 1
        actual = float((came & (fleet.kit == kit)).sum())
        share = np.array([shares.get((name, kit), 0.0) for name in fleet.family_of])
        of_history.append(forecast(series).mean * MONTHS_AHEAD - actual)
        of_pumps.append(float(chances @ share) - actual)


def _chances_at(fleet: Fleet, start: float, end: float) -> Floats:
    """[pumps] the chance of each that ran on the first day."""
    held = fleet.readings.day <= start
    read = fleet.readings
    before = Readings(read.pump[held], read.day[held], read.hours[held], read.new_meter[held])
    pumps = len(fleet.installed)
    time = RunningTime(pumps, before, fleet.installed)
    lives, ages = lives_of(time, fleet.overhauls, np.full(pumps, start), fleet.running)
    fits = fit_families(lives, fleet.family_of, fleet.class_of, draws=1)
    if not fits:
        return np.zeros(pumps)
    shape = np.array([fits[name].fit.shape for name in fleet.family_of])
    scale = np.array([fits[name].fit.scale for name in fleet.family_of])
    mean = np.array([fits[name].fit.mean for name in fleet.family_of])
    unknown = np.isnan(ages)
    hours = time.per_day * (end - start)
    chances = chance_of_overhaul(
        np.where(unknown, 0.0, ages), hours, np.where(unknown, 1.0, shape), np.where(unknown, mean, scale)
    )
    chances[~fleet.running | (fleet.installed > start)] = 0.0
    return chances


def _shares_by_family(fleet: Fleet, known: Flags) -> dict[tuple[str, int], float]:
    counts: dict[tuple[str, int], int] = {}
    totals: dict[str, int] = {}
    for pump, kit in zip(fleet.overhauls.pump[known], fleet.kit[known], strict=True):
        family = fleet.family_of[pump]
        counts[(family, int(kit))] = counts.get((family, int(kit)), 0) + 1
        totals[family] = totals.get(family, 0) + 1
    return {(family, kit): count / totals[family] for (family, kit), count in counts.items()}


def months_between(first: datetime.date, last: datetime.date) -> int:
    """Whole months from the month of one day to that of another."""
    return (last.year - first.year) * 12 + last.month - first.month


def _next_month(day: datetime.date) -> datetime.date:
    return months_after(day, 0 if day.day == 1 else 1)
