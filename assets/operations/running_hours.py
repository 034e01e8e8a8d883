"""Hour readings of pumps; append-only."""

import datetime
import uuid
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from assets.calculations.running_hours import HoursRefused, check_reading
from assets.models import Pump, RunningHours
from assets.queries.pumps import pump_for
from assets.refusals import HoursRunBackwards
from services.api.identifiers import new_id
from services.api.refusals import InvalidValue
from services.changes.recording import record_change
from services.identity.callers import Caller

READERS = ("fitter", "supervisor", "planner", "integrator", "admin")
SLACK = datetime.timedelta(minutes=5)


@transaction.atomic(savepoint=False)
def record_hours(
    *,
    by: Caller,
    pump_id: uuid.UUID,
    hours: Decimal,
    read_at: datetime.datetime | None = None,
    meter_change: bool = False,
    reading_id: uuid.UUID | None = None,
) -> RunningHours:
    """Record what the meter shows. The same id again returns the first record.

    Raises `HoursRunBackwards`, `InvalidValue` for a time ahead, `NotThere`, `NotAllowed`.
    """
    pump = pump_for(by, pump_id, *READERS)
    if reading_id is not None:
        known = RunningHours.objects.filter(pk=reading_id, pump=pump).first()
        if known is not None:
            return known
    when = read_at or timezone.now()
    if when > timezone.now() + SLACK:
        raise InvalidValue("The reading would be in the future.", remedy="Check the clock.", pointer="#/read_at")
    Pump.objects.select_for_update(no_key=True).get(pk=pump.pk)
    readings = RunningHours.objects.filter(pump=pump)
    before = readings.filter(read_at__lt=when).order_by("-read_at").first()
    after = readings.filter(read_at__gt=when).order_by("read_at").first()
    try:
        check_reading(
            hours=hours,
            meter_change=meter_change,
            before=before.hours if before else None,
            after=after.hours if after and not after.meter_change else None,
        )
    except HoursRefused as error:
        raise HoursRunBackwards(
            str(error), remedy="Check the reading; say meter_change where the meter is new.", pointer="#/hours"
        ) from error
    made = RunningHours.objects.create(
        id=reading_id or new_id(), pump=pump, read_at=when, hours=hours, meter_change=meter_change, by_id=by.id
    )
    record_change(
        "running-hours.recorded",
        noun="running-hours",
        noun_id=made.pk,
        site_id=pump.site_id,
        by=by,
        body={"pump": pump.pk, "hours": hours, "read_at": when},
    )
    return made
