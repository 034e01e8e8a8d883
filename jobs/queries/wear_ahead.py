"""What is measured on pumps as a forecast of their overhauls: the chance that it comes to its limit."""

import datetime
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from jobs.calculations.running_lives import Floats, RunningTime
from jobs.calculations.trend_reading import chances_ahead
from jobs.queries.overhaul_history import History
from jobs.queries.trends import RUNS, PumpAt, Trend, trends_of


def wear_ahead(
    history: History, places: Sequence[int], time: RunningTime, among: Mapping[str, Any], as_of: datetime.date
) -> list[list[Trend]]:
    """Of each pump, given by its place in the fleet, the trends of parts in positions that come to a limit. ``among``
    chooses at least those pumps. Two statements."""
    known = [PumpAt(history.pumps[one].id, one, history.pumps[one].state == RUNS, None) for one in places]
    found = trends_of(known, time, as_of, among=among, of_positions=True)
    return [[one for one in found[pump.id] if one.reading.reached is not None] for pump in known]


def chances_of_wear(wear: Sequence[Sequence[Trend]], per_day: Floats, ends: Floats) -> Floats:
    """[pumps x periods] the chance that a characteristic is at its limit until so many days from now: of a pump with
    several that of the one that comes soonest; nothing of a pump that runs no hours."""
    worn = np.zeros((len(wear), len(ends)))
    for place, trends in enumerate(wear):
        if trends and per_day[place] > 0:
            hours = (per_day[place] * ends).tolist()
            worn[place] = np.max([chances_ahead(one.reading, hours) for one in trends], axis=0)
    return worn


def soonest_wear(trends: Sequence[Trend]) -> dict[str, Any] | None:
    """The characteristic that is expected at its limit first, and when; None where none is."""
    dated = [one for one in trends if one.reading.day is not None]
    if not dated:
        return None
    first = min(dated, key=lambda one: (str(one.reading.day), one.code))
    return {
        "characteristic": first.code,
        "name": first.name,
        "expected_on": str(first.reading.day),
        "earliest_on": str(first.reading.earliest_day),
        "latest_on": str(first.reading.latest_day) if first.reading.latest_day else None,
    }


def wear_shown(
    wear: Sequence[Sequence[Trend]], sooner: Sequence[tuple[int, float, float]], history: History, mine: Sequence[int]
) -> list[dict[str, Any]]:
    """Pumps whose wear comes sooner than their life, with both chances until the month's end."""
    found = []
    for place, life, worn in sooner:
        one = wear[place][0]
        first = soonest_wear(wear[place]) or {"characteristic": one.code, "name": one.name, "expected_on": None}
        found.append(
            {
                "pump": history.pumps[mine[place]].tag,
                "characteristic": first["characteristic"],
                "name": first["name"],
                "expected_on": first["expected_on"],
                "chance_of_life_until": round(life, 6),
                "chance_of_wear_until": round(worn, 6),
            }
        )
    return found
