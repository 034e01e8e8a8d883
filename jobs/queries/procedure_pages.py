"""Revisions of procedures for people who look at them: a list, what was done with one, and what is new in it."""

from typing import Any

from jobs.calculations.procedure_comparison import compare
from jobs.models import ProcedureRevision
from jobs.queries.procedures import acts_of, head_of, revision_before, revisions, step_rows
from services.api.rows import plain_rows
from services.identity.callers import Caller

MOST_REVISIONS = 200


def revisions_listed(by: Caller) -> list[dict[str, Any]]:
    """Revisions that the caller sees, by procedure, the latest first; at most 200. One query."""
    return plain_rows(
        revisions(by=by)
        .order_by("procedure__code", "-revision")
        .values("id", "revision", "state", "title", "procedure__code", "procedure__title", "procedure__configuration",
                "prepared_by", "published_at")[:MOST_REVISIONS]
    )  # fmt: skip


def acts_listed(by: Caller, revision: ProcedureRevision) -> list[dict[str, Any]]:
    """What was done with a revision, in order. One query."""
    return plain_rows(acts_of(revision.pk, by=by).order_by("id").values("act", "remarks", "at", "by__name"))


def others_of(by: Caller, revision: ProcedureRevision) -> list[dict[str, Any]]:
    """Other revisions of the same procedure, to hold it against; the latest first. One query."""
    rows = revisions(by=by).filter(procedure_id=revision.procedure_id).exclude(pk=revision.pk).order_by("-revision")
    return plain_rows(rows.values("id", "revision", "state"))


def what_is_new(by: Caller, after: ProcedureRevision, before: ProcedureRevision | None) -> dict[str, Any]:
    """A revision held against another, or against the one before it. At most six queries."""
    earlier = before or revision_before(by, after)
    found = compare(
        head_of(earlier or after), step_rows(earlier.pk) if earlier else [], head_of(after), step_rows(after.pk)
    )
    return found | {"before": earlier}
