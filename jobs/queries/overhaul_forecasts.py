"""What a site's pumps will need and when one pump comes up: history read, calculations asked, results shaped."""

import calendar
import datetime
import uuid
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from django.utils import timezone

from assets.queries.pumps import pump_for
from assets.queries.sites import site_for
from jobs.calculations.life_families import FamilyFit, fit_families
from jobs.calculations.overhaul_backtest import Judged, judge_history, months_between
from jobs.calculations.overhaul_chances import chance_of_overhaul
from jobs.calculations.overhaul_forecast import KitUsed, SitePumps, Uses, forecast_site, shares_of_kits
from jobs.calculations.overhaul_words import fit_shown, words_of_month, words_of_pump
from jobs.calculations.running_lives import Flags, Floats, RunningTime, lives_of
from jobs.calculations.weibull import DRAWS
from jobs.queries.overhaul_history import History, live_overhauls, overhaul_history
from jobs.queries.wear_ahead import chances_of_wear, soonest_wear, wear_ahead, wear_shown
from kits.calculations.demand_forecast import Forecast, forecast
from kits.calculations.demand_history import monthly_demand, months_after, months_before
from kits.calculations.forecast_blend import InstalledDemand, blend_forecast
from kits.calculations.reorder_point import DAYS_OF_MONTH
from kits.models import ExpectedOverhauls
from kits.queries.expected_overhauls import (
    claims_of_jobs,
    expected_rows,
    kits_kept_since,
    kits_that_fit,
    walk_in_needs,
)
from services.identity.callers import Caller

MONTHS = 13
Offers = dict[uuid.UUID, list[tuple[uuid.UUID, str]]]
HISTORY_MONTHS = 36


@dataclass(frozen=True)
class Outlook:
    """The fleet with its lives as of a day: ages and hours a day of all pumps, and the fit of each family."""

    history: History
    time: RunningTime
    ages: Floats
    per_day: Floats
    read: Flags
    fits: dict[str, FamilyFit]


def outlook(as_of: datetime.date, *, draws: int = DRAWS) -> Outlook:
    """Lives of the whole fleet as of a day, with what was overhauled on that day. Three statements."""
    history = overhaul_history()
    fleet = history.fleet
    pumps = len(history.pumps)
    time = RunningTime(pumps, fleet.readings, fleet.installed)
    today = np.full(pumps, float(as_of.toordinal()))
    lives, ages = lives_of(time, fleet.overhauls, today, fleet.running, of_that_day=True)
    fits = fit_families(lives, fleet.family_of, fleet.class_of, draws=draws)
    return Outlook(history, time, ages, np.where(fleet.running, time.per_day, 0.0), time.read, fits)


