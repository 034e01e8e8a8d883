"""What offline records are held against: the jobs they belong to, read for all of them at once."""

import datetime
import uuid
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from django.db.models import F, QuerySet

from assets.access import narrow
from jobs.calculations.evaluation import Tool
from jobs.calculations.step_order import Obstacle, Order, Standing
from jobs.models import (
    Characteristic,
    Instrument,
    Job,
    JobCharacteristic,
    JobStep,
    Measurement,
    Nonconformity,
    OfflineRecord,
    Step,
)
from jobs.queries.attachments import photos_by_step
from jobs.queries.judging import Asked, tool_of
from services.identity.callers import Caller

UNSETTLED = ("waiting", "conflict")
STEP = ("job_id", "step_id", "number", "section", "state", "done_by_id", "done_at", "released_at", "note", "version")
ASKED = ("id", "job_step_id", "characteristic_id", "code", "unit", "lower", "upper")
JUDGED_BY = ("id", "instrument_type", "decision_rule", "name", "rule", "readings", "set_up")


def offline_records(*, by: Caller) -> QuerySet[OfflineRecord]:
    """Offline records of jobs at granted sites."""
    return narrow(OfflineRecord.objects.all(), by, path="job__site_id")


@dataclass(slots=True)
class Row:
    """What is kept of a record: known from before, or still to be written; the state is empty until it is settled."""

    pk: uuid.UUID
    digest: str
    version: int = 1
    state: str = ""
    code: str = ""
    sentence: str = ""
    against: dict[str, Any] = field(default_factory=dict)

    @classmethod
    def of(cls, kept: OfflineRecord) -> "Row":
        """As it is kept."""
        return cls(kept.pk, kept.digest, kept.version, kept.state, kept.code, kept.sentence, kept.against)


@dataclass(slots=True, eq=False)
class AskedHere:
    """A characteristic that a step of a job asks for, and what has been measured of it."""

    pk: uuid.UUID
    code: str
    instrument_type: str
    judged: Asked
    attempts: int = 0
    latest: tuple[uuid.UUID, str] | None = None
    measured_at: datetime.datetime | None = None
    accepted_at: datetime.datetime | None = None
    nonconformities: list[tuple[Nonconformity, datetime.datetime | None]] = field(default_factory=list)

    def note(self, attempt: int, pk: uuid.UUID, verdict: str, at: datetime.datetime) -> None:
        """A measurement: the latest is the one that happened last, whenever it came."""
        self.attempts = max(attempt, self.attempts)
        if self.measured_at is None or at >= self.measured_at:
            self.latest, self.measured_at = (pk, verdict), at
        if verdict == "accept" and (self.accepted_at is None or at > self.accepted_at):
            self.accepted_at = at

    def surpassed(self, at: datetime.datetime) -> bool:
        """Whether a measurement that happened later was accepted."""
        return self.accepted_at is not None and self.accepted_at >= at


@dataclass
class JobBook:
    """A job as records find it; what they change is written down here before it is saved."""

    job: Job
    steps: dict[int, JobStep] = field(default_factory=dict)
    asked: dict[tuple[int, str], AskedHere] = field(default_factory=dict)
    by_step: dict[int, list[AskedHere]] = field(default_factory=dict)
    conceded: set[uuid.UUID] = field(default_factory=set)
    photos: dict[int, int] = field(default_factory=dict)
    order: Order | None = None

    @property
    def heats(self) -> bool:
        """Whether advice on heating a bearing may have to be worked out anew."""
        return any((one.step.computes or {}).get("kind") == "bearing-heating" for one in self.steps.values())

    def obstacle(self, number: int) -> Obstacle | None:
        """What keeps a step from taking a record; looked through once."""
        if self.order is None:
            self.order = Order.of(map(_standing, self.steps.values()))
        return self.order.obstacle(number)

    def changed(self, step: JobStep) -> None:
        """A step stands otherwise than before."""
        if self.order is not None:
            self.order = self.order.with_changed(_standing(step))


def _standing(one: JobStep) -> Standing:
    return Standing(one.number, one.section, one.state, one.step.hold_point)


