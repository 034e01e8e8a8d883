"""Replay a demand table against the policies of replenishment and of a person, and say what each would have served."""

import csv
import json
import pathlib
from typing import Any

import numpy as np
from django.core.management.base import BaseCommand, CommandError, CommandParser
from numpy.typing import NDArray

from kits.calculations.backtest import (
    DefaultPolicy,
    LastPeriod,
    Policy,
    Replay,
    TopUp,
    fixed_levels,
    replay,
    tuned_multiplier,
)


class Command(BaseCommand):
    """``manage.py backtest --demand FILE.csv``: a header ``series,m01,...``, one row a series, whole units."""

    help = "Replays a demand table month by month; no policy sees a month before it is over."

    def add_arguments(self, parser: CommandParser) -> None:
        """The table, where the replay begins, the target and the lead time."""
        parser.add_argument("--demand", required=True, type=pathlib.Path, help="CSV: series,m01,m02,...")
        parser.add_argument("--from-period", type=int, default=25, help="First period replayed.")
        parser.add_argument("--target", type=float, default=0.95, help="Share of units to be met at once.")
        parser.add_argument("--lead-time", type=int, default=0, help="Whole periods beyond the next one.")
        parser.add_argument("--json", action="store_true", help="One JSON object instead of sentences.")

    def handle(self, *args: Any, **options: Any) -> None:
        """Replay each policy and print what it got."""
        demand = read_table(options["demand"])
        begin, target, lead_time = options["from_period"], options["target"], options["lead_time"]
        if not 2 <= begin <= len(demand):
            raise CommandError(f"--from-period: the table has periods 1 to {len(demand)}; give one from 2 on.")
        if not 0 < target < 1:
            raise CommandError("--target: give a share between 0 and 1, such as 0.95.")
        if lead_time < 0:
            raise CommandError("--lead-time: give 0 or more whole periods.")
        found = compare(demand, from_period=begin, target=target, lead_time=lead_time)
        if options["json"]:
            self.stdout.write(json.dumps(found))
            return
        for name, one in found["policies"].items():
            self.stdout.write(f"{name}: {_sentence(one)}")
        self.stdout.write(_hindsight(found["policies"]["fixed_min_max"]))


def read_table(path: pathlib.Path) -> NDArray[np.int64]:
    """Demand (periods, series). Raises `CommandError` naming the row and column that cannot be read."""
    try:
        with path.open(newline="", encoding="utf-8") as file:
            rows = list(csv.reader(file))
    except (OSError, UnicodeDecodeError) as error:
        raise CommandError(f"{path} cannot be read: {error}") from None
    if len(rows) < 2 or len(rows[0]) < 2 or rows[0][0] != "series":
        raise CommandError(f"{path}: the first line must be series,m01,m02,... and a row a series must follow.")
    table = np.zeros((len(rows[0]) - 1, len(rows) - 1), np.int64)
    for place, row in enumerate(rows[1:]):
        if len(row) != len(rows[0]):
            raise CommandError(f"{path}, line {place + 2}: {len(row)} columns where the header has {len(rows[0])}.")
        for period, cell in enumerate(row[1:]):
            if not cell.strip().isdigit() or len(cell.strip()) > 9:
                raise CommandError(f"{path}, line {place + 2}, {rows[0][period + 1]}: {cell!r} is no whole number.")
            table[period, place] = int(cell)
    return table


def compare(demand: NDArray[np.int64], *, from_period: int, target: float, lead_time: int) -> dict[str, Any]:
    """What each policy served and kept, as `--json` prints it."""
    series = demand.shape[1]
    known = demand[: from_period - 1]

    def played(policy: Policy) -> Replay:
        return replay(demand, policy, from_period=from_period, lead_time=lead_time)

    default = played(DefaultPolicy(series, target=target, lead_time=lead_time))
    tuned = tuned_multiplier(known, known, target, from_period=1, lead_time=lead_time)
    fixed = played(TopUp(fixed_levels(known, tuned or 0.0, lead_time=lead_time)))
    hindsight: dict[str, Any] = {"reachable": False}
    if default.fill_rate is not None:
        raised = tuned_multiplier(known, demand, default.fill_rate, from_period=from_period, lead_time=lead_time)
        if raised is not None:
            again = played(TopUp(fixed_levels(known, raised, lead_time=lead_time)))
            hindsight = {"reachable": True, "multiplier": raised, **_figures(again)}
    return {
        "series": series,
        "policies": {
            "default": _figures(default),
            "fixed_min_max": {**_figures(fixed), "multiplier": tuned, "at_default_fill": hindsight},
            "last_period": _figures(played(LastPeriod(series, lead_time=lead_time))),
        },
    }


def _figures(one: Replay) -> dict[str, Any]:
    return {
        "fill_rate": one.fill_rate,
        "standard_error": one.standard_error,
        "mean_stock": one.mean_stock,
        "stockouts": int(one.stockouts.sum()),
        "orders": int(one.orders.sum()),
    }


def _sentence(one: dict[str, Any]) -> str:
    kept = f"{one['mean_stock']:.1f} units on the shelves at the end of a period, {one['orders']} orders"
    if one["fill_rate"] is None:
        return f"fewer than five units were asked for: no evidence of a fill rate; {kept}."
    error = "" if one["standard_error"] is None else f" (standard error {one['standard_error']:.4f})"
    return f"fill rate {one['fill_rate']:.4f}{error}, {one['stockouts']} periods with a shortage, {kept}."


def _hindsight(fixed: dict[str, Any]) -> str:
    other = fixed["at_default_fill"]
    if not other["reachable"]:
        return "However high the fixed levels are multiplied, they do not reach the default policy's fill rate."
    return f"The fixed levels need {other['mean_stock']:.1f} units for the default policy's fill rate."