def expectations(site_id: uuid.UUID, as_of: datetime.date) -> list[ExpectedOverhauls]:
    """Rows of a site, unsaved: each item that a pump there may need, by month. Ten statements."""
    found = outlook(as_of)
    mine = [n for n, one in enumerate(found.history.pumps) if one.site_id == site_id and one.state != "withdrawn"]
    months = [months_after(as_of, place) for place in range(MONTHS)]
    ends = np.array([(_after(one) - as_of).days for one in months], dtype=np.float64)
    jobs, claims = live_overhauls(site_id), claims_of_jobs(site_id)
    planned = _planned(jobs, claims, as_of, months)
    from_day, ages = np.zeros(len(mine)), found.ages[mine].copy()
    place_of = {found.history.pumps[one].id: place for place, one in enumerate(mine)}
    _plan_in(jobs, place_of, from_day, ages, as_of, ends)
    offers = kits_that_fit({kept for one in mine if (kept := found.history.pumps[one].build_class_id)})
    uses, items, shares = _uses(found.history, mine, offers, {one["kit_id"] for one in planned})
    stands_for = _stands_for(found.history, offers, items)
    certain = np.zeros((len(items), MONTHS), dtype=np.int64)
    number = {item: place for place, item in enumerate(items)}
    for one in planned:
        certain[number[one["kit_id"]], one["month"]] += 1
        pump = place_of.get(one["pump_id"])
        one["needed_before"] = 0.0 if pump is None else _before(found, mine[pump], from_day[pump])
    wear = wear_ahead(found.history, mine, found.time, {"site_id": site_id}, as_of)
    worn = chances_of_wear(wear, found.per_day[mine] * (from_day == 0), ends)
    pumps = SitePumps([found.history.pumps[one].model for one in mine], ages, found.per_day[mine], from_day, worn)
    results = forecast_site(pumps, uses, found.fits, ends, certain)
    judged = _judged(found.history, stands_for, items, as_of)
    streams = _streams(found.history, stands_for, site_id, items, as_of)
    rows = []
    for place, item in enumerate(items):
        result, (history, walk_in) = results[place], streams[item]
        if not result.pumps and not certain[place].any():
            continue
        for month, period in enumerate(result.periods):
            days = float(ends[month] - (ends[month - 1] if month else 0))
            blend = blend_forecast(
                _joined(history, walk_in),
                InstalledDemand(
                    period.mean, period.variance, judged[item].weight_of_history, walk_in.mean, walk_in.variance
                ),
                days=days,
            )
            jobs_of_month = [
                {"job": one["number"], "day": one["day"].isoformat(), "needed_before": round(one["needed_before"], 6)}
                for one in planned
                if one["kit_id"] == item and one["month"] == month
            ]
            figures = {
                "mean": period.mean,
                "variance": period.variance,
                "no_overhaul": min(max(period.none, 0.0), 1.0),
                "q95": period.q95,
                "certain": period.certain,
                "mean_until": period.mean_until,
                "variance_until": period.variance_until,
                "q95_until": period.q95_until,
                "certain_until": period.certain_until,
                "pumps": result.pumps,
                "weight_of_history": judged[item].weight_of_history,
                "history_mean": blend.history_mean,
                "walk_in_mean": walk_in.mean * days / DAYS_OF_MONTH,
                "walk_in_variance": walk_in.variance * days / DAYS_OF_MONTH,
                "blended_mean": blend.mean,
                "blended_variance": blend.variance,
            }
            rows.append(
                ExpectedOverhauls(
                    site_id=site_id,
                    item_id=item,
                    month=months[month],
                    as_of=as_of,
                    planned=jobs_of_month,
                    families=[
                        fit_shown(name, found.fits[name]) | {"pumps": count, "mean": means[month]}
                        for name, (count, means) in sorted(result.families.items())
                    ],
                    working=_working(judged[item], history, walk_in, period.q95_at_best_fit, shares.get(item, {}), days)
                    | {
                        "wear": (ahead := wear_shown(wear, result.sooner[month], found.history, mine)),
                        "words": words_of_month(figures, jobs_of_month, ahead),
                    },
                    **figures,
                )
            )
    return rows


def _working(
    judged: Judged, history: Forecast, walk_in: Forecast, q95: int, shares: dict[str, float], days: float
) -> dict[str, Any]:
    return {
        "days": days,
        "q95_at_best_fit": q95,
        "shares": shares,
        "origins": judged.origins,
        "history_errors": [round(one, 6) for one in judged.history_errors],
        "installed_errors": [round(one, 6) for one in judged.installed_errors],
        "history": _shown(history),
        "walk_in": _shown(walk_in),
    }


def _shown(one: Forecast) -> dict[str, Any]:
    return {"method": one.method, "a_month": one.mean, "events": one.events, "months": one.months}


def _planned(
    jobs: list[dict[str, Any]],
    claims: set[tuple[uuid.UUID, uuid.UUID]],
    as_of: datetime.date,
    months: list[datetime.date],
) -> list[dict[str, Any]]:
    """Jobs whose kit is still to be taken within the months looked at; one that is overdue needs it today."""
    found = []
    for job in jobs:
        day = max(job["planned_start"], as_of)
        month = months_between(months[0], day)
        if month < len(months) and (job["started_at"] is None or (job["id"], job["kit_id"]) in claims):
            found.append(job | {"day": day, "month": month})
    return found


def _plan_in(
    jobs: list[dict[str, Any]],
    place_of: dict[uuid.UUID, int],
    from_day: Floats,
    ages: Floats,
    as_of: datetime.date,
    ends: Floats,
) -> None:
    """A pump with a job within the months looked at begins anew on its last job's day."""
    for job in jobs:
        place = place_of.get(job["pump_id"])
        days = float((max(job["planned_start"], as_of) - as_of).days)
        if place is not None and days < ends[-1]:
            from_day[place], ages[place] = max(from_day[place], days), 0.0


