"""How long parts of a model lasted in their positions."""

import datetime
import uuid
from typing import Any

import numpy as np
from django.db.models import Exists, OuterRef, Subquery

from assets.models import Pump
from assets.queries.pump_models import pump_model_for
from jobs.calculations.failure_codes import SOUND
from jobs.calculations.part_lives import Bounds, PartLife, lives_of_parts
from jobs.models import Finding, FittedPart, Nonconformity
from jobs.queries.overhaul_history import day_number
from jobs.queries.trends import RUNS, PumpAt, now_by_pump, running_time_of
from services.identity.callers import Caller

NOT_CODED = "not-coded"


def model_lives(*, by: Caller, model_id: uuid.UUID, today: datetime.date) -> dict[str, Any]:
    """Lives of every position of a model, by the way of failing, over all its pumps wherever they stand. Four
    statements, six where a meter does not tell. Raises `NotThere`."""
    model = pump_model_for(model_id)
    rows = list(Pump.objects.filter(pump_model_id=model.pk).order_by("id").values_list("id", "installed_on", "state"))
    time = running_time_of([(pk, day) for pk, day, _ in rows], {"pump_model_id": model.pk})
    known = [PumpAt(pk, place, state == RUNS, day) for place, (pk, day, state) in enumerate(rows)]
    now, place_of = now_by_pump(known, time, today), {one.id: one.place for one in known}
    replaced = Nonconformity.objects.filter(
        job=OuterRef("removed_by_job"), role=OuterRef("role"), disposition=Nonconformity.Disposition.REPLACE
    )
    reason = (
        Finding.objects.filter(job=OuterRef("removed_by_job"), role=OuterRef("role"), corrected_by=None)
        .order_by("-id")
        .values("replacement_reason")[:1]
    )
    fitted = [
        one
        for one in FittedPart.objects.filter(pump__pump_model_id=model.pk)
        .order_by("role", "id")
        .values_list(
            "pump_id", "role", "fitted_at", "removed_at", "removed_condition", Exists(replaced), Subquery(reason)
        )
        if one[0] in place_of
    ]
    places = np.array([place_of[pump] for pump, *_ in fitted], dtype=np.int64)
    begun = time.at(places, np.array([day_number(one[2]) for one in fitted])) if fitted else np.zeros(0)
    gone = [day_number(one[3]) if one[3] else np.nan for one in fitted]
    ended = time.at(places, np.nan_to_num(np.array(gone))) if fitted else np.zeros(0)
    lives = [
        PartLife(
            role,
            float((now[pump] if removed is None else ended[number]) - begun[number]),
            _mode(condition, put_out, why) if removed else None,
        )
        for number, (pump, role, _, removed, condition, put_out, why) in enumerate(fitted)
    ]
    return {
        "pump_model": model.pk,
        "code": model.code,
        "as_of": today,
        "pumps": len(rows),
        "lives": [
            {
                "role": one.role,
                "mode": one.mode,
                "failures": one.failures,
                "censored": one.censored,
                "shape": _shown(one.shape),
                "scale_hours": _shown(one.scale),
                "b10_hours": _shown(one.b10),
                "mean_hours": one.mean,
                "reading": one.reading,
                "words": one.words,
            }
            for one in lives_of_parts(lives)
        ],
    }


def _mode(condition: str, put_out: bool, reason: str | None) -> str | None:
    """How a part that was taken out had failed: by the mode it is coded with, whatever the mechanism; where it is not,
    a nonconformity that had it replaced tells that it had. What was found sound, and what has nothing said against it,
    was renewed while it still did."""
    if reason in SOUND:
        return None
    return condition.partition("/")[0] or (NOT_CODED if put_out else None)


def _shown(one: Bounds | None) -> dict[str, float] | None:
    return None if one is None else {"value": one.value, "low": one.low, "high": one.high}
