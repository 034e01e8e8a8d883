"""Past overhauls with what was measured, each on a kit that the movements show going out for it."""

import datetime
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from assets.calculations.rolling_bearings import bore_of
from services.demo.operator.days import moment
from services.demo.operator.instruments import instrument_at
from services.demo.operator.kits import KitRow
from services.demo.operator.pump_models import BETWEEN, CLOSE, IN_LINE, PULL
from services.demo.operator.pumps import PumpRow
from services.demo.operator.stock import Event

PROCEDURES = {
    PULL: "OVERHAUL-PULL-OUT",
    CLOSE: "OVERHAUL-CLOSE-COUPLED",
    IN_LINE: "OVERHAUL-IN-LINE",
    BETWEEN: "OVERHAUL-PACKED-GLAND",
}
# site, kit, which of the site's pumps that it fits (from 0), about how many months ago
PAST = (
    ("heat-plant", "FK-L100-E", 4, 21),
    ("heat-plant", "FK-L100-E", 5, 14),
    ("heat-plant", "FK-L100-E", 0, 30),
    ("heat-plant", "FK-L100-E", 2, 8),
    ("heat-plant", "FK-L125-E", 0, 12),
    ("heat-plant", "FK-K50-E", 1, 18),
    ("tarn-waterworks", "FK-G150-N", 0, 10),
    ("tarn-waterworks", "FK-C50-E", 2, 16),
    ("holm-waterworks", "FK-P65-E", 1, 9),
    ("holm-waterworks", "FK-C40-E", 3, 20),
    ("dairy", "FK-C50-V", 0, 7),
    ("fish-hall", "FK-L100-N", 1, 11),
    ("heat-plant", "FK-L100-E", 4, 34),
    ("heat-plant", "FK-L100-E", 4, 12),
)
# Who did it and who signed, by site.
CREW = {
    "heat-plant": ("runa", "eydis"),
    "tarn-waterworks": ("nels", "eydis"),
    "holm-waterworks": ("nels", "eydis"),
    "dairy": ("bryn", "magda"),
    "fish-hall": ("bryn", "magda"),
}
# What was measured by procedure: characteristic, unit, instrument, readings, lowest and highest, decimals. The seat of
# the bearing is given from its bore.
SEAT = "bearing-seat-diameter"
GAP = "wear-ring-gap"
RUN_OUT = ("shaft-run-out", "mm", "dial-indicator", 4, "0.000", "0.024", 3)
ROOM = ("room-temperature", "degC", "thermometer", 1, "17.0", "22.0", 1)
SHAKE = ("vibration-drive-end", "mm/s", "vibration-meter", 3, "1.20", "2.60", 2)
WARM = ("bearing-temperature", "degC", "surface-thermometer", 1, "44.0", "62.0", 1)
MEASURED = {
    PULL: (
        RUN_OUT,
        (SEAT, "mm", "outside-micrometer", 3, "0.0065", "0.0085", 4),
        ROOM,
        (GAP, "mm", "feeler-gauge", 4, "0.48", "0.56", 2),
        ("shaft-end-play", "mm", "dial-indicator", 1, "0.030", "0.070", 3),
        SHAKE,
        WARM,
    ),
    BETWEEN: (
        RUN_OUT,
        (SEAT, "mm", "outside-micrometer", 3, "0.0075", "0.0095", 4),
        ROOM,
        (GAP, "mm", "feeler-gauge", 4, "0.46", "0.56", 2),
        SHAKE,
        WARM,
    ),
    CLOSE: (RUN_OUT, (GAP, "mm", "feeler-gauge", 4, "0.36", "0.48", 2), SHAKE),
    IN_LINE: (RUN_OUT, SHAKE),
}
# With the new ring in, of the configuration whose rings are measured again then.
NEW_RING = {PULL: (GAP, "mm", "feeler-gauge", 4, "0.36", "0.39", 2)}
# The job, by its place in PAST, whose shaft ran out too far at first: straightened and measured again.
BENT_SHAFT, BENT_READINGS = 0, "0.000|0.041|0.083|0.037"


@dataclass(frozen=True)
class PastJob:
    """A past overhaul and the issue of its kit."""

    number: str
    pump: PumpRow
    kit: KitRow
    issue: Event

    @property
    def day(self) -> datetime.date:
        """The day on which it began; it was finished on the next."""
        return self.issue.day


