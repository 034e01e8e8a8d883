"""When pumps should be overhauled next: intervals, running hours, wear and risk read together."""

import datetime
import uuid
from collections.abc import Sequence
from typing import Any

import numpy as np
from django.db.models import QuerySet

from assets.models import Pump
from assets.queries.pumps import pump_for
from assets.queries.sites import site_for
from jobs.calculations.next_overhaul import Advice, Interval, PumpNow, Watched, advise
from jobs.models import OverhaulInterval
from jobs.queries.overhaul_forecasts import Outlook, outlook
from jobs.queries.overhaul_history import live_overhauls
from jobs.queries.trends import RUNS, PumpAt, trends_of
from services.identity.callers import Caller


def overhaul_intervals(*, by: Caller) -> QuerySet[OverhaulInterval]:
    """All intervals. Every signed-in principal may read them."""
    return OverhaulInterval.objects.all()


def pump_advice(*, by: Caller, pump_id: uuid.UUID, today: datetime.date) -> dict[str, Any]:
    """The advice for one pump. Eight statements. Raises `NotThere`."""
    pump = pump_for(by, pump_id)
    (row,) = _advised([pump], pump.site_id, {"id": pump.pk}, today)
    return row


def site_advice(*, by: Caller, site_id: uuid.UUID, today: datetime.date) -> dict[str, Any]:
    """The advice for every pump of a site that is not withdrawn, the earliest day first, those without a day last. Nine
    statements however many pumps. Raises `NotThere`."""
    site = site_for(by, site_id)
    here = {"site_id": site.pk}
    found = list(
        Pump.objects.filter(**here).exclude(state="withdrawn").select_related("pump_model").order_by("tag", "id")
    )
    rows = _advised(found, site.pk, here, today)
    rows.sort(key=lambda one: (one["day"] is None, one["day"] or today, one["tag"]))
    return {"site": site.pk, "site_code": site.code, "as_of": today, "pumps": rows}


def _advised(
    pumps: Sequence[Pump], site_id: uuid.UUID, among: dict[str, Any], today: datetime.date
) -> list[dict[str, Any]]:
    known = outlook(today, draws=1)
    number = {one.id: place for place, one in enumerate(known.history.pumps)}
    intervals = _intervals()
    at = [PumpAt(one.pk, number[one.pk], one.state == RUNS, one.installed_on) for one in pumps]
    trends = trends_of(at, known.time, today, among=among, of_positions=True)
    planned: dict[uuid.UUID, dict[str, Any]] = {}
    for job in live_overhauls(site_id):
        planned.setdefault(job["pump_id"], job)
    last: dict[int, datetime.date] = {}
    for done in known.history.past:
        last[done.pump] = max(done.day, last.get(done.pump, done.day))
    rows = []
    for pump in pumps:
        place = number[pump.pk]
        fit = known.fits.get(known.history.pumps[place].model)
        begun = last.get(place, pump.installed_on)
        now = PumpNow(begun, place in last, float(known.ages[place]), float(known.per_day[place]))
        interval = intervals.get((pump.criticality, pump.pump_model_id)) or intervals.get((pump.criticality, None))
        advice = advise(
            now,
            interval,
            [Watched(one.code, one.name, one.reading) for one in trends[pump.pk]],
            fit.fit if fit else None,
            today=today,
        )
        rows.append(_shown(pump, now, interval, advice, planned.get(pump.pk), known, place))
    return rows


def _intervals() -> dict[tuple[str, uuid.UUID | None], Interval]:
    return {
        (one.criticality, one.pump_model_id): Interval(
            one.months,
            one.running_hours,
            float(one.accepted_chance),
            one.months_ahead,
            one.source,
            one.pump_model.code if one.pump_model else "",
        )
        for one in OverhaulInterval.objects.select_related("pump_model")
    }


def _shown(
    pump: Pump,
    now: PumpNow,
    interval: Interval | None,
    advice: Advice,
    job: dict[str, Any] | None,
    known: Outlook,
    place: int,
) -> dict[str, Any]:
    return {
        "pump": pump.pk,
        "tag": pump.tag,
        "pump_model_code": pump.pump_model.code,
        "criticality": pump.criticality,
        "state": pump.state,
        "age_hours": None if np.isnan(now.age) else round(now.age, 1),
        "hours_a_day": round(now.per_day, 2),
        "hours_known": bool(known.read[place]),
        "day": advice.day,
        "decided_by": advice.decided_by or "",
        "overdue": advice.overdue,
        "planned_on": job["planned_start"] if job else None,
        "planned_job": job["number"] if job else "",
        "candidates": [
            {
                "kind": one.kind,
                "day": one.day,
                "characteristic": one.code,
                "words": one.words,
                "decides": one.kind == advice.decided_by,
            }
            for one in advice.candidates
        ],
        "interval": None
        if interval is None
        else {
            "months": interval.months,
            "running_hours": interval.running_hours,
            "accepted_chance": interval.accepted_chance,
            "months_ahead": interval.months_ahead,
            "of_model": interval.model,
            "source": interval.source,
        },
        "words": advice.words,
    }
