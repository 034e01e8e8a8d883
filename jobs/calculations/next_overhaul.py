"""When a pump should be overhauled next. Four reasons are looked at; the one that comes first counts.

Calendar and hours are intervals that the operator sets. Wear is the day up to which the chance that what is measured on
a part in a position is at its limit stays within what is accepted. Risk is the first day from which the chance to have
to overhaul the pump within the time ahead that is looked at is more than accepted, from how long pumps of its model
last: with ``H(t) = (t / scale) ** shape`` the age at which ``H(t + ahead) - H(t) = -ln(1 - accepted)``.
"""

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from jobs.calculations.printed_quantities import unit_name
from jobs.calculations.trend_reading import TrendReading, day_of, earliest_hours, figure
from jobs.calculations.weibull import WeibullFit

Kind = Literal["calendar", "hours", "wear", "risk"]
DAYS_OF_MONTH = 365.25 / 12
# Ages a thousand times the scale are beyond anything that runs.
LARGEST_POWER = math.log(1000)
KINDS: tuple[Kind, ...] = ("calendar", "hours", "wear", "risk")


@dataclass(frozen=True)
class Interval:
    """What the operator sets for a criticality, or for a model in it: months and running hours between overhauls, None
    where it sets none; the chance that is accepted and over how many months ahead."""

    months: int | None
    running_hours: int | None
    accepted_chance: float
    months_ahead: int
    source: str
    model: str


@dataclass(frozen=True)
class PumpNow:
    """A pump today. ``begun``: when it was last overhauled, or installed; None where nobody knows. ``age``: hours run
    since, NaN where nobody knows; ``per_day`` from now on, 0 where it stands."""

    begun: datetime.date | None
    overhauled: bool
    age: float
    per_day: float


@dataclass(frozen=True)
class Watched:
    """A characteristic by its code and its name, and what its trend says."""

    code: str
    name: str
    reading: TrendReading


@dataclass(frozen=True)
class Candidate:
    """One reason with its day; None where it gives none, and the words say why. ``code``: the characteristic that
    wears."""

    kind: Kind
    day: datetime.date | None
    code: str
    words: str


@dataclass(frozen=True)
class Advice:
    """All candidates, by kind; the earliest one decides. ``day`` is None where none has one."""

    day: datetime.date | None
    decided_by: Kind | None
    overdue: bool
    candidates: tuple[Candidate, ...]
    words: str


def advise(
    pump: PumpNow,
    interval: Interval | None,
    trends: Sequence[Watched],
    life: WeibullFit | None,
    *,
    today: datetime.date,
) -> Advice:
    """The advice for one pump. ``trends``: of its characteristics; ``life``: in running hours, of pumps of its
    model."""
    if interval is None:
        none = [
            Candidate(kind, None, "", "Nobody has set an interval for its criticality.")
            for kind in ("calendar", "hours")
        ]
        accepted = [Candidate(kind, None, "", "Nobody has set which chance is accepted.") for kind in ("wear", "risk")]
        return _decided((*none, *accepted), today)
    return _decided(
        (
            _calendar(pump, interval),
            _hours(pump, interval, today),
            _wear(pump, interval, trends, today),
            _risk(pump, interval, life, today),
        ),
        today,
    )


def _calendar(pump: PumpNow, interval: Interval) -> Candidate:
    if interval.months is None:
        return Candidate("calendar", None, "", "No interval in months is set.")
    if pump.begun is None:
        return Candidate("calendar", None, "", "Nobody knows when it was installed or last overhauled.")
    day = months_on(pump.begun, interval.months)
    since = "its last overhaul" if pump.overhauled else "it was installed"
    return Candidate("calendar", day, "", f"{interval.months} months after {since} on {pump.begun}: {day}.")


def _hours(pump: PumpNow, interval: Interval, today: datetime.date) -> Candidate:
    if interval.running_hours is None:
        return Candidate("hours", None, "", "No interval in running hours is set.")
    if math.isnan(pump.age):
        return Candidate("hours", None, "", "Nobody knows how long it has run.")
    left = interval.running_hours - pump.age
    so_far = f"{pump.age:.0f} h of {interval.running_hours} h are run"
    if left <= 0:
        ago = -left / pump.per_day if pump.per_day > 0 else 0.0
        day = today - datetime.timedelta(days=math.floor(ago))
        return Candidate("hours", day, "", f"{so_far}: they were full on about {day}.")
    when = day_of(left, pump.per_day, today)
    if when is None:
        return Candidate(
            "hours", None, "", f"{so_far}; it is not in service, or the rest takes beyond a hundred years."
        )
    return Candidate("hours", when, "", f"{so_far}, {pump.per_day:.1f} h a day: {when}.")


