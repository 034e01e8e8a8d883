"""Procedures handed in as files."""

from collections.abc import Sequence

from django.db import transaction

from assets.access import require_operator_wide
from jobs.operations.procedures import AUTHOR, draft_revision
from services.api.loading import LoadRow, RowOutcome, RowProblem
from services.api.refusals import Refusal
from services.identity.callers import Caller


def load_procedures(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """One document a row; each becomes a draft revision, or is refused with its places."""
    require_operator_wide(by, AUTHOR)
    outcomes = []
    for row in rows:
        key = f"{row.values.get('code')} {row.values.get('revision')}"
        try:
            # A savepoint of its own: a refused document must not take the others with it.
            with transaction.atomic(savepoint=True):
                _, written = draft_revision(by=by, document=row.values)
        except Refusal as refusal:
            problems = [RowProblem(one.pointer, "", one.detail, refusal.remedy) for one in refusal.problems]
            outcomes.append(
                RowOutcome(
                    row.number,
                    key,
                    "refused",
                    problems=problems or [RowProblem("revision", key, refusal.detail, refusal.remedy)],
                )
            )
        else:
            outcomes.append(RowOutcome(row.number, key, "created" if written else "unchanged"))
    return outcomes
