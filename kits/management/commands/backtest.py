"""Replay a demand table, or the needs of a site, against the policies of replenishment and of a person, and say what
each would have served."""

import csv
import json
import pathlib
from typing import Any

import numpy as np
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
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
from kits.calculations.demand_history import months_after
from kits.calculations.demand_table import DemandTable
from kits.calculations.reorder_point import DAYS_OF_MONTH
from kits.queries.backtest_history import site_demand, site_with_code
from services.web.charts import Curve, Point, chart

# The fixed levels of the chart's curve, as multiples of mean demand.
MULTIPLIERS = (0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.0, 10.0)
NAMES = {"default": "Replenishment", "fixed_min_max": "Fixed levels", "last_period": "What was used last month"}


class Command(BaseCommand):
    """``manage.py backtest --demand FILE.csv``: a first line ``series,m01,...``, then a line for each series, in whole
    units. Or ``--site CODE``: the unplanned needs of the site's items by month, from its ledger."""

    help = "Replays a demand table month by month; no policy sees a month before it is over."

    def add_arguments(self, parser: CommandParser) -> None:
        """The table, where the replay begins, the target and the lead time."""
        source = parser.add_mutually_exclusive_group(required=True)
        source.add_argument("--demand", type=pathlib.Path, help="CSV: series,m01,m02,...")
        source.add_argument("--site", help="A site's code: its own needs of the last 36 whole months.")
        parser.add_argument("--from-period", type=int, default=25, help="First period replayed.")
        parser.add_argument("--target", type=float, default=0.95, help="Share of units to be met at once.")
        parser.add_argument("--lead-time", type=int, default=0, help="Whole periods beyond the next one.")
        parser.add_argument("--json", action="store_true", help="One JSON object instead of sentences.")
        parser.add_argument("--chart", type=pathlib.Path, help="An SVG: fill rate against stock, by policy.")

    def handle(self, *args: Any, **options: Any) -> None:
        """Replay each policy and print what it got."""
        begin, target, lead_time = options["from_period"], options["target"], options["lead_time"]
        if not 0 < target < 1:
            raise CommandError("--target: give a share between 0 and 1, such as 0.95.")
        if lead_time < 0:
            raise CommandError("--lead-time: give 0 or more whole periods.")
        first, about = None, {}
        if options["site"] is not None:
            site = site_with_code(options["site"])
            if site is None:
                raise CommandError(f"--site: there is no site {options['site']}; GET /sites lists them.")
            table = table_of_site(site, from_period=begin, lead_time=lead_time)
            demand, first, about = table.demand, table.first, about_site(site.code, table, begin)
        else:
            demand = read_table(options["demand"])
            if not 2 <= begin <= len(demand):
                raise CommandError(f"--from-period: the table has periods 1 to {len(demand)}; give one from 2 on.")
        found = about | compare(demand, from_period=begin, target=target, lead_time=lead_time, first=first)
        if options["chart"] is not None:
            curve = fixed_curve(demand, from_period=begin, lead_time=lead_time, first=first)
            _write(options["chart"], drawn(found, curve, target=target))
        if options["json"]:
            self.stdout.write(json.dumps(found))
            return
        if about:
            self.stdout.write(_about(found))
        for name, one in found["policies"].items():
            self.stdout.write(f"{name}: {_sentence(one)}")
        if found["policies"]["default"]["fill_rate"] is not None:
            self.stdout.write(_hindsight(found["policies"]["fixed_min_max"]))


def table_of_site(site: Any, *, from_period: int, lead_time: int) -> DemandTable[Any]:
    """The unplanned needs of a site's items: those not claimed before an order of then would have come. Raises
    `CommandError` where there is too little to replay."""
    table = site_demand(
        site.pk,
        as_of=timezone.now().date(),
        from_period=max(from_period, 2),
        horizon_days=(lead_time + 1) * DAYS_OF_MONTH,
    )
    months = len(table.demand)
    if months < 2:
        raise CommandError(f"The ledger of {site.code} holds {months} whole months; a replay takes at least 2.")
    if not 2 <= from_period <= months:
        raise CommandError(
            f"The ledger of {site.code} holds {months} whole months; --from-period: give one from 2 to {months}."
        )
    if not table.items:
        raise CommandError(
            f"No item was kept at {site.code} for a whole month before month {from_period}: give an earlier "
            "--from-period, or wait until there is more to learn from."
        )
    return table


def about_site(code: str, table: DemandTable[Any], from_period: int) -> dict[str, Any]:
    """What was replayed and what was left out, as `--json` prints it beside the policies."""
    return {
        "site": code,
        "first_month": table.first_month.isoformat(),
        "replayed_from": months_after(table.first_month, from_period - 1).isoformat(),
        "months": len(table.demand),
        "left_out": {"new": len(table.new), "in_parts": len(table.in_parts)},
    }