def _wear(pump: PumpNow, interval: Interval, trends: Sequence[Watched], today: datetime.date) -> Candidate:
    found: list[tuple[datetime.date, str, str]] = []
    for one in trends:
        reading = one.reading
        hours = earliest_hours(reading, interval.accepted_chance)
        day = day_of(hours, pump.per_day, today)
        if day is not None and reading.limit is not None:
            expected = f"expected on {reading.day}" if reading.day else "expected beyond a hundred years"
            found.append(
                (
                    day,
                    one.code,
                    (
                        f"{one.name} is at {figure(reading.limit)} {unit_name(reading.unit)} by {day} with a chance of "
                        f"{interval.accepted_chance:.0%}; {expected}."
                    ),
                )
            )
    if found:
        return Candidate("wear", *min(found))
    if not trends:
        return Candidate("wear", None, "", "Nothing is measured on its parts in positions.")
    few = sum(one.reading.outcome == "too-few" for one in trends)
    return Candidate(
        "wear",
        None,
        "",
        f"No trend comes to a limit: {_counted(len(trends), few)}.",
    )


def _counted(trends: int, few: int) -> str:
    """How many trends there are, and how many of them rest on too few values."""
    what = "one characteristic is" if trends == 1 else f"{trends} characteristics are"
    seldom = "" if not few else ", too seldom to tell" if few == trends else f", {few} of them too seldom to tell"
    return f"{what} measured on its parts{seldom}"


def _risk(pump: PumpNow, interval: Interval, life: WeibullFit | None, today: datetime.date) -> Candidate:
    if life is None:
        return Candidate("risk", None, "", "Too few overhauls are recorded to tell how long such pumps last.")
    if math.isnan(pump.age):
        return Candidate("risk", None, "", "Nobody knows how long it has run.")
    if pump.per_day <= 0:
        return Candidate("risk", None, "", "It is not in service, so no hours come on.")
    ahead = pump.per_day * interval.months_ahead * DAYS_OF_MONTH
    within = f"within {interval.months_ahead} months ({ahead:.0f} h)"
    now = chance_within(pump.age, ahead, life)
    said = f"The chance that it has to be overhauled {within} is {now:.0%} today"
    if now >= interval.accepted_chance:
        return Candidate("risk", today, "", f"{said}, {interval.accepted_chance:.0%} is accepted.")
    age = age_of_risk(pump.age, ahead, interval.accepted_chance, life)
    if age is None:
        return Candidate(
            "risk", None, "", f"{said} and does not grow with age to the {interval.accepted_chance:.0%} accepted."
        )
    day = day_of(age - pump.age, pump.per_day, today)
    if day is None:
        return Candidate(
            "risk", None, "", f"{said}; it comes to {interval.accepted_chance:.0%} beyond a hundred years."
        )
    return Candidate("risk", day, "", f"{said} and comes to the {interval.accepted_chance:.0%} accepted on {day}.")


def chance_within(age: float, ahead: float, life: WeibullFit) -> float:
    """The chance of a failure within ``ahead`` hours of a pump that has run ``age`` hours."""
    return -math.expm1((age / life.scale) ** life.shape - ((age + ahead) / life.scale) ** life.shape)


def age_of_risk(age: float, ahead: float, accepted: float, life: WeibullFit) -> float | None:
    """The first age from ``age`` on from which the chance within ``ahead`` hours is ``accepted`` or more; None where it
    never is, as with a shape of 1 or less."""
    if chance_within(age, ahead, life) >= accepted:
        return age
    if life.shape <= 1:
        return None
    # Beyond this the hazard alone brings it: the mean of the rate over ``ahead`` is at least the rate at its beginning.
    wanted = -math.log1p(-accepted)
    power = math.log(wanted * life.scale / (life.shape * ahead)) / (life.shape - 1)
    if power > LARGEST_POWER:
        return None
    low, high = age, life.scale * math.exp(power)
    for _ in range(60):
        middle = (low + high) / 2
        if chance_within(middle, ahead, life) < accepted:
            low = middle
        else:
            high = middle
    return high


def months_on(day: datetime.date, months: int) -> datetime.date:
    """The same day of the month so many months on, its last day where the month has no such day."""
    place = day.year * 12 + day.month - 1 + months
    first = datetime.date(place // 12, place % 12 + 1, 1)
    longest = (datetime.date((place + 1) // 12, (place + 1) % 12 + 1, 1) - first).days
    return first.replace(day=min(day.day, longest))


def _decided(candidates: tuple[Candidate, ...], today: datetime.date) -> Advice:
    dated = [one for one in candidates if one.day is not None]
    if not dated:
        return Advice(None, None, False, candidates, "Nothing tells when to overhaul it next.")
    first = min(dated, key=lambda one: (one.day, KINDS.index(one.kind)))
    day = first.day
    assert day is not None  # noqa: S101 - filtered above
    names = {"calendar": "the calendar", "hours": "running hours", "wear": "wear", "risk": "risk"}
    overdue = day < today
    said = f"It was due on {day}" if overdue else "It is due today" if day == today else f"Next overhaul by {day}"
    words = f"{said}, for {names[first.kind]}: {first.words} Advice replaces no look at the pump."
    return Advice(day, first.kind, overdue, candidates, words)
