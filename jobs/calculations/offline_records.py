"""Records that were made without a connection: their shape, and in which order they are taken in.

A record is ``{"id", "kind", "job", "occurred_at"}`` and what its kind asks for. Whatever else it holds is refused: a
misspelt field must not get lost in silence.
"""

import datetime
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from jobs.calculations.signed_content import ContentUnsignable, content_hash

# As long as what is kept of each: see the models.
LONGEST_TEXT, LONGEST_SHORT_NOTE, LONGEST_NAME, LONGEST_UNIT = 2000, 300, 40, 20
MOST_READINGS = 100
# Of records of one moment: what is measured and found comes before the step is confirmed on the strength of it.
RANKS = {
    "kit-taken": 0,
    "measurement": 1,
    "finding": 2,
    "nonconformity": 3,
    "work-booking": 4,
    "step-confirmation": 5,
}


@dataclass(frozen=True)
class RecordProblem:
    """Where a record cannot be read, relative to it, and why."""

    place: str
    sentence: str


@dataclass(frozen=True)
class OfflineRecord:
    """A record as it was made; ``content`` is what its kind asks for, ``digest`` a hash over all of it."""

    id: uuid.UUID
    kind: str
    job: uuid.UUID
    occurred_at: datetime.datetime
    content: dict[str, Any]
    digest: str

    @property
    def order(self) -> tuple[Any, ...]:
        """Sorts records of a job into the order in which they happened."""
        return (self.job.int, self.occurred_at, RANKS[self.kind], self.content.get("step") or 0, self.id.int)


@dataclass(frozen=True)
class Field:
    """A field of a kind of record."""

    read: Callable[[Any], Any]
    needed: bool = False


def read_record(raw: Any) -> OfflineRecord | list[RecordProblem]:
    """The record, or everything that is wrong with it."""
    if not isinstance(raw, Mapping):
        return [RecordProblem("", "A record is an object with id, kind, job and occurred_at.")]
    problems: list[RecordProblem] = []
    kind = raw.get("kind")
    if not isinstance(kind, str) or kind not in RANKS:
        return [RecordProblem("/kind", f"kind must be one of {', '.join(RANKS)}.")]
    fields = FIELDS[kind]
    problems += [
        RecordProblem(f"/{str(name)[:40]}", f"{str(name)[:40]!r} is not known here; known: {', '.join(fields)}.")
        for name in raw
        if name not in fields
    ]
    read: dict[str, Any] = {}
    for name, field in fields.items():
        value = raw.get(name)
        if value is None:
            if field.needed:
                problems.append(RecordProblem(f"/{name}", f"{name} is missing."))
            continue
        try:
            read[name] = field.read(value)
        except ValueError as error:
            problems.append(RecordProblem(f"/{name}", f"{name}: {error}"))
    if problems:
        return problems
    try:
        digest = content_hash({name: raw[name] for name in fields if raw.get(name) is not None})
    except ContentUnsignable as error:
        return [RecordProblem("", str(error))]
    head = {name: read.pop(name) for name in HEAD}
    return OfflineRecord(**head, content=read, digest=digest)


def _text(value: Any) -> str:
    return _of_length(value, LONGEST_TEXT)


def _name(value: Any) -> str:
    return _of_length(value, LONGEST_NAME)


def _unit(value: Any) -> str:
    return _of_length(value, LONGEST_UNIT)


def _short_note(value: Any) -> str:
    return _of_length(value, LONGEST_SHORT_NOTE)


def _of_length(value: Any, most: int) -> str:
    if not isinstance(value, str) or "\x00" in value or len(value) > most:
        raise ValueError(f"give text of at most {most} characters.")
    return value


def _uuid(value: Any, read: Callable[[Any], uuid.UUID] = uuid.UUID) -> uuid.UUID:
    try:
        return read(value)
    except (ValueError, AttributeError, TypeError) as error:
        raise ValueError("give a UUID.") from error


# Many records name few jobs and instruments.
_read_before = lru_cache(maxsize=1024)(uuid.UUID)


def _named_often(value: Any) -> uuid.UUID:
    return _uuid(value, _read_before)


def _moment(value: Any) -> datetime.datetime:
    try:
        moment = datetime.datetime.fromisoformat(value)
    except (ValueError, TypeError) as error:
        raise ValueError("give a moment as RFC 3339, such as 2027-01-31T09:30:00Z.") from error
    if moment.tzinfo is None:
        raise ValueError("name the time zone, such as Z.")
    try:
        return moment.astimezone(datetime.UTC)
    except OverflowError as error:
        raise ValueError("give a moment that a calendar knows.") from error


def _whole(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value < 2**31:
        raise ValueError("give a whole number.")
    return value


def _yes_no(value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueError("give true or false.")
    return value


def _readings(value: Any) -> Any:
    """A list of numbers written as text, or such lists and texts by name."""
    if isinstance(value, list) and 0 < len(value) <= MOST_READINGS:
        return [_text(one) for one in value]
    if isinstance(value, Mapping) and 0 < len(value) <= MOST_READINGS:
        return {_text(name): _readings(one) for name, one in value.items()}
    if isinstance(value, str):
        return _text(value)
    raise ValueError("give numbers as text, in a list or by name.")


def _given(value: Any) -> dict[str, Any]:
    if not isinstance(value, Mapping) or len(value) > MOST_READINGS:
        raise ValueError("give an object.")
    return {_text(name): one if isinstance(one, (bool, int)) else _text(one) for name, one in value.items()}


HEAD = {
    "id": Field(_uuid, needed=True),
    "kind": Field(_text, needed=True),
    "job": Field(_named_often, needed=True),
    "occurred_at": Field(_moment, needed=True),
}
KINDS: dict[str, dict[str, Field]] = {
    "measurement": {
        "step": Field(_whole, needed=True),
        "characteristic": Field(_text, needed=True),
        "readings": Field(_readings, needed=True),
        "unit": Field(_unit, needed=True),
        "instrument": Field(_named_often, needed=True),
        "second_instrument": Field(_named_often),
        "given": Field(_given),
        "as_read": Field(_yes_no),
        "verdict_shown": Field(_text),
    },
    "step-confirmation": {"step": Field(_whole, needed=True), "note": Field(_text)},
    "nonconformity": {"description": Field(_text, needed=True), "role": Field(_name)},
    "kit-taken": {},
    "finding": {
        "role": Field(_name, needed=True),
        "observed": Field(_text, needed=True),
        "mode": Field(_text, needed=True),
        "mechanism": Field(_text),
        "bearing_damage": Field(_text),
        "cause": Field(_text),
        "replacement_reason": Field(_text),
        "step": Field(_whole),
        "needs_decision": Field(_yes_no),
    },
    "work-booking": {
        "minutes": Field(_whole, needed=True),
        "step": Field(_whole),
        "note": Field(_short_note),
    },
}
FIELDS = {kind: HEAD | fields for kind, fields in KINDS.items()}
