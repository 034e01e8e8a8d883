"""Writing measurements and confirmations of many offline records into the books of their jobs, and saving them."""

import datetime
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.utils import timezone

from jobs.calculations.evaluation import Tool
from jobs.calculations.offline_records import OfflineRecord
from jobs.calculations.readings import number_read
from jobs.calculations.step_completeness import unmet
from jobs.models import Instrument, JobStep, Measurement, Nonconformity
from jobs.operations.measurements import measurement_change, renew_advice
from jobs.operations.nonconformities import nonconformity_change, rejected
from jobs.operations.under_way import LONGEST_AGO
from jobs.queries.attachments import photos_wanted
from jobs.queries.instruments import overdue_on
from jobs.queries.judging import Asked, Judged, judge_readings, same_as_kept
from jobs.queries.offline_records import AskedHere, JobBook
from services.api.many_rows import insert_many, insert_rows, update_many
from services.api.refusals import Refusal
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller

# What keeps a record back until others have come; everything else needs a person.
WAITS = frozenset({"make-safe-first", "hold-point-waits", "step-incomplete"})
STEP_WORDS = {
    "make-safe-first": "Make-safe steps {} are not confirmed yet.",
    "hold-point-waits": "Hold point {} comes first.",
    "step-unknown": "The job has no such step.",
}


@dataclass(frozen=True)
class Fate:
    """What became of a record: applied, waiting or conflict; the verdict where one was given."""

    state: str
    code: str = ""
    sentence: str = ""
    verdict: str = ""
    against: Mapping[str, Any] = field(default_factory=dict)


APPLIED = Fate("applied")


@dataclass
class Written:
    """What a chunk of records changes, saved together."""

    by: Caller
    measurements: list[dict[str, Any]] = field(default_factory=list)
    raised: list[Nonconformity] = field(default_factory=list)
    closed: list[Nonconformity] = field(default_factory=list)
    steps: list[tuple[JobBook, JobStep]] = field(default_factory=list)
    waiting_for_release: dict[uuid.UUID, JobStep] = field(default_factory=dict)
    heated: dict[uuid.UUID, JobBook] = field(default_factory=dict)
    told: list[Recorded | Callable[[Mapping[uuid.UUID, int]], Recorded]] = field(default_factory=list)

    def save(self) -> None:
        """Write it all: a statement for each table, then the changes in the order in which they happened."""
        insert_rows(Measurement, self.measurements)
        insert_many(self.raised)
        closed = update_many(self.closed, ["state", "disposition", "closed_at"])
        steps = update_many([step for _, step in self.steps], ["state", "done_by", "done_at", "note"])
        # Whoever looked at a step before, to release it, has to look again: its version rises.
        versions = closed | steps | update_many(list(self.waiting_for_release.values()), ["updated_at"])
        record_changes([one(versions) if callable(one) else one for one in self.told], by=self.by)
        renew_advice([book.job for book in self.heated.values() if book.heats])


def conflict(code: str, sentence: str, **against: Any) -> Fate:
    """Something that a person must look at."""
    return Fate("conflict", code, sentence, against=against)


def blocked(book: JobBook, number: int) -> Fate | None:
    """Why a step of the job cannot take a record now, None where it can."""
    if book.job.state != "in-progress":
        state = book.job.state.replace("-", " ")
        return conflict("wrong-job-state", f"The job is {state}.", job_state=book.job.state)
    found = book.obstacle(number)
    if found is None:
        return None
    if found.code in WAITS:
        numbers = ", ".join(map(str, found.numbers))
        return Fate("waiting", found.code, STEP_WORDS[found.code].format(numbers))
    if found.code == "step-not-open":
        step = book.steps[number]
        return conflict(
            "step-not-open",
            f"Step {number} is {step.state.replace('-', ' ')} already.",
            state=step.state,
            done_by=None if step.done_by_id is None else str(step.done_by_id),
            done_at=None if step.done_at is None else step.done_at.isoformat(),
        )
    return conflict(found.code, STEP_WORDS[found.code])


