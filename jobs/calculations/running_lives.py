"""From readings of hour meters and days of overhauls to lives in running hours.

Days are numbers of days from any one beginning, parts of days included; pumps are numbered 0, 1, 2 ... Everything is
worked out for all pumps at once.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]
Flags = NDArray[np.bool_]

HOURS_OF_A_DAY = 24.0
# How fast a pump runs now is read from so many days before its last reading, where they span at least so many.
RECENT_DAYS, SPAN_DAYS = 365.0, 30.0
# What is overhauled again within a day's running is the same overhaul (common practice, no source).
SHORTEST_LIFE_HOURS = 24.0
# Pump and day in one sortable number: far more days than any record holds.
_APART = 1e6


@dataclass(frozen=True)
class Readings:
    """Hour readings [readings], sorted by pump and then by day. ``new_meter`` where a meter begins with the reading."""

    pump: Counts
    day: Floats
    hours: Floats
    new_meter: Flags


class RunningTime:
    """How long each of ``pumps`` pumps has run on any day.

    Between two readings of one meter the running is even. While a meter was changed nothing is counted, since nobody
    knows. Before the first and after the last reading a pump runs as many hours a day as ``per_day`` says.
    ``installed`` [pumps]: the day, NaN where it is not known. A pump without two readings, or one reading and the day
    on which it was installed with an unused meter, runs as the mean of the pumps that are read, 24 hours a day where
    none is (common practice, no source); ``read`` [pumps] tells of which it is known.
    """

    def __init__(self, pumps: int, readings: Readings, installed: Floats) -> None:
        self._keys = readings.pump * _APART + readings.day
        self._day, self._pump = readings.day, readings.pump
        self._begin = np.searchsorted(readings.pump, np.arange(pumps))
        self._end = np.searchsorted(readings.pump, np.arange(pumps), side="right")
        steps = np.diff(readings.hours, prepend=0.0)
        first = np.zeros(len(steps), dtype=bool)
        first[self._begin[self._end > self._begin]] = True
        steps[readings.new_meter | first] = 0.0
        run = np.cumsum(np.maximum(steps, 0.0))
        base = np.where(first, np.where(readings.new_meter, 0.0, readings.hours) - run, 0.0)
        self._run = run + base[self._begin[readings.pump]] if len(run) else run
        self._installed = installed
        self.read, self.per_day = self._rates(pumps)

    def _rates(self, pumps: int) -> tuple[Flags, Floats]:
        many = np.flatnonzero(self._end > self._begin)
        rates = np.full(pumps, np.nan)
        if len(many):
            begin, last = self._begin[many], self._end[many] - 1
            recent = np.searchsorted(self._keys, many * _APART + self._day[last] - RECENT_DAYS)
            recent = np.maximum(recent, begin)
            start = np.where(self._day[last] - self._day[recent] >= SPAN_DAYS, recent, begin)
            days, run = self._day[last] - self._day[start], self._run[last] - self._run[start]
            # One reading only: the meter began with the pump.
            alone = last == begin
            days = np.where(alone, self._day[last] - self._installed[many], days)
            run = np.where(alone, self._run[last], run)
            with np.errstate(invalid="ignore", divide="ignore"):
                known = run / days
            known[~(days > 0) | (alone & (known > HOURS_OF_A_DAY))] = np.nan
            rates[many] = np.clip(known, 0.0, HOURS_OF_A_DAY)
        read = ~np.isnan(rates)
        usual = float(rates[read].mean()) if read.any() else HOURS_OF_A_DAY
        return read, np.where(read, rates, usual)

    def at(self, pump: Counts, day: Floats) -> Floats:
        """Hours each pump has run in all by a day of its own; before the first reading this may be below zero."""
        if not len(self._keys):
            return self.per_day[pump] * (day - np.nan_to_num(self._installed[pump]))
        begin, end = self._begin[pump], self._end[pump]
        place = np.searchsorted(self._keys, pump * _APART + day, side="right") - 1
        held = np.clip(place, begin, np.maximum(end - 1, begin))
        held = np.minimum(held, len(self._keys) - 1)
        after = np.minimum(held + 1, len(self._keys) - 1)
        between = (place >= begin) & (held + 1 < end)
        gap = np.where(between, self._day[after] - self._day[held], 1.0)
        share = np.where(gap > 0, (day - self._day[held]) / np.where(gap > 0, gap, 1.0), 0.0)
        inside = self._run[held] + share * (self._run[after] - self._run[held])
        outside = self._run[held] + self.per_day[pump] * (day - self._day[held])
        unread = self.per_day[pump] * (day - np.nan_to_num(self._installed[pump]))
        return np.where(end > begin, np.where(between, inside, outside), unread)

    def last_read(self, pump: Counts, day: Floats) -> Floats:
        """The day of each pump's last reading up to a day; that day itself where there is none."""
        if not len(self._keys):
            return day
        place = np.searchsorted(self._keys, pump * _APART + day, side="right") - 1
        known = place >= self._begin[pump]
        return np.where(known, self._day[np.maximum(place, 0)], day)

    def born(self) -> Floats:
        """[pumps] running time at which the first life begins: when installed, or when its meter began; NaN where a
        pump has neither a day nor a reading."""
        everyone = np.arange(len(self._installed))
        when = np.nan_to_num(self._installed)
        fresh = np.where(self._end > self._begin, 0.0, np.nan)
        return np.where(np.isnan(self._installed), fresh, self.at(everyone, when))


