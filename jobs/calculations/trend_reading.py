"""A trend read: the fit of a characteristic on one pump, when it comes to its limit, and the words for it."""

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from jobs.calculations.printed_quantities import unit_name
from jobs.calculations.wear_points import Segment, WearPoint
from jobs.calculations.wear_trend import (
    CONFIDENCE,
    Reached,
    WearFit,
    age_at,
    chance_reached,
    fit_wear,
    limit_ahead,
    value_at,
)

Outcome = Literal["too-few", "no-limit", "steady", "at-limit", "reached", "stands-still"]
# What lies further ahead than a pump is kept is no date worth giving (common practice, no source).
FURTHEST_DAYS = 36525.0
RATE_HOURS = 1000


@dataclass(frozen=True)
class TrendReading:
    """What the points of one characteristic say.

    ``age`` is the running hours of the present part today, ``expected`` its value now with its interval; ``limit`` the
    one that the rate leads to, as it stood at the last measurement. Hours are from today on; a day is None where the
    hour is, where the pump stands, or where it lies beyond a hundred years.
    """

    outcome: Outcome
    unit: str
    age: float
    fit: WearFit | None
    limit: float | None
    expected: tuple[float, float, float] | None
    reached: Reached | None
    hours_left: float | None
    earliest_hours: float | None
    latest_hours: float | None
    day: datetime.date | None
    earliest_day: datetime.date | None
    latest_day: datetime.date | None
    words: str


def read_trend(
    segments: Sequence[Segment], points: Sequence[WearPoint], *, ran: float, per_day: float, today: datetime.date
) -> TrendReading:
    """The reading of points in the order of time, the last of them the newest. ``ran``: running time of the pump today;
    ``per_day``: hours a day from now on. Raises `ValueError` without a point."""
    if not points:
        raise ValueError("a trend is of at least one value")
    last, present = points[-1], segments[-1]
    age, unit = max(ran - present.ran, 0.0), last.taken.unit
    fit = fit_wear([one.age for one in points], [one.taken.value for one in points],
                   [float(one.segment) for one in points], present.number)  # fmt: skip

    def answer(outcome: Outcome, words: str, limit: float | None = None) -> TrendReading:
        expected = value_at(fit, age) if fit else None
        return TrendReading(
            outcome,
            unit,
            age,
            fit,
            limit,
            expected,
            None,
            None,
            None,
            None,
            None,
            None,
            None,
            _sentences(fit, unit, words),
        )

    if fit is None:
        return answer("too-few", _too_few(points, present))
    if not fit.moves:
        return answer(
            "steady", "Its interval holds zero: nothing tells that it wears, so no limit is reached on this trend."
        )
    limit = limit_ahead(fit, last.taken.lower, last.taken.upper)
    if limit is None:
        return answer("no-limit", "No limit reached on this trend: there is none on the side that it leads to.")
    reached = age_at(fit, limit)
    assert reached is not None  # noqa: S101 - a rate that moves is not zero
    hours = reached.age - age
    if hours <= 0:
        words = f"It is at its limit of {figure(limit)} {unit_name(unit)} by now, if it went on as before."
        return _dated("at-limit", unit, age, fit, limit, reached, per_day, today, words)
    outcome: Outcome = "reached" if per_day > 0 else "stands-still"
    return _dated(outcome, unit, age, fit, limit, reached, per_day, today, "")


def _dated(
    outcome: Outcome, unit: str, age: float, fit: WearFit, limit: float, reached: Reached, per_day: float,
    today: datetime.date, words: str,
) -> TrendReading:  # fmt: skip
    hours = [None if one is None else max(one - age, 0.0) for one in (reached.age, reached.earliest, reached.latest)]
    days = [day_of(one, per_day, today) for one in hours]
    said = words or _reached_words(outcome, limit, unit, hours, days)
    return TrendReading(
        outcome, unit, age, fit, limit, value_at(fit, age), reached, hours[0], hours[1], hours[2], days[0], days[1],
        days[2], _sentences(fit, unit, said),
    )  # fmt: skip


def day_of(hours: float | None, per_day: float, today: datetime.date) -> datetime.date | None:
    """The day on which a pump has run so many hours more."""
    if hours is None:
        return None
    if hours <= 0:
        return today
    if per_day <= 0 or hours / per_day > FURTHEST_DAYS:
        return None
    return today + datetime.timedelta(days=math.floor(hours / per_day))


def earliest_hours(reading: TrendReading, accepted: float) -> float | None:
    """Hours from today on within which the chance that the limit is reached stays at ``accepted``, below one half, at
    most; None where the trend reaches none."""
    if reading.fit is None or reading.limit is None or reading.reached is None:
        return None
    found = age_at(reading.fit, reading.limit, confidence=1 - 2 * accepted)
    return None if found is None else max(found.earliest - reading.age, 0.0)


def chances_ahead(reading: TrendReading, hours: Sequence[float]) -> list[float]:
    """The chance that the limit is reached within each of so many hours from today on, in rising order, given that it
    is not today; all zero where the trend reaches none."""
    if reading.fit is None or reading.limit is None or reading.reached is None:
        return [0.0] * len(hours)
    now, *ahead = chance_reached(reading.fit, reading.limit, [reading.age, *(reading.age + one for one in hours)])
    if reading.outcome == "at-limit" or now >= 1:
        return [1.0] * len(hours)
    return [float((one - now) / (1 - now)) for one in ahead]


def figure(value: float) -> str:
    """Four figures at most, none lost before the point."""
    return f"{value:.0f}" if abs(value) >= 1000 else f"{value:.4g}"


def _too_few(points: Sequence[WearPoint], present: Segment) -> str:
    here = sum(one.segment == present.number for one in points)
    since = {
        "new": "since the pump was new",
        "renewed": "since the part was fitted",
        "reworked": "since it was reworked",
    }
    values = "one value" if len(points) == 1 else f"{len(points)} values"
    return f"Too few to tell: {values} in all, {here} {since[present.because]}."


def _sentences(fit: WearFit | None, unit: str, words: str) -> str:
    if fit is None:
        return words
    low, high = (figure(one * RATE_HOURS) for one in (fit.rate_low, fit.rate_high))
    how = "by least squares" if fit.method == "least-squares" else "by the median of slopes, since a value lies far off"
    parts = f"over {fit.segments} parts, each from its own level" if fit.segments > 1 else "on one part"
    rate = f"{figure(fit.rate * RATE_HOURS)} {unit_name(unit)} in {RATE_HOURS} h"
    return f"{fit.points} values {parts}: {rate} ({low} to {high} with {CONFIDENCE:.0%}), {how}. {words}"


def _reached_words(
    outcome: Outcome, limit: float, unit: str, hours: Sequence[float | None], days: Sequence[datetime.date | None]
) -> str:
    expected, earliest, latest = hours
    window = f"from {earliest:.0f} h" + (f" to {latest:.0f} h" if latest is not None else " on, without an end")
    said = f"The limit of {figure(limit)} {unit_name(unit)} is reached in {expected:.0f} h ({window})"
    if outcome == "stands-still":
        return f"{said}; the pump is not in service, so nothing tells on which day."
    if days[0] is None:
        return f"{said}, more than a hundred years on."
    ends = f"{days[1]} to {days[2]}" if days[2] else f"{days[1]} at the earliest"
    return f"{said}: on {days[0]} ({ends}). A trend replaces no look at the pump."