def books_of(jobs: Iterable[Job], spoken_of: Collection[tuple[uuid.UUID, Any]]) -> dict[uuid.UUID, JobBook]:
    """The books of jobs. At most seven queries, however many jobs.

    Of steps only what records are held against is read, characteristics only of the steps ``spoken_of``, by job and
    number; what jobs of one procedure share, once.
    """
    books = {job.pk: JobBook(job) for job in jobs}
    ids = list(books)
    steps = {one.pk: one for one in JobStep.objects.filter(job_id__in=ids).only(*STEP).order_by("number")}
    shared = Step.objects.only("hold_point", "photos", "computes").in_bulk({one.step_id for one in steps.values()})
    for step in steps.values():
        step.step = shared[step.step_id]
        books[step.job_id].steps[step.number] = step
    asked = _add_asked(books, {pk: step for pk, step in steps.items() if (step.job_id, step.number) in spoken_of})
    rows = Measurement.objects.filter(job_id__in=ids).order_by("occurred_at", "attempt")
    for characteristic, attempt, measured, verdict, at in rows.values_list(
        "job_characteristic_id", "attempt", "id", "verdict", "occurred_at"
    ):
        if characteristic in asked:
            asked[characteristic].note(attempt, measured, verdict, at)
    judged = Nonconformity.objects.filter(job_id__in=ids, job_characteristic__isnull=False)
    for one in judged.annotate(measured_at=F("measurement__occurred_at")):
        if one.disposition == "use-as-is" and one.decided_by_id and one.measurement_id:
            books[one.job_id].conceded.add(one.measurement_id)
        if one.state != "closed" and one.job_characteristic_id in asked:
            asked[one.job_characteristic_id].nonconformities.append((one, one.measured_at))
    pictured = photos_by_step(ids) if any(one.photos for one in shared.values()) else {}
    for (job_id, number), count in pictured.items():
        books[job_id].photos[number] = count
    return books


def _add_asked(books: Mapping[uuid.UUID, JobBook], steps: Mapping[uuid.UUID, JobStep]) -> dict[uuid.UUID, AskedHere]:
    wanted = list(JobCharacteristic.objects.filter(job_step_id__in=list(steps)).values_list(*ASKED))
    shared = Characteristic.objects.filter(pk__among={one[2] for one in wanted})
    judged_by = {one[0]: one[1:] for one in shared.values_list(*JUDGED_BY)}
    found = {}
    for pk, job_step, characteristic, code, unit, lower, upper in wanted:
        instrument_type, decision_rule, name, rule, readings, set_up = judged_by[characteristic]
        book, number = books[steps[job_step].job_id], steps[job_step].number
        judged = Asked(name, rule, readings, set_up, unit, lower, upper, decision_rule)
        asked = AskedHere(pk, code, instrument_type, judged)
        found[pk] = book.asked[number, code] = asked
        book.by_step.setdefault(number, []).append(asked)
    return found


def tools_by_id(ids: Collection[uuid.UUID]) -> dict[uuid.UUID, tuple[Instrument, Tool]]:
    """Instruments by id, wherever they are, with their figures. One query."""
    return {one.pk: (one, tool_of(one)) for one in Instrument.objects.filter(pk__in=list(ids))}


def known_records(client_ids: Collection[uuid.UUID]) -> dict[uuid.UUID, list[Row]]:
    """What came before under these ids. One query."""
    found: dict[uuid.UUID, list[Row]] = {}
    kept = OfflineRecord.objects.filter(client_id__among=client_ids).order_by("id")
    for client_id, *row in kept.values_list("client_id", *(one.name for one in fields(Row))):
        found.setdefault(client_id, []).append(Row(*row))
    return found


def measurements_by_id(ids: Collection[uuid.UUID]) -> dict[uuid.UUID, Measurement]:
    """Measurements that carry these ids. One query, none for no ids."""
    if not ids:
        return {}
    rows = Measurement.objects.filter(pk__among=list(ids)).select_related("job_characteristic__characteristic")
    return {one.pk: one for one in rows}


def waiting_records(job_ids: Collection[uuid.UUID]) -> list[OfflineRecord]:
    """Records that wait for others of these jobs, in the order in which they happened. One query."""
    return list(OfflineRecord.objects.filter(job_id__in=list(job_ids), state="waiting").order_by("occurred_at", "id"))


def unsettled_count(job_id: Any) -> int:
    """How many records of a job wait or conflict. One query."""
    return OfflineRecord.objects.filter(job_id=job_id, state__in=UNSETTLED).count()
