"""Taking in records that were made without a connection. Nothing is overwritten, and nothing that came is lost."""

import uuid
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.db import DataError, IntegrityError, transaction
from django.utils import timezone

from assets.access import narrow
from jobs.calculations.offline_records import OfflineRecord, read_record
from jobs.models import Job
from jobs.models import OfflineRecord as Kept
from jobs.operations.closing import take_kit
from jobs.operations.findings import record_finding
from jobs.operations.job_changes import record_changed
from jobs.operations.nonconformities import raise_nonconformity
from jobs.operations.offline_books import (
    APPLIED,
    WAITS,
    Fate,
    Written,
    believable,
    conflict,
    write_confirmation,
    write_measurement,
)
from jobs.operations.steps import FITTERS
from jobs.operations.work_bookings import book_work
from jobs.queries.jobs import job_for
from jobs.queries.offline_records import (
    Row,
    books_of,
    known_records,
    measurements_by_id,
    offline_records,
    tools_by_id,
    waiting_records,
)
from jobs.refusals import StillInConflict
from services.api.identifiers import new_id
from services.api.many_rows import insert_rows, update_many
from services.api.refusals import NotThere, Refusal, WrongState
from services.api.versions import version_changed
from services.changes.recording import Recorded, record_change, record_changes
from services.identity.callers import Caller

MOST_RECORDS, CHUNK = 10_000, 500


@dataclass(frozen=True)
class Outcome:
    """What a device is told of one record it sent."""

    id: uuid.UUID
    outcome: str
    code: str = ""
    sentence: str = ""
    verdict: str = ""


def chunks(records: Mapping[int, OfflineRecord]) -> list[list[int]]:
    """The places of records, job by job in the order in which they happened, in pieces of at most 500."""
    ordered = sorted(records, key=lambda place: records[place].order)
    return [ordered[start : start + CHUNK] for start in range(0, len(ordered), CHUNK)]


@dataclass
class Arrival:
    """A record with its maker and what is kept of it, and the verdict it got; ``refused`` where nothing of it is
    kept."""

    record: OfflineRecord
    by: Caller
    row: Row | None = None
    refused: Outcome | None = None
    verdict: str = ""
    again: bool = False

    def outcome(self) -> Outcome:
        """What the device is told."""
        if self.refused is not None or self.row is None:
            return self.refused or Outcome(self.record.id, "refused")
        state = "known" if self.again else self.row.state
        return Outcome(self.record.id, state, self.row.code, self.row.sentence, self.verdict)


@transaction.atomic(savepoint=False)
def take_in(*, by: Caller, device: str, records: Sequence[OfflineRecord]) -> list[Outcome]:
    """Take in at most one chunk of records, in the order given.

    Each ends as applied, as waiting (for records of other people or devices), or as a conflict that a supervisor
    settles; what came before under the same id and is the same is known. A job that is not there for the caller, or
    where they are no fitter, takes nothing: that record is refused and not kept.
    """
    jobs = _locked(by, {one.job for one in records})
    arrivals = _arrivals(by, records, jobs)
    new = [(one.record, one.row) for one in arrivals if one.row is not None and not one.again]
    late = [Arrival(record_of(one), maker_of(one), Row.of(one)) for one in waiting_records(list(jobs))]
    _apply([*(one for one in arrivals if one.row is not None and one.row.state == ""), *late], jobs)
    insert_rows(Kept, [_columns(record, row, by, device) for record, row in new])
    moved = [(one.record, one.row) for one in late if one.row is not None and one.row.state != "waiting"]
    update_many([_settled(Kept(pk=row.pk), row) for _, row in moved], ["state", "code", "sentence", "against"])
    _tell_conflicts([*new, *moved], jobs, by)
    return [one.outcome() for one in arrivals]


def _locked(by: Caller, wanted: Iterable[uuid.UUID]) -> dict[uuid.UUID, Job]:
    """The jobs at which the caller may record, locked in the order of their ids."""
    allowed = narrow(Job.objects.filter(pk__in=list(wanted)), by, *FITTERS).order_by("pk")
    return {one.pk: one for one in allowed.select_for_update(no_key=True, of=("self",))}