def read_table(path: pathlib.Path) -> NDArray[np.int64]:
    """Demand (periods, series). Raises `CommandError` naming the row and column that cannot be read."""
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            rows = list(csv.reader(file))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise CommandError(f"{path} cannot be read: {error}") from None
    if len(rows) < 2 or len(rows[0]) < 2 or rows[0][0] != "series":
        raise CommandError(f"{path}: the first line must be series,m01,m02,... and a row a series must follow.")
    table = np.zeros((len(rows[0]) - 1, len(rows) - 1), np.int64)
    for place, row in enumerate(rows[1:]):
        if len(row) != len(rows[0]):
            raise CommandError(f"{path}, line {place + 2}: {len(row)} columns where the header has {len(rows[0])}.")
        for period, cell in enumerate(row[1:]):
            if not cell.strip().isdecimal() or len(cell.strip()) > 9:
                raise CommandError(f"{path}, line {place + 2}, {rows[0][period + 1]}: {cell!r} is no whole number.")
            table[period, place] = int(cell)
    return table


def compare(
    demand: NDArray[np.int64],
    *,
    from_period: int,
    target: float,
    lead_time: int,
    first: NDArray[np.int64] | None = None,
) -> dict[str, Any]:
    """What each policy served and kept, as `--json` prints it; periods before ``first`` (series,) are absent."""
    series = demand.shape[1]
    known = demand[: from_period - 1]

    def played(policy: Policy) -> Replay:
        return replay(demand, policy, from_period=from_period, lead_time=lead_time)

    default = played(DefaultPolicy(series, target=target, lead_time=lead_time, first=first))
    tuned = tuned_multiplier(known, known, target, from_period=1, lead_time=lead_time, first=first)
    fixed = played(TopUp(fixed_levels(known, tuned or 0.0, lead_time=lead_time, first=first)))
    hindsight: dict[str, Any] = {"reachable": False}
    if default.fill_rate is not None:
        raised = tuned_multiplier(
            known, demand, default.fill_rate, from_period=from_period, lead_time=lead_time, first=first
        )
        if raised is not None:
            again = played(TopUp(fixed_levels(known, raised, lead_time=lead_time, first=first)))
            hindsight = {"reachable": True, "multiplier": raised, **_figures(again)}
    return {
        "series": series,
        "policies": {
            "default": _figures(default),
            "fixed_min_max": {**_figures(fixed), "multiplier": tuned, "at_default_fill": hindsight},
            "last_period": _figures(played(LastPeriod(series, lead_time=lead_time))),
        },
    }


def fixed_curve(
    demand: NDArray[np.int64], *, from_period: int, lead_time: int, first: NDArray[np.int64] | None = None
) -> list[tuple[float, float, str]]:
    """Mean stock, fill rate and multiplier of fixed levels; empty where there is no evidence of a fill rate."""
    found = []
    for one in MULTIPLIERS:
        levels = fixed_levels(demand[: from_period - 1], one, lead_time=lead_time, first=first)
        again = replay(demand, TopUp(levels), from_period=from_period, lead_time=lead_time)
        if again.fill_rate is not None:
            found.append((again.mean_stock, again.fill_rate, f"× {one:g}"))
    return found


def drawn(found: dict[str, Any], curve: list[tuple[float, float, str]], *, target: float) -> str:
    """The chart of a comparison. Raises `CommandError` where there is no evidence to draw."""
    points = [
        Point(f"{NAMES[name]}: {_sentence(one)}", one["mean_stock"], one["fill_rate"], one["standard_error"])
        for name, one in found["policies"].items()
        if one["fill_rate"] is not None
    ]
    if not points:
        raise CommandError("--chart: fewer than five units were asked for, so there is no fill rate to draw.")
    where = f" at {found['site']}" if "site" in found else ""
    return chart(
        title=f"What each policy would have served{where}",
        description=(
            "Share of units met at once, upwards, against mean units on the shelves at the end of a period, across. "
            f"Bars are one standard error. Target {target:.0%}. " + " ".join(one.name for one in points)
        ),
        x_label="Units on the shelves at the end of a period, on average",
        y_label="Share of units met at once",
        points=[
            Point(f"{NAMES[name]}: {one.y:.4f} ± {one.error or 0:.4f} with {one.x:,.1f} units", one.x, one.y, one.error)
            for name, one in zip(found["policies"], points, strict=True)
        ],
        curves=[Curve("Fixed levels by multiple of mean demand (bars: one standard error)", curve)],
        highest_y=1.0,
    )


def _write(path: pathlib.Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise CommandError(f"{path} cannot be written: {error}") from None


def _about(found: dict[str, Any]) -> str:
    left = found["left_out"]
    sentences = [
        (
            f"{found['series']} items of {found['site']}, {found['months']} whole months from "
            f"{found['first_month'][:7]}, replayed from {found['replayed_from'][:7]}."
        ),
        "Needs that jobs had claimed early enough to order for are left out.",
    ]
    if left["new"]:
        sentences.append(f"Left out, since they came later than that: {left['new']}.")
    if left["in_parts"]:
        sentences.append(f"Left out, since they are taken in parts of a unit: {left['in_parts']}.")
    return " ".join(sentences)


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