def write_measurement(
    record: OfflineRecord,
    book: JobBook,
    tools: Mapping[uuid.UUID, tuple[Instrument, Tool]],
    known: Measurement | None,
    to: Written,
) -> Fate:
    """Judge readings against the limits as they stand; the same id again is the same measurement."""
    sent = record.content
    readings, given = as_numbers(sent["readings"]), sent.get("given") or {}
    if known is not None:
        return _known(record, book, known, readings, given)
    number = sent["step"]
    asked = book.asked.get((number, sent["characteristic"]))
    stands_against = blocked(book, number)
    if stands_against is not None and not (asked and _came_late(record, book, number, asked)):
        return stands_against
    if asked is None:
        return conflict(
            "characteristic-unknown", f"Step {number} asks for no characteristic {sent['characteristic']!r}."
        )
    wanted = [sent["instrument"], *([sent["second_instrument"]] if sent.get("second_instrument") else [])]
    found = [tools[one] for one in wanted if one in tools and tools[one][0].site_id == book.job.site_id]
    if len(found) < len(wanted):
        return conflict("instrument-unfit", "There is no such instrument at this site.")
    first, second = found[0][0], found[1][0] if len(found) > 1 else None
    day = record.occurred_at.date()
    try:
        judged = judge_readings(
            asked.judged,
            tools=[figures for _, figures in found],
            overdue=[one.number for one, _ in found if overdue_on(one, day)],
            readings=readings,
            unit=sent["unit"],
            given=given,
        )
    except Refusal as refusal:
        return conflict(refusal.code, refusal.detail)
    if first.type != asked.instrument_type:
        return conflict(
            "instrument-unfit",
            f"{asked.judged.name} is measured with {asked.instrument_type}; {first.number} is {first.type}.",
        )
    if judged.doubts and not sent.get("as_read"):
        return conflict("reading-doubtful", judged.doubts[0].sentence)
    attempt = asked.attempts + 1
    to.measurements.append(
        judged.columns
        | {
            "id": record.id,
            "job_id": book.job.pk,
            "job_characteristic_id": asked.pk,
            "attempt": attempt,
            "instrument_id": first.pk,
            "calibration_due": first.calibration_due,
            "second_instrument_id": second.pk if second else None,
            "second_calibration_due": second.calibration_due if second else None,
            "occurred_at": record.occurred_at,
            "by_id": to.by.id,
        }
    )
    asked.note(attempt, record.id, judged.verdict.result, record.occurred_at)
    _follow(record, book, asked, judged, to)
    if stands_against is not None and book.steps[number].state == "awaiting-release":
        _look_again(book, book.steps[number], to)
    return Fate("applied", verdict=judged.verdict.result)


def _came_late(record: OfflineRecord, book: JobBook, number: int, asked: AskedHere) -> bool:
    """Whether the step was done after this was measured, on the strength of a later measurement that was accepted, and
    nobody has signed for it yet: then it belongs before that one and changes nothing."""
    step = book.steps[number]
    return (
        book.job.state == "in-progress"
        and step.done_at is not None
        and step.released_at is None
        and record.occurred_at <= step.done_at
        and asked.surpassed(record.occurred_at)
    )


def _known(record: OfflineRecord, book: JobBook, known: Measurement, readings: Any, given: Mapping[str, Any]) -> Fate:
    asked, sent = known.job_characteristic, record.content
    same = (
        known.job_id == book.job.pk
        and asked.code == sent["characteristic"]
        and known.unit == sent["unit"]
        and same_as_kept(Asked.of(asked), known.readings, known.given, readings, given)
    )
    if same:
        return Fate("applied", verdict=known.verdict)
    return conflict("id-reused", "The id belongs to another measurement.", measurement=str(known.pk))