def _before(found: Outlook, pump: int, days: float) -> float:
    """The chance that a pump with a planned job has to be overhauled before it."""
    chances = _chances(found, pump, [days])
    return chances[0] if chances else 0.0


def _chances(found: Outlook, pump: int, days: list[float]) -> list[float]:
    fit = found.fits.get(found.history.pumps[pump].model)
    if fit is None:
        return []
    age, life = found.ages[pump], fit.fit
    hours = found.per_day[pump] * np.array(days)
    if np.isnan(age):
        return [float(one) for one in chance_of_overhaul(0.0, hours, 1.0, life.mean)]
    return [float(one) for one in chance_of_overhaul(age, hours, life.shape, life.scale)]


def _uses(
    history: History, mine: list[int], offers: Offers, planned: set[uuid.UUID]
) -> tuple[Uses, list[uuid.UUID], dict[uuid.UUID, dict[str, float]]]:
    """Which kit an overhaul of each pump of the site may use, and in which share; by item the share of each family's
    first build class, to be shown."""
    pumps = [history.pumps[one] for one in mine]
    counts: dict[str, dict[int, int]] = {}
    for one in history.past:
        family = counts.setdefault(history.fleet.family_of[one.pump], {})
        family[one.kit] = family.get(one.kit, 0) + 1
    used = {
        family: [KitUsed(str(history.kits[kit][0]), history.kits[kit][1], times) for kit, times in kits.items()]
        for family, kits in counts.items()
    }
    items = sorted({kit for those in offers.values() for kit, _ in those} | planned, key=str)
    number = {item: place for place, item in enumerate(items)}
    rows: list[tuple[int, int, float]] = []
    shown: dict[uuid.UUID, dict[str, float]] = {}
    known: dict[tuple[str, uuid.UUID], list[float]] = {}
    for place, pump in enumerate(pumps):
        offered = offers.get(pump.build_class_id, []) if pump.build_class_id else []
        if not offered:
            continue
        key = (pump.model, pump.build_class_id or pump.id)
        if key not in known:
            known[key] = shares_of_kits([(str(kit), name) for kit, name in offered], used.get(pump.model, []))
        for (kit, _), share in zip(offered, known[key], strict=True):
            rows.append((number[kit], place, share))
            shown.setdefault(kit, {}).setdefault(pump.model, share)
    rows.sort()
    table = np.array(rows, dtype=np.float64).reshape(-1, 3)
    return Uses(table[:, 1].astype(np.int64), table[:, 0].astype(np.int64), table[:, 2]), items, shown


def _stands_for(history: History, offers: Offers, items: list[uuid.UUID]) -> list[int]:
    """To each kit that past overhauls used the place of the item that is used now: itself, or where it is no longer
    offered the last revision of its number that is; -1 where none is."""
    place = {item: number for number, item in enumerate(items)}
    last = {number: kit for those in offers.values() for kit, number in those}
    return [place.get(kit, place.get(last.get(number, kit), -1)) for kit, number in history.kits]


def _judged(
    history: History, stands_for: list[int], items: list[uuid.UUID], as_of: datetime.date
) -> dict[uuid.UUID, Judged]:
    used = np.array(stands_for, dtype=np.int64)[history.fleet.kit]
    judged = judge_history(replace(history.fleet, kit=used), range(len(items)), as_of)
    return {item: judged[place] for place, item in enumerate(items)}


def _streams(
    history: History, stands_for: list[int], site_id: uuid.UUID, items: list[uuid.UUID], as_of: datetime.date
) -> dict[uuid.UUID, tuple[Forecast, Forecast]]:
    """By item what the site's own history says of a month: overhauls that nobody had planned, and what was issued
    without a job."""
    since = months_before(as_of, HISTORY_MONTHS)
    here = [one for one in history.past if one.site_id == site_id]
    begun = min((one.day for one in here), default=as_of)
    jobs: dict[uuid.UUID, list[tuple[datetime.date, Any]]] = {}
    for one in here:
        if not one.foreseen and stands_for[one.kit] >= 0:
            jobs.setdefault(items[stands_for[one.kit]], []).append((one.day, 1))
    loose, kept = walk_in_needs(site_id, since), kits_kept_since(site_id)
    found = {}
    for item in items:
        of_jobs = monthly_demand(jobs.get(item, []), kept_since=begun, as_of=as_of, months=HISTORY_MONTHS)
        of_loose = monthly_demand(
            loose.get(item, []), kept_since=kept.get(item, as_of), as_of=as_of, months=HISTORY_MONTHS
        )
        nothing = Forecast("none", 0.0, 0.0, 0.0, 0.0, 0)
        # A rate with a prior would invent walk-in demand for every item that never saw any.
        walk_in = forecast([float(one) for one in of_loose.amounts]) if item in loose else nothing
        found[item] = (forecast([float(one) for one in of_jobs.amounts]), walk_in)
    return found