def past_jobs(pumps: Sequence[PumpRow], kits: Mapping[str, KitRow], events: Sequence[Event]) -> list[PastJob]:
    """The jobs by age; the movement that gave out each kit is marked with the job's number."""
    found: list[tuple[int, PumpRow, KitRow, Event]] = []
    latest = max(one.day for one in events)
    for place, (site, number, which, months_ago) in enumerate(PAST):
        kit = kits[number]
        fitting = [one for one in pumps if (one.site, one.model, one.elastomer) == (site, kit.model, kit.elastomer)]
        wanted = latest - datetime.timedelta(days=months_ago * 30)
        issues = [
            one
            for one in events
            if one.kind == "issue" and one.site == site and one.lot.item.number == number and not one.job
        ]
        issue = min(issues, key=lambda one: abs((one.day - wanted).days))
        issue.job = "taken"
        found.append((place, fitting[which], kit, issue))
    jobs = []
    for count, (_, pump, kit, issue) in enumerate(sorted(found, key=lambda one: (one[3].day, one[0]))):
        issue.job = f"FJ-{601 + count}"
        issue.reason = f"Overhaul of {pump.tag}"
        jobs.append(PastJob(issue.job, pump, kit, issue))
    return jobs


def job_rows(jobs: Sequence[PastJob]) -> list[tuple[str, ...]]:
    """number, pump, procedure, kit, its revision, lot, start, finish, fitter, supervisor."""
    return [
        (one.number, one.pump.external_id, PROCEDURES[one.pump.model.configuration], one.kit.number,
         one.kit.revision, one.issue.lot.number, moment(one.day, 7), moment(_next(one.day), 14, 30),
         *CREW[one.pump.site])
        for one in jobs
    ]  # fmt: skip


def measurement_rows(jobs: Sequence[PastJob]) -> list[tuple[Any, ...]]:
    """job, characteristic, readings, unit, instrument, when."""
    chance = random.Random(12)
    bent_pump = _pump_of_bent_shaft(jobs)
    found: list[tuple[Any, ...]] = []
    for job in jobs:
        configuration = job.pump.model.configuration
        for code, unit, kind, count, low, high, decimals in MEASURED[configuration]:
            base = _bore(job.kit) if code == SEAT else Decimal(0)
            readings = [_between(chance, base, low, high, decimals) for _ in range(count)]
            number = instrument_at(job.pump.site, kind, float(max(readings)))
            day = job.day if code not in {"vibration-drive-end", "bearing-temperature"} else _next(job.day)
            minute = chance.randint(0, 25)
            if code == RUN_OUT[0] and job is bent_pump:
                found.append((job.number, code, BENT_READINGS, unit, number, moment(day, 9, 5)))
            found.append((job.number, code, "|".join(map(str, readings)), unit, number, moment(day, 13, minute)))
        if configuration in NEW_RING:
            code, unit, kind, count, low, high, decimals = NEW_RING[configuration]
            readings = [_between(chance, Decimal(0), low, high, decimals) for _ in range(count)]
            number = instrument_at(job.pump.site, kind, float(max(readings)))
            found.append((job.number, code, "|".join(map(str, readings)), unit, number, moment(job.day, 15, 40)))
    return found


def _pump_of_bent_shaft(jobs: Sequence[PastJob]) -> PastJob:
    site, number, _, _ = PAST[BENT_SHAFT]
    return next(one for one in jobs if one.pump.site == site and one.kit.number == number and one.pump.tag == "P-117")


def _bore(kit: KitRow) -> Decimal:
    bearing = next(part for role, part, _ in kit.lines if role == "bearing-de")
    return Decimal(bore_of(bearing.specification.split("/")[0]))


def _between(chance: random.Random, base: Decimal, low: str, high: str, decimals: int) -> Decimal:
    share = Decimal(chance.randint(0, 100)) / 100
    value = base + Decimal(low) + (Decimal(high) - Decimal(low)) * share
    return value.quantize(Decimal(1).scaleb(-decimals))


def _next(day: datetime.date) -> datetime.date:
    return day + datetime.timedelta(days=1)