def _follow(record: OfflineRecord, book: JobBook, asked: AskedHere, judged: Judged, to: Written) -> None:
    """What a verdict brings with it: a nonconformity raised, others settled, advice that is worked out anew."""
    sent, verdict = record.content, judged.verdict.result
    to.told.append(measurement_change(book.job, record.id, judged, sent["characteristic"], sent["step"]))
    if verdict == "reject":
        raised = rejected(
            by=to.by, job=book.job, asked_id=asked.pk, asked=asked.judged, measured=record.id,
            value=judged.columns["value"],
        )  # fmt: skip
        asked.nonconformities.append((raised, record.occurred_at))
        to.raised.append(raised)
        to.told.append(nonconformity_change("nonconformity.raised", book.job, raised))
    if verdict == "accept":
        to.heated[book.job.pk] = book
    _close_surpassed(book, asked, to)


def _close_surpassed(book: JobBook, asked: AskedHere, to: Written) -> None:
    """What an accepted measurement that happened later has settled, whichever of the two came first."""
    for one, measured_at in asked.nonconformities:
        if one.state != "closed" and measured_at and asked.surpassed(measured_at):
            one.state, one.disposition, one.closed_at = "closed", one.disposition or "rework", timezone.now()
            if not one._state.adding:
                to.closed.append(one)
            to.told.append(_closed(book, one))


def _look_again(book: JobBook, step: JobStep, to: Written) -> None:
    if step.pk not in to.waiting_for_release:
        step.updated_at = timezone.now()
        to.waiting_for_release[step.pk] = step
        to.told.append(_step_change("job-step.record-changed", book, step))


def _closed(book: JobBook, one: Nonconformity) -> Any:
    return lambda versions: nonconformity_change("nonconformity.closed", book.job, one, versions.get(one.pk))


def write_confirmation(record: OfflineRecord, book: JobBook, to: Written) -> Fate:
    """Confirm a step as of when it was done."""
    number = record.content["step"]
    step = book.steps.get(number)
    if step is not None and step.done_by_id == to.by.id and step.done_at == record.occurred_at:
        return APPLIED
    stands_against = blocked(book, number)
    if stands_against is not None or step is None:
        return stands_against or conflict("step-unknown", STEP_WORDS["step-unknown"])
    asked = book.by_step.get(number, [])
    latest = {one: one.latest for one in asked if one.latest}
    missing = unmet([(one, one.code) for one in asked], latest, book.conceded)
    lacking = photos_wanted(step) - book.photos.get(number, 0)
    if missing or lacking > 0:
        words = [one.sentence for one in missing] + ([f"Photos still wanted: {lacking}."] if lacking > 0 else [])
        return Fate("waiting", "step-incomplete", " ".join(words))
    step.state = "awaiting-release" if step.step.hold_point else "done"
    step.done_by_id, step.done_at, step.note = to.by.id, record.occurred_at, record.content.get("note", "")
    book.changed(step)
    to.steps.append((book, step))
    to.told.append(_step_change("job-step.confirmed", book, step))
    return APPLIED


def _step_change(kind: str, book: JobBook, step: JobStep) -> Any:
    return lambda versions: Recorded(
        kind, "job-step", step.pk, versions.get(step.pk, step.version), book.job.site_id,
        {"job": book.job.pk, "job_number": book.job.number, "step": step.number, "state": step.state},
    )  # fmt: skip


def as_numbers(value: Any) -> Any:
    """Readings as numbers where they are numbers; what is none stays as it came and is refused when it is judged."""
    if isinstance(value, str):
        number = number_read(value)
        return value if number is None else number
    if isinstance(value, list):
        return [as_numbers(one) for one in value]
    return {name: as_numbers(one) for name, one in value.items()} if isinstance(value, Mapping) else value


def believable(record: OfflineRecord, now: datetime.datetime) -> Fate | None:
    """A moment in the future, or longer ago than anybody is offline, is looked at by a person."""
    if record.occurred_at > now + datetime.timedelta(minutes=5):
        return conflict("time-not-believable", "It would have happened in the future. Check the device's clock.")
    if record.occurred_at < now - LONGEST_AGO:
        return conflict("time-not-believable", "It is more than 90 days old. Check the device's clock.")
    return None
