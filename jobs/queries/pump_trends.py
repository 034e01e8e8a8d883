"""Answers about trends: of one pump, and of all pumps of a model."""

import datetime
import uuid
from collections.abc import Collection
from typing import Any

import numpy as np

from assets.access import sites_with
from assets.models import Pump
from assets.queries.pump_models import pump_model_for
from assets.queries.pumps import pump_for
from jobs.calculations.printed_quantities import unit_name
from jobs.calculations.wear_trend import WearFit, fit_wear, rates_of_model, standing
from jobs.queries.trends import RUNS, PumpAt, Trend, running_time_of, trends_of
from services.api.refusals import NotThere
from services.identity.callers import Caller


def pump_trends(*, by: Caller, pump_id: uuid.UUID, today: datetime.date, code: str | None = None) -> dict[str, Any]:
    """Every characteristic of a pump, or one, with points, fit and words. Four statements, six where its own meter does
    not tell. Raises `NotThere`."""
    pump = pump_for(by, pump_id)
    time = running_time_of([(pump.pk, pump.installed_on)], {"id": pump.pk})
    known = PumpAt(pump.pk, 0, pump.state == RUNS, pump.installed_on)
    found = trends_of([known], time, today, among={"id": pump.pk}, code=code)[pump.pk]
    if code is not None and not found:
        raise NotThere(
            f"Nothing is measured on {pump.tag} under the code {code!r}.",
            remedy="GET /pumps/{id}/trends lists what is.",
        )
    return {
        "pump": pump.pk,
        "tag": pump.tag,
        "pump_model": pump.pump_model_id,
        "site": pump.site_id,
        "as_of": today,
        "state": pump.state,
        "hours_a_day": round(float(time.per_day[0]), 2) if known.runs else 0.0,
        "hours_known": bool(time.read[0]),
        "trends": [trend_row(one) for one in found],
    }


def trend_row(one: Trend) -> dict[str, Any]:
    """A trend as it is answered: plain values."""
    reading, fit = one.reading, one.reading.fit
    last = one.points[-1].taken
    return {
        "code": one.code,
        "name": one.name,
        "positions": list(one.roles),
        "unit": reading.unit,
        "outcome": reading.outcome,
        "age_hours": round(reading.age, 1),
        "lower": last.lower,
        "upper": last.upper,
        "limit": reading.limit,
        "segments": [{"number": s.number, "began": s.began, "because": s.because} for s in one.segments],
        "points": [
            {
                "segment": p.segment,
                "age_hours": round(p.age, 1),
                "at": p.taken.at,
                "job": p.taken.job,
                "state": p.state,
                "value": p.taken.value,
                "expanded_uncertainty": p.taken.uncertainty,
                "lower": p.taken.lower,
                "upper": p.taken.upper,
                "verdict": p.taken.verdict,
            }
            for p in one.points
        ],
        "fit": fit_row(fit) if fit else None,
        "now": dict(zip(("expected", "low", "high"), reading.expected, strict=True)) if reading.expected else None,
        "at_limit": {
            "hours": reading.hours_left,
            "earliest_hours": reading.earliest_hours,
            "latest_hours": reading.latest_hours,
            "day": reading.day,
            "earliest_day": reading.earliest_day,
            "latest_day": reading.latest_day,
        }
        if reading.reached
        else None,
        "words": reading.words,
    }


def fit_row(fit: WearFit) -> dict[str, Any]:
    """A fit as it is answered; rates in a thousand hours."""
    return {
        "method": fit.method,
        "rate": fit.rate * 1000,
        "rate_low": fit.rate_low * 1000,
        "rate_high": fit.rate_high * 1000,
        "level": fit.level,
        "spread": fit.spread,
        "degrees_of_freedom": fit.freedom,
        "points": fit.points,
        "segments": fit.segments,
    }