def _joined(history: Forecast, walk_in: Forecast) -> Forecast:
    return Forecast(
        history.method,
        history.mean + walk_in.mean,
        history.variance + walk_in.variance,
        history.variance_of_mean + walk_in.variance_of_mean,
        history.events + walk_in.events,
        history.months,
    )


def _after(month: datetime.date) -> datetime.date:
    return month + datetime.timedelta(days=calendar.monthrange(month.year, month.month)[1])


def site_forecast(*, by: Caller, site_id: uuid.UUID, item_id: uuid.UUID | None, months: int) -> dict[str, Any]:
    """What was last worked out for a site, by item; months before the present one are left out. Two statements. Raises
    `NotThere`."""
    site = site_for(by, site_id)
    rows = expected_rows(site.pk, item_id=item_id)
    first = timezone.now().date().replace(day=1)
    items: dict[uuid.UUID, dict[str, Any]] = {}
    for row in rows:
        item = items.setdefault(
            row["item_id"],
            {
                "item": row["item_id"],
                "number": row["number"],
                "revision": row["revision"],
                "pumps": row["pumps"],
                "weight_of_history": row["weight_of_history"],
                "weight_of_pumps": 1 - row["weight_of_history"],
                "months": [],
            },
        )
        if 0 <= months_between(first, row["month"]) < months:
            item["months"].append(row | {"words": row["working"]["words"]})
    return {
        "site": site.pk,
        "site_code": site.code,
        "as_of": rows[0]["as_of"] if rows else None,
        "items": list(items.values()),
    }


def pump_outlook(*, by: Caller, pump_id: uuid.UUID, as_of: datetime.date) -> dict[str, Any]:
    """The chance that one pump has to be overhauled in the next 3, 6 and 12 months: of its fitted life, or of its wear
    where that comes sooner. Seven statements. Raises `NotThere`."""
    pump = pump_for(by, pump_id)
    found = outlook(as_of, draws=1)
    place = next(number for number, one in enumerate(found.history.pumps) if one.id == pump.pk)
    days = [float((_months_on(as_of, count) - as_of).days) for count in (3, 6, 12)]
    fitted = _chances(found, place, days)
    wear = wear_ahead(found.history, [place], found.time, {"id": pump.pk}, as_of)
    worn = chances_of_wear(wear, found.per_day[[place]], np.array(days))[0].tolist()
    jobs = [one for one in live_overhauls(pump.site_id) if one["pump_id"] == pump.pk]
    last = max((one.day for one in found.history.past if one.pump == place), default=None)
    age, fit = found.ages[place], found.fits.get(found.history.pumps[place].model)
    row: dict[str, Any] = {
        "pump": pump.pk,
        "tag": pump.tag,
        "site": pump.site_id,
        "as_of": as_of,
        "state": pump.state,
        "age_hours": None if np.isnan(age) else round(float(age), 1),
        "overhauled_on": last,
        "hours_a_day": round(float(found.per_day[place]), 2),
        "hours_known": bool(found.read[place]),
        "planned_on": max(jobs[0]["planned_start"], as_of) if jobs else None,
        "planned_job": jobs[0]["number"] if jobs else "",
        "chances": [
            {"months": months, "chance": round(max(life, wears), 6), "life": round(life, 6), "wear": round(wears, 6)}
            for months, life, wears in zip((3, 6, 12), fitted, worn, strict=False)
        ],
        "wear": soonest_wear(wear[0]),
        "fit": fit_shown(found.history.pumps[place].model, fit) if fit else None,
    }
    return row | {"words": words_of_pump(row)}


def _months_on(day: datetime.date, count: int) -> datetime.date:
    month = months_after(day, count)
    return month.replace(day=min(day.day, calendar.monthrange(month.year, month.month)[1]))
