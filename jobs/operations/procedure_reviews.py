"""The life of a revision after it is written: handed in, looked at by another person, published, withdrawn."""

import uuid
from typing import Any

from django.db import transaction
from django.utils import timezone

from assets.access import require_operator_wide
from jobs.calculations.procedure_rows import document_from
from jobs.models import Procedure, ProcedureRevision, RevisionAct
from jobs.operations.procedure_acts import keep_act, state_words
from jobs.operations.procedure_soundness import require_sound
from jobs.operations.procedures import locked_revision
from jobs.queries.procedures import AUTHOR, head_of, step_rows
from jobs.refusals import RevisionClosed, RevisionNotReviewed, SecondPersonNeeded
from services.api.refusals import InvalidValue
from services.identity.callers import Caller

WROTE = ("drafted", "changed")


@transaction.atomic(savepoint=False)
def submit(*, by: Caller, revision_id: uuid.UUID, expected_version: int, remarks: str = "") -> None:
    """Hand a draft in for review; its content stands still from now on.

    Raises `ProcedureUnsound` with every gap that a workshop would not let pass, `RevisionClosed`, `VersionChanged`.
    """
    require_operator_wide(by, AUTHOR)
    revision = locked_revision(revision_id, expected_version)
    _must_be(revision, "draft", "Only a draft is handed in for review.")
    require_sound(document_from(head_of(revision), step_rows(revision.pk)), stops=("draft", "review"))
    _move(revision, "in-review", submitted_at=timezone.now(), submitted_by_id=by.id)
    keep_act(revision, "submitted", "procedure.submitted", by, remarks)


@transaction.atomic(savepoint=False)
def review(*, by: Caller, revision_id: uuid.UUID, expected_version: int, remarks: str = "") -> None:
    """Find a revision good, as somebody who neither wrote it nor handed it in.

    Raises `SecondPersonNeeded`, `RevisionClosed`, `VersionChanged`.
    """
    require_operator_wide(by, AUTHOR)
    revision = locked_revision(revision_id, expected_version)
    _must_be(revision, "in-review", "Only what was handed in is reviewed.")
    wrote = RevisionAct.objects.filter(revision=revision, act__in=WROTE, by_id=by.id)
    if revision.submitted_by_id == by.id or wrote.exists():
        raise SecondPersonNeeded(
            "Whoever wrote a revision or handed it in does not review it.",
            remedy="Ask another author of procedures to look.",
        )
    _move(revision, "reviewed", reviewed_at=timezone.now(), reviewed_by_id=by.id)
    keep_act(revision, "reviewed", "procedure.reviewed", by, remarks)


@transaction.atomic(savepoint=False)
def send_back(*, by: Caller, revision_id: uuid.UUID, expected_version: int, remarks: str) -> None:
    """Make it a draft again, saying what is to be mended. Raises `InvalidValue`, `RevisionClosed`, `VersionChanged`."""
    require_operator_wide(by, AUTHOR)
    revision = locked_revision(revision_id, expected_version)
    if revision.state not in {"in-review", "reviewed"}:
        raise RevisionClosed(
            f"This revision is {state_words(revision.state)}.", remedy="Only what is under review is sent back."
        )
    _must_say(remarks, "remarks", "Say what is to be mended.")
    _move(revision, "draft", submitted_at=None, submitted_by_id=None, reviewed_at=None, reviewed_by_id=None)
    keep_act(revision, "sent-back", "procedure.sent-back", by, remarks)


@transaction.atomic(savepoint=False)
def publish(*, by: Caller, revision_id: uuid.UUID, expected_version: int) -> None:
    """Publish what was reviewed; the revision published so far is superseded, running jobs stay on theirs.

    Raises `RevisionNotReviewed`, `RevisionClosed`, `VersionChanged`.
    """
    require_operator_wide(by, AUTHOR)
    revision = locked_revision(revision_id, expected_version)
    if revision.state in {"draft", "in-review"}:
        raise RevisionNotReviewed(
            f"This revision is {state_words(revision.state)}.",
            remedy="Hand it in, and have another person review it.",
        )
    _must_be(revision, "reviewed", "Only a reviewed revision can be published.")
    for earlier in ProcedureRevision.objects.select_for_update(no_key=True).filter(
        procedure_id=revision.procedure_id, state="published"
    ):
        _move(earlier, "superseded")
        keep_act(earlier, "superseded", "procedure.superseded", by, f"Revision {revision.revision} took its place.")
    _move(revision, "published", published_at=timezone.now(), published_by_id=by.id)
    Procedure.objects.filter(pk=revision.procedure_id).update(title=revision.title, scope_words=revision.scope_words)
    keep_act(revision, "published", "procedure.published", by)


@transaction.atomic(savepoint=False)
def withdraw(*, by: Caller, revision_id: uuid.UUID, expected_version: int, reason: str) -> None:
    """Withdraw a revision that was published; new jobs cannot use it, and nothing brings it back.

    Raises `InvalidValue`, `RevisionClosed`, `VersionChanged`.
    """
    require_operator_wide(by, AUTHOR)
    revision = locked_revision(revision_id, expected_version)
    if revision.state not in {"published", "superseded"}:
        raise RevisionClosed(
            f"This revision is {state_words(revision.state)}.",
            remedy="Only a revision that was published can be withdrawn.",
        )
    _must_say(reason, "reason", "Say why it is withdrawn.")
    _move(revision, "withdrawn")
    keep_act(revision, "withdrawn", "procedure.withdrawn", by, reason)


def _must_be(revision: ProcedureRevision, state: str, remedy: str) -> None:
    if revision.state != state:
        raise RevisionClosed(f"This revision is {state_words(revision.state)}.", remedy=remedy)


def _must_say(words: str, name: str, remedy: str) -> None:
    if not words.strip():
        raise InvalidValue(f"{name} is empty.", remedy=remedy, pointer=f"#/{name}")


def _move(revision: ProcedureRevision, state: str, **columns: Any) -> None:
    ProcedureRevision.objects.filter(pk=revision.pk).update(state=state, **columns)
    revision.refresh_from_db()
