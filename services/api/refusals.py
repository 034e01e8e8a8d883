"""What the service says when it will not do what was asked.

A refusal says what is wrong and what would help. It carries no status code: `services.api.problems` is the one
place that turns a kind of refusal into an answer. Every refusal that an app can raise is a subclass with a code of
its own; its docstring is shown at ``/problems/<code>``.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any, ClassVar


class Kind(Enum):
    """How a caller should take a refusal."""

    MALFORMED = "malformed"
    UNAUTHENTICATED = "unauthenticated"
    FORBIDDEN = "forbidden"
    ABSENT = "absent"
    CONFLICT = "conflict"
    GONE = "gone"
    VERSION_CHANGED = "version-changed"
    VERSION_MISSING = "version-missing"
    TOO_LARGE = "too-large"
    UNSUPPORTED = "unsupported"
    INVALID = "invalid"
    TOO_MANY = "too-many"
    UNAVAILABLE = "unavailable"


@dataclass(frozen=True)
class FieldProblem:
    """One field that is wrong: a JSON Pointer into the body, or ``?name`` for a query parameter."""

    pointer: str
    code: str
    detail: str


class Refusal(Exception):
    """The request cannot be done as asked.

    Arguments: ``detail`` what is wrong, ``remedy`` what would help, ``pointer`` the field at fault, ``problems`` for
    several fields, ``facts`` machine-readable extras shown beside the text (JSON-safe values).
    """

    kind: ClassVar[Kind] = Kind.CONFLICT
    code: ClassVar[str] = "refused"
    title: ClassVar[str] = "The request was refused"

    def __init__(
        self,
        detail: str,
        *,
        remedy: str,
        pointer: str | None = None,
        problems: Iterable[FieldProblem] = (),
        **facts: Any,
    ) -> None:
        super().__init__(detail)
        self.detail = detail
        self.remedy = remedy
        found = list(problems)
        if pointer is not None:
            found.insert(0, FieldProblem(pointer, self.code, detail))
        self.problems: tuple[FieldProblem, ...] = tuple(found)
        self.facts: Mapping[str, Any] = facts


class NotThere(Refusal):
    """There is no such thing, or it belongs to a site you were not granted. Check the id, or ask for the grant."""

    kind = Kind.ABSENT
    code = "not-found"
    title = "Not found"


class NotAllowed(Refusal):
    """You may see this, but your roles at its site do not include what you asked for."""

    kind = Kind.FORBIDDEN
    code = "not-allowed"
    title = "Your roles do not allow this"


class ScopeMissing(Refusal):
    """The token was made without the scope that this request needs. Use another token or have one made."""

    kind = Kind.FORBIDDEN
    code = "insufficient-scope"
    title = "The token lacks a scope"


class InvalidValue(Refusal):
    """The request was understood, but a value in it cannot be right. The list of errors names each field."""

    kind = Kind.INVALID
    code = "invalid-value"
    title = "A value is not acceptable"


class Malformed(Refusal):
    """The request could not be read: broken JSON, a parameter that cannot be parsed, or a missing header."""

    kind = Kind.MALFORMED
    code = "malformed"
    title = "The request could not be read"


class UnknownParameter(Malformed):
    """A query parameter is not known here. It is refused because a misspelt filter would show the wrong rows."""

    code = "unknown-parameter"
    title = "Unknown query parameter"


class InvalidCursor(Malformed):
    """The page cursor is damaged, or was made for other filters. Start again from the first page."""

    code = "invalid-cursor"
    title = "The page cursor does not fit this list"


class VersionMissing(Refusal):
    """This request decides on what was seen, so it must say which version that was: send If-Match with the ETag."""

    kind = Kind.VERSION_MISSING
    code = "version-missing"
    title = "If-Match is required"


class VersionChanged(Refusal):
    """Somebody changed it since you read it. Read it again, look at the difference, then repeat the request."""

    kind = Kind.VERSION_CHANGED
    code = "version-changed"
    title = "It has changed since you read it"


class KeyMissing(Malformed):
    """This request creates or moves something, so a retry must be recognisable: send an Idempotency-Key header."""

    code = "idempotency-key-missing"
    title = "Idempotency-Key is required"


class KeyReused(Refusal):
    """The same Idempotency-Key came before with another body. Use a new key for a new request."""

    kind = Kind.INVALID
    code = "idempotency-key-reused"
    title = "Idempotency-Key was used for another request"


class KeyRunning(Refusal):
    """The first request with this Idempotency-Key has not ended yet. Wait a moment and repeat it unchanged."""

    code = "idempotency-key-running"
    title = "The first request with this key is still running"


class WrongState(Refusal):
    """The thing is not in a state from which this can be done. The detail says which states are possible."""

    code = "wrong-state"
    title = "Not possible in its present state"


class Busy(Refusal):
    """Others are changing the same rows. Nothing was done; repeat the request after the pause named."""

    kind = Kind.UNAVAILABLE
    code = "busy"
    title = "Busy, try again"


class AlreadyThere(Refusal):
    """Something with the same key exists. Change that one, or choose another key."""

    code = "already-there"
    title = "It exists already"


class StillNeeded(Refusal):
    """Other records refer to it, so it cannot be removed."""

    code = "still-needed"
    title = "Other records refer to it"


class RuleBroken(Refusal):
    """A rule that the database keeps would be broken. Nothing was done."""

    code = "rule-broken"
    title = "A rule of the records would be broken"


def known_refusals() -> dict[str, type[Refusal]]:
    """Every refusal by code, those of the apps included once they are imported."""
    found: dict[str, type[Refusal]] = {}
    waiting: list[type[Refusal]] = [Refusal]
    while waiting:
        one = waiting.pop()
        found.setdefault(one.code, one)
        waiting.extend(one.__subclasses__())
    return found