def _arrivals(by: Caller, records: Sequence[OfflineRecord], jobs: Mapping[uuid.UUID, Job]) -> list[Arrival]:
    known = known_records([one.id for one in records])
    judged = measurements_by_id([one.id for one in records if one.kind == "measurement" and one.id in known])
    now, found = timezone.now(), []
    for record in records:
        before = known.setdefault(record.id, [])
        same = next((one for one in before if one.digest == record.digest), None)
        if record.job not in jobs:
            words = "The job is not here, or you are no fitter or supervisor at its site."
            found.append(Arrival(record, by, refused=Outcome(record.id, "refused", "not-there", words)))
        elif same is not None:
            verdict = judged[record.id].verdict if same.state == "applied" and record.id in judged else ""
            found.append(Arrival(record, by, same, verdict=verdict, again=True))
        else:
            row = Row(new_id(), record.digest)
            settle(
                row,
                conflict("id-reused", "Another record came under this id.", first=str(before[0].pk))
                if before
                else believable(record, now),
            )
            found.append(Arrival(record, by, row))
            before.append(row)
    return found


def _columns(record: OfflineRecord, row: Row, by: Caller, device: str) -> dict[str, Any]:
    """A record as it is written."""
    return {
        "id": row.pk,
        "version": row.version,
        "client_id": record.id,
        "kind": record.kind,
        "job_id": record.job,
        "by_id": by.id,
        "device": device,
        "occurred_at": record.occurred_at,
        "content": {name: str(one) if isinstance(one, uuid.UUID) else one for name, one in record.content.items()},
        "digest": row.digest,
        "state": row.state,
        "code": row.code,
        "sentence": row.sentence,
        "against": row.against,
        "settled_because": "",
    }


def settle(row: Row, fate: Fate | None) -> None:
    """Write down what became of a record, where anything did."""
    if fate is not None:
        row.state, row.code, row.sentence, row.against = fate.state, fate.code, fate.sentence, dict(fate.against)


def _settled(kept: Kept, row: Row) -> Kept:
    """A kept record with what became of it."""
    kept.state, kept.code, kept.sentence, kept.against = row.state, row.code, row.sentence, row.against
    return kept


def maker_of(kept: Kept) -> Caller:
    """Who made a record, as the caller of what it leads to."""
    return Caller(id=kept.by_id, name="", scopes=frozenset())


def record_of(kept: Kept) -> OfflineRecord:
    """The record as it came."""
    head = {
        "id": str(kept.client_id),
        "kind": kept.kind,
        "job": str(kept.job_id),
        "occurred_at": kept.occurred_at.isoformat(),
    }
    read = read_record(head | kept.content)
    if isinstance(read, list):
        raise TypeError(f"offline record {kept.pk} cannot be read: {read[0].sentence}")
    return replace(read, digest=kept.digest)


def _apply(arrivals: Sequence[Arrival], jobs: Mapping[uuid.UUID, Job]) -> None:
    """Apply what can be applied: again as long as one record opens the way for another; then what runs by itself."""
    books = books_of(jobs.values(), {(one.record.job, one.record.content.get("step")) for one in arrivals})
    written = {one.by.id: Written(one.by) for one in arrivals}
    measured = [one for one in arrivals if one.record.kind == "measurement"]
    known = measurements_by_id([one.record.id for one in measured])
    names = ("instrument", "second_instrument")
    tools = tools_by_id({one.record.content[name] for one in measured for name in names if name in one.record.content})
    pending = sorted((one for one in arrivals if one.record.kind in BOOKED), key=lambda one: one.record.order)
    while pending:
        still = []
        for one in pending:
            book, to = books[one.record.job], written[one.by.id]
            if one.record.kind == "measurement":
                fate = write_measurement(one.record, book, tools, known.get(one.record.id), to)
            else:
                fate = write_confirmation(one.record, book, to)
            one.verdict = fate.verdict
            if one.row is not None:
                settle(one.row, fate)
            if fate.state == "waiting":
                still.append(one)
        if len(still) == len(pending):
            break
        pending = still
    for to in written.values():
        to.save()
    for one in sorted((one for one in arrivals if one.record.kind not in BOOKED), key=lambda one: one.record.order):
        if one.row is not None:
            settle(one.row, _by_operation(one.record, one.by))


