"""A pump on its own page: when it should be overhauled next, how it wears, how long parts last, what was done."""

import uuid

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET

from assets.queries.pumps import pump_for
from jobs.queries.next_overhauls import pump_advice
from jobs.queries.part_lives import model_lives
from jobs.queries.pump_history import jobs_of_pump
from jobs.queries.pump_trends import pump_trends
from services.identity.callers import caller_of
from services.web.pages import signed_in
from services.web.trend_charts import trend_chart

TOO_FEW = "too-few"


@require_GET
@signed_in
def pump_page(request: HttpRequest, pump: uuid.UUID) -> HttpResponse:
    """One pump at a granted site."""
    by, today = caller_of(request), timezone.now().date()
    found = pump_for(by, pump)
    trends = pump_trends(by=by, pump_id=found.pk, today=today)
    worn = [one for one in trends["trends"] if one["positions"]]
    drawn = [one for one in worn if one["outcome"] != TOO_FEW]
    for number, one in enumerate(drawn, start=1):
        # Every text in the drawing is escaped where it is drawn.
        one["drawn"] = mark_safe(trend_chart(found.tag, one, mark=f"trend-{number}"))  # noqa: S308
    past = jobs_of_pump(by=by, pump_id=found.pk)
    context = {
        "pump": found,
        "today": today,
        "advice": pump_advice(by=by, pump_id=found.pk, today=today),
        "trends": trends,
        "drawn": drawn,
        "too_few": [one for one in worn if one["outcome"] == TOO_FEW],
        "beside": [one for one in trends["trends"] if not one["positions"]],
        "lives": model_lives(by=by, model_id=found.pump_model_id, today=today),
        "ahead": [one for one in past if one["state"] not in {"closed", "cancelled"}],
        "past": [one for one in past if one["state"] in {"closed", "cancelled"}],
    }
    return render(request, "jobs/pump_page.html", context)
