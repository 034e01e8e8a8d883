"""What is done with a revision of a procedure, from its first draft to its withdrawal."""

from jobs.models import ProcedureRevision, RevisionAct
from services.changes.recording import record_change
from services.identity.callers import Caller


def state_words(state: str) -> str:
    """A state as it ends the sentence *This revision is …*."""
    return {"draft": "a draft", "in-review": "under review"}.get(state, state)


def keep_act(revision: ProcedureRevision, act: str, kind: str, by: Caller, remarks: str = "") -> None:
    """Keep what was done with a revision, and by whom, and tell it; called inside the transaction that did it."""
    RevisionAct.objects.create(
        revision=revision, act=act, by_id=by.id, remarks=remarks.strip(), content_hash=revision.content_hash
    )
    record_change(
        kind,
        noun="procedure-revision",
        noun_id=revision.pk,
        version=revision.version,
        by=by,
        body={
            "procedure": str(revision.procedure_id),
            "revision": revision.revision,
            "title": revision.title,
            "state": revision.state,
            # What reviewers say of a draft is for its authors; why it is withdrawn is for everybody.
            **({"reason": remarks.strip()} if act == "withdrawn" else {}),
        },
    )