def model_trend(*, by: Caller, model_id: uuid.UUID, code: str, today: datetime.date) -> dict[str, Any]:
    """How fast a characteristic wears over all pumps of a model, and where the caller's own stand. Five statements,
    seven where a meter does not tell. Raises `NotThere`."""
    model = pump_model_for(model_id)
    rows = list(
        Pump.objects.filter(pump_model_id=model.pk)
        .order_by("tag", "id")
        .values_list("id", "installed_on", "state", "tag", "site__code", "site_id")
    )
    granted = sites_with(by)
    time = running_time_of([(pk, day) for pk, day, *_ in rows], {"pump_model_id": model.pk})
    known = [PumpAt(pk, place, state == RUNS, day) for place, (pk, day, state, *_) in enumerate(rows)]
    found = trends_of(known, time, today, among={"pump_model_id": model.pk}, code=code)
    trends = {pump: those[0] for pump, those in found.items() if those}
    if not trends:
        raise NotThere(
            f"Nothing is measured on pumps of {model.code} under the code {code!r}.",
            remedy="GET /pumps/{id}/trends lists what is measured on a pump.",
        )
    unit = max(trends.values(), key=lambda one: one.points[-1].taken.at).reading.unit
    same = {pump: one for pump, one in trends.items() if one.reading.unit == unit}
    fits = {pump: one.reading.fit for pump, one in same.items() if one.reading.fit}
    rates = [one.rate for one in fits.values()]
    population = rates_of_model(rates, _pooled(list(same.values())))
    return {
        "pump_model": model.pk,
        "code": model.code,
        "characteristic": code,
        "name": next(iter(same.values())).name,
        "unit": unit,
        "as_of": today,
        "measured": len(trends),
        "population": None
        if population is None
        else {
            "pumps": population.pumps,
            **{
                name: None if value is None else value * 1000
                for name, value in (
                    ("lower_quartile", population.lower_quartile),
                    ("median", population.median),
                    ("upper_quartile", population.upper_quartile),
                    ("pooled", population.pooled),
                    ("pooled_low", population.pooled_low),
                    ("pooled_high", population.pooled_high),
                )
            },
        },
        "pumps": [
            {
                "pump": pk,
                "tag": tag,
                "site_code": site,
                "rate": fits[pk].rate * 1000 if pk in fits else None,
                "wears_more_than": standing(fits[pk].rate, rates) if pk in fits else None,
                "outcome": trends[pk].reading.outcome,
                "at_limit_on": trends[pk].reading.day,
                "words": trends[pk].reading.words,
            }
            for pk, _, _, tag, site, site_id in rows
            if pk in trends and (granted is None or site_id in granted)
        ],
        "words": _population_words(model.code, len(trends), population, unit),
    }


def _pooled(trends: Collection[Trend]) -> WearFit | None:
    """All values of all pumps as one rate, each part from its own level."""
    ages: list[float] = []
    values: list[float] = []
    parts: list[float] = []
    count = 0
    for one in trends:
        for point in one.points:
            ages.append(point.age)
            values.append(point.taken.value)
            parts.append(float(count + point.segment))
        count += len(one.segments)
    names, counts = np.unique(parts, return_counts=True)
    return fit_wear(ages, values, parts, int(names[counts.argmax()])) if len(names) else None


def _population_words(model: str, measured: int, population: Any, unit: str) -> str:
    if population is None:
        return f"{model}: measured on {measured} pumps, on none of them often enough to tell how fast it wears."
    rates = [population.lower_quartile, population.median, population.upper_quartile]
    low, middle, high = (f"{one * 1000:.4g}" for one in rates)
    on = f"{model}: of {measured} pump{'' if measured == 1 else 's'} on which it is measured"
    of = f"{unit_name(unit)} in 1000 h"
    if population.pumps == 1:
        return f"{on} one tells how fast it wears: {middle} {of}."
    said = (
        f"{on} {population.pumps} tell how fast it wears: half of them between {low} and {high} {of}, the middle one "
        f"{middle}."
    )
    if population.pooled is None:
        return said
    return (
        f"{said} All values taken together: {population.pooled * 1000:.4g} ({population.pooled_low * 1000:.4g} to "
        f"{population.pooled_high * 1000:.4g})."
    )