@dataclass(frozen=True)
class Overhauls:
    """Overhauls that are done [overhauls], in any order. ``foreseen`` where somebody had planned it well before."""

    pump: Counts
    day: Floats
    foreseen: Flags


@dataclass(frozen=True)
class Lives:
    """Lives [lives] in running hours, ended by an overhaul that was not foreseen (``failed``) or longer than told."""

    pump: Counts
    hours: Floats
    failed: Flags


def lives_of(
    time: RunningTime, overhauls: Overhauls, until: Floats, running: Flags, *, of_that_day: bool = False
) -> tuple[Lives, Floats]:
    """(lives, ages): every life up to ``until`` [pumps], and how long each pump has run since its last overhaul
    [pumps], NaN where it has none and nothing tells when it began.

    Overhauls after ``until`` are not known yet; ``of_that_day`` those of the day that begins with it are. ``running``
    [pumps]: where a pump stands, its time stands still from its last reading on. Lives of less than a day's running
    are none.
    """
    end = until[overhauls.pump]
    known = overhauls.day < end + 1 if of_that_day else overhauls.day <= end
    order = np.lexsort((overhauls.day[known], overhauls.pump[known]))
    pump, day = overhauls.pump[known][order], overhauls.day[known][order]
    foreseen = overhauls.foreseen[known][order]
    ran = time.at(pump, day)
    first = np.ones(len(pump), dtype=bool)
    first[1:] = pump[1:] != pump[:-1]
    born = time.born()
    before = np.empty(len(pump))
    before[1:] = ran[:-1]
    before[first] = born[pump[first]]
    begun = born.copy()
    begun[pump] = ran  # The last one of each pump stays.
    everyone = np.arange(len(until))
    seen = np.where(running, until, np.minimum(time.last_read(everyone, until), until))
    with np.errstate(invalid="ignore"):
        ages = np.maximum(time.at(everyone, seen) - begun, 0.0)
    lives = np.concatenate([ran - before, ages])
    owners = np.concatenate([pump, everyone])
    failed = np.concatenate([~foreseen, np.zeros(len(everyone), dtype=bool)])
    with np.errstate(invalid="ignore"):
        kept = lives >= SHORTEST_LIFE_HOURS
    return Lives(owners[kept], lives[kept], failed[kept]), ages