BOOKED = frozenset({"measurement", "step-confirmation"})


def _by_operation(record: OfflineRecord, by: Caller) -> Fate:
    """Run the operation that a record stands for; a refusal, or what the database refuses, undoes only this one."""
    try:
        with transaction.atomic(savepoint=True):
            OPERATIONS[record.kind](record, by)
    except Refusal as refusal:
        return Fate("waiting" if refusal.code in WAITS else "conflict", refusal.code, refusal.detail)
    except IntegrityError:
        return conflict("id-reused", "Something else is kept under this id, or a rule of the records would be broken.")
    except DataError:
        return conflict("invalid-value", "A number or a text is larger than what can be kept.")
    return APPLIED


def _take_kit(record: OfflineRecord, by: Caller) -> None:
    take_kit(by=by, job_id=record.job, occurred_at=record.occurred_at)


def _raise(record: OfflineRecord, by: Caller) -> None:
    raise_nonconformity(by=by, job_id=record.job, nonconformity_id=record.id, **record.content)


def _find(record: OfflineRecord, by: Caller) -> None:
    record_finding(by=by, job_id=record.job, finding_id=record.id, occurred_at=record.occurred_at, **record.content)


def _book(record: OfflineRecord, by: Caller) -> None:
    book_work(by=by, job_id=record.job, booking_id=record.id, **record.content)


OPERATIONS: dict[str, Callable[[OfflineRecord, Caller], None]] = {
    "kit-taken": _take_kit,
    "nonconformity": _raise,
    "finding": _find,
    "work-booking": _book,
}


def _tell_conflicts(rows: Iterable[tuple[OfflineRecord, Row]], jobs: Mapping[uuid.UUID, Job], by: Caller) -> None:
    record_changes(
        [
            Recorded(
                "offline-record.conflicted", "offline-record", row.pk, row.version, jobs[record.job].site_id,
                {"job": record.job, "kind": record.kind, "code": row.code, "sentence": row.sentence},
            )
            for record, row in rows
            if row.state == "conflict"
        ],
        by=by,
    )  # fmt: skip


@transaction.atomic(savepoint=False)
def settle_record(*, by: Caller, record_id: uuid.UUID, expected_version: int, decision: str, reason: str) -> Kept:
    """Apply a record that waits or conflicts, now that it can be, or set it aside; it stays readable either way.

    Raises `WrongState` where it is settled, `StillInConflict` where it still cannot be applied.
    """
    kept = offline_records(by=by).filter(pk=record_id).first()
    if kept is None:
        raise NotThere("The offline record is not here.", remedy="Check the id.")
    job = job_for(by, kept.job_id, "supervisor")
    job = Job.objects.select_for_update(no_key=True, of=("self",)).select_related("revision", "pump").get(pk=job.pk)
    kept = Kept.objects.select_for_update(no_key=True).get(pk=record_id)
    if kept.version != expected_version:
        raise version_changed("The offline record", kept.version)
    if kept.state not in {"waiting", "conflict"}:
        raise WrongState(f"The record is {kept.state.replace('-', ' ')}.", remedy="Nothing is left to decide.")
    if decision == "apply":
        row = Row.of(kept)
        _apply([Arrival(record_of(kept), maker_of(kept), row)], {job.pk: job})
        _settled(kept, row)
        if kept.state != "applied":
            raise StillInConflict(kept.sentence, remedy="Settle what stands against it first, or set it aside.")
    else:
        kept.state = "set-aside"
    kept.settled_by_id, kept.settled_at, kept.settled_because = by.id, timezone.now(), reason
    kept.save()
    kept.refresh_from_db()
    record_changed(job, by)
    record_change(
        "offline-record.settled",
        noun="offline-record",
        noun_id=kept.pk,
        version=kept.version,
        site_id=job.site_id,
        by=by,
        body={"job": job.pk, "kind": kept.kind, "state": kept.state, "reason": reason},
    )
    return kept
