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


@dataclass(frozen=True, slots=True)
class AskedHere:
    """A characteristic that a step of a job asks for."""

    pk: uuid.UUID
    instrument_type: str
    judged: Asked


@dataclass
class JobBook:
    """A job as records find it; what they change is written down here before it is saved."""

    job: Job
    steps: dict[int, JobStep] = field(default_factory=dict)
    asked: dict[tuple[int, str], AskedHere] = field(default_factory=dict)
    by_step: dict[int, list[tuple[uuid.UUID, str]]] = field(default_factory=dict)
    attempts: dict[uuid.UUID, int] = field(default_factory=dict)
    latest: dict[uuid.UUID, tuple[uuid.UUID, str]] = field(default_factory=dict)
    measured_at: dict[uuid.UUID, datetime.datetime] = field(default_factory=dict)
    accepted_at: dict[uuid.UUID, datetime.datetime] = field(default_factory=dict)
    conceded: set[uuid.UUID] = field(default_factory=set)
    nonconformities: dict[uuid.UUID, list[tuple[Nonconformity, datetime.datetime | None]]] = field(default_factory=dict)
    photos: dict[int, int] = field(default_factory=dict)
    order: Order | None = None

    def obstacle(self, number: int) -> Obstacle | None:
        """What keeps a step from taking a record; looked through once."""
        if self.order is None:
            self.order = Order.of(map(_standing, self.steps.values()))
        return self.order.obstacle(number)

    def changed(self, step: JobStep) -> None:
        """A step stands otherwise than before."""
        if self.order is not None:
            self.order = self.order.with_changed(_standing(step))

    def note(self, characteristic: uuid.UUID, attempt: int, pk: uuid.UUID, verdict: str, at: datetime.datetime) -> None:
        """A measurement: the latest is the one that happened last, whenever it came."""
        self.attempts[characteristic] = max(attempt, self.attempts.get(characteristic, 0))
        if characteristic not in self.measured_at or at >= self.measured_at[characteristic]:
            self.latest[characteristic], self.measured_at[characteristic] = (pk, verdict), at
        if verdict == "accept":
            self.accepted_at[characteristic] = max(at, self.accepted_at.get(characteristic, at))

    def surpassed(self, characteristic: uuid.UUID, at: datetime.datetime) -> bool:
        """Whether a measurement that happened later was accepted."""
        return characteristic in self.accepted_at and self.accepted_at[characteristic] >= at


def _standing(one: JobStep) -> Standing:
    return Standing(one.number, one.section, one.state, one.step.hold_point)


def books_of(jobs: Iterable[Job], spoken_of: Collection[tuple[uuid.UUID, int]]) -> dict[uuid.UUID, JobBook]:
    """The books of jobs. Seven queries, however many jobs.

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
    _add_asked(books, {pk: step for pk, step in steps.items() if (step.job_id, step.number) in spoken_of})
    rows = Measurement.objects.filter(job_id__in=ids).order_by("occurred_at", "attempt")
    for job_id, characteristic, attempt, pk, verdict, at in rows.values_list(
        "job_id", "job_characteristic_id", "attempt", "id", "verdict", "occurred_at"
    ):
        books[job_id].note(characteristic, attempt, pk, verdict, at)
    judged = Nonconformity.objects.filter(job_id__in=ids, job_characteristic__isnull=False)
    for one in judged.annotate(measured_at=F("measurement__occurred_at")):
        book = books[one.job_id]
        if one.disposition == "use-as-is" and one.decided_by_id and one.measurement_id:
            book.conceded.add(one.measurement_id)
        if one.state != "closed" and one.job_characteristic_id:
            book.nonconformities.setdefault(one.job_characteristic_id, []).append((one, one.measured_at))
    for (job_id, number), count in photos_by_step(ids).items():
        books[job_id].photos[number] = count
    return books


def _add_asked(books: Mapping[uuid.UUID, JobBook], steps: Mapping[uuid.UUID, JobStep]) -> None:
    wanted = list(JobCharacteristic.objects.filter(job_step_id__in=list(steps)).values_list(*ASKED))
    shared = Characteristic.objects.filter(pk__among={one[2] for one in wanted})
    judged_by = {pk: rest for pk, *rest in shared.values_list(*JUDGED_BY)}
    for pk, job_step, characteristic, code, unit, lower, upper in wanted:
        instrument_type, decision_rule, *rule = judged_by[characteristic]
        book, number = books[steps[job_step].job_id], steps[job_step].number
        book.asked[number, code] = AskedHere(pk, instrument_type, Asked(*rule, unit, lower, upper, decision_rule))
        book.by_step.setdefault(number, []).append((pk, code))


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
    """Measurements that carry these ids. One query."""
    rows = Measurement.objects.filter(pk__among=list(ids)).select_related("job_characteristic__characteristic")
    return {one.pk: one for one in rows}


def waiting_records(job_ids: Collection[uuid.UUID]) -> list[OfflineRecord]:
    """Records that wait for others of these jobs, in the order in which they happened. One query."""
    return list(OfflineRecord.objects.filter(job_id__in=list(job_ids), state="waiting").order_by("occurred_at", "id"))


def unsettled_count(job_id: Any) -> int:
    """How many records of a job wait or conflict. One query."""
    return OfflineRecord.objects.filter(job_id=job_id, state__in=UNSETTLED).count()
