"""Overhauls that were done, hours that were run, and jobs that are planned: what expectations are made from."""

import datetime
import uuid
from dataclasses import dataclass
from typing import Any

import numpy as np

from assets.models import Pump, RunningHours
from jobs.calculations.overhaul_backtest import Fleet
from jobs.calculations.running_lives import Overhauls, Readings
from jobs.models import Job
from jobs.queries.jobs import LIVE
from services.api.rows import plain_rows

SECONDS_OF_A_DAY = 86400.0
EPOCH = datetime.date(1970, 1, 1).toordinal()
# Whatever stood in the plan so long before its day was planned; the rest came up. Of jobs taken over from earlier
# records nothing tells when they were planned: they count as having come up (common practice, no source).
PLANNED_AHEAD = datetime.timedelta(days=30)


@dataclass(frozen=True)
class PumpRow:
    """A pump as installed."""

    id: uuid.UUID
    tag: str
    site_id: uuid.UUID
    model: str
    build_class_id: uuid.UUID | None
    state: str


@dataclass(frozen=True)
class PastOverhaul:
    """A closed job: number of its pump in the fleet, number of its kit among the kits used, its site and day."""

    pump: int
    kit: int
    site_id: uuid.UUID
    day: datetime.date
    foreseen: bool


@dataclass(frozen=True)
class History:
    """The fleet with its pumps in the same order, and the kits that overhauls used: id and number."""

    fleet: Fleet
    pumps: list[PumpRow]
    kits: list[tuple[uuid.UUID, str]]
    past: list[PastOverhaul]


def overhaul_history() -> History:
    """Of all pumps of the operator: lives are told by pumps wherever they stand. Three statements."""
    pumps, installed, classes = [], [], {}
    for pk, tag, site_id, model, configuration, build_class, state, day in Pump.objects.order_by("id").values_list(
        "id", "tag", "site_id", "pump_model__code", "pump_model__configuration", "build_class_id", "state",
        "installed_on",
    ):  # fmt: skip
        pumps.append(PumpRow(pk, tag, site_id, model, build_class, state))
        installed.append(float(day.toordinal()) if day else np.nan)
        classes[model] = configuration
    place = {one.id: number for number, one in enumerate(pumps)}
    past, kits, days = _past(place)
    overhauls = Overhauls(
        np.array([one.pump for one in past], dtype=np.int64),
        np.array(days, dtype=np.float64),
        np.array([one.foreseen for one in past], dtype=np.bool_),
    )
    fleet = Fleet(
        [one.model for one in pumps],
        classes,
        _readings(place),
        np.array(installed, dtype=np.float64),
        np.array([one.state == "in-service" for one in pumps], dtype=np.bool_),
        overhauls,
        np.array([one.kit for one in past], dtype=np.int64),
    )
    return History(fleet, pumps, kits, past)


def _past(place: dict[uuid.UUID, int]) -> tuple[list[PastOverhaul], list[tuple[uuid.UUID, str]], list[float]]:
    past, days = [], []
    kits: dict[uuid.UUID, tuple[int, str]] = {}
    for pump, kit, number, site_id, finished, planned, made, reasons in (
        Job.objects.filter(state="closed", finished_at__isnull=False, takes_kit=True)
        .order_by("finished_at", "id")
        .values_list(
            "pump_id", "kit_id", "kit__item__number", "site_id", "finished_at", "planned_start", "created_at",
            "state_reasons",
        )
    ):  # fmt: skip
        assert finished is not None  # noqa: S101 - filtered above
        kit_place = kits.setdefault(kit, (len(kits), number))[0]
        taken_over = any(one.get("code") == "taken-over" for one in reasons)
        foreseen = not taken_over and planned - made.date() >= PLANNED_AHEAD
        past.append(PastOverhaul(place[pump], kit_place, site_id, finished.date(), foreseen))
        days.append(day_number(finished))
    return past, [(kit, number) for kit, (_, number) in kits.items()], days


def _readings(place: dict[uuid.UUID, int]) -> Readings:
    rows = list(
        RunningHours.objects.order_by("pump_id", "read_at").values_list("pump_id", "read_at", "hours", "meter_change")
    )
    return Readings(
        np.array([place[one[0]] for one in rows], dtype=np.int64),
        np.array([day_number(one[1]) for one in rows], dtype=np.float64),
        np.array([one[2] for one in rows], dtype=np.float64),
        np.array([one[3] for one in rows], dtype=np.bool_),
    )


def day_number(moment: datetime.datetime) -> float:
    """Days as `datetime.date.toordinal` counts them, with the part of the day."""
    return EPOCH + moment.timestamp() / SECONDS_OF_A_DAY


def live_overhauls(site_id: uuid.UUID) -> list[dict[str, Any]]:
    """Jobs of a site that are not over: pump, kit, number, planned day and state, by day. One statement."""
    return plain_rows(
        Job.objects.filter(site_id=site_id, state__in=LIVE, takes_kit=True)
        .order_by("planned_start", "id")
        .values("id", "number", "pump_id", "kit_id", "planned_start", "state", "started_at")
    )
