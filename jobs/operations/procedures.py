"""Writing revisions of procedures: drafts, their content, and copies of earlier ones."""

import uuid
from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.db.models import Max

from assets.access import require_operator_wide
from jobs.calculations.procedure_rows import canonical, document_from, head_from, steps_from
from jobs.calculations.procedure_shape import plain
from jobs.calculations.procedure_text import ReadText
from jobs.calculations.signed_content import content_hash
from jobs.models import Characteristic, Procedure, ProcedureRevision, Step
from jobs.operations.procedure_acts import keep_act, state_words
from jobs.operations.procedure_soundness import require_sound
from jobs.queries.procedures import AUTHOR, head_of, revisions, step_rows
from jobs.refusals import RevisionClosed
from services.api.identifiers import new_id
from services.api.refusals import AlreadyThere, InvalidValue, NotThere
from services.api.versions import version_changed
from services.identity.callers import Caller


@transaction.atomic(savepoint=False)
def draft_revision(
    *,
    by: Caller,
    document: Mapping[str, Any],
    read: ReadText | None = None,
    revision_id: uuid.UUID | None = None,
) -> tuple[uuid.UUID, bool]:
    """A draft from a whole procedure document; (revision id, whether anything was written).

    The same revision with the same content is left alone; a draft gets the new content. ``read``: the text it came
    from, for the lines of what is wrong. Raises `ProcedureUnsound` with every place that is wrong, `RevisionClosed`
    where the revision is no draft any more and has other content, `InvalidValue`, `AlreadyThere`.
    """
    require_operator_wide(by, AUTHOR)
    require_sound(document, read)
    kept_form = canonical(document)
    head, digest = head_from(kept_form), content_hash(kept_form)
    procedure = _procedure(head)
    known = ProcedureRevision.objects.select_for_update(no_key=True).filter(
        procedure=procedure, revision=head["revision"]
    )
    kept = known.first()
    # Revisions kept before there was one form of all documents have the hash of what was sent.
    if kept is not None and kept.content_hash in {digest, content_hash(plain(document))}:
        return kept.pk, False
    if kept is not None and kept.state != "draft":
        raise _closed(kept, head)
    if kept is None and revision_id and ProcedureRevision.objects.filter(pk=revision_id).exists():
        raise AlreadyThere("This id is used for another revision.", remedy="Use a fresh id.", pointer="#/id")
    revision = kept or ProcedureRevision(
        **({"id": revision_id} if revision_id else {}), procedure=procedure, revision=head["revision"]
    )
    _write(revision, head, steps_from(kept_form), digest)
    keep_act(revision, "changed" if kept else "drafted", "procedure.drafted", by)
    return revision.pk, True


def _procedure(head: Mapping[str, Any]) -> Procedure:
    """The procedure of a document, made where it is new. Its title is that of the published revision, if there is one.

    Raises `InvalidValue` where others of its revisions, drafts too, are for another configuration: they would be other
    documents than those that were written.
    """
    words = {name: head[name] for name in ("title", "configuration", "scope_words")}
    procedure, made = Procedure.objects.get_or_create(code=head["code"], defaults=words)
    if made:
        return procedure
    others = procedure.revisions.exclude(revision=head["revision"])
    if others.exists() and procedure.configuration != head["configuration"]:
        raise InvalidValue(
            f"{procedure.code} is for {procedure.configuration}; a procedure keeps its configuration.",
            remedy="Give a procedure for other pumps a code of its own.",
            pointer="#/configuration",
        )
    if not others.exclude(state="draft").exists():
        Procedure.objects.filter(pk=procedure.pk).update(**words)
    return procedure


def _closed(revision: ProcedureRevision, head: Mapping[str, Any]) -> RevisionClosed:
    if revision.state in {"in-review", "reviewed"}:
        return RevisionClosed(
            f"Revision {revision.revision} of {head['code']} is {revision.state} with other content.",
            remedy="Have it sent back first, then change it.",
        )
    return RevisionClosed(
        f"Revision {revision.revision} of {head['code']} is {revision.state} with other content.",
        remedy=f"Give it a new revision number, {revision.revision + 1} or higher.",
    )


@transaction.atomic(savepoint=False)
def change_draft(
    *,
    by: Caller,
    revision_id: uuid.UUID,
    expected_version: int,
    document: Mapping[str, Any] | None = None,
    read: ReadText | None = None,
) -> None:
    """Other content for a draft: ``read`` as a whole, or ``document`` as a merge patch (RFC 7396) of what it holds.

    Raises `ProcedureUnsound`, `RevisionClosed`, `InvalidValue` for another code or number, `VersionChanged`.
    """
    require_operator_wide(by, AUTHOR)
    revision = locked_revision(revision_id, expected_version)
    if revision.state != "draft":
        raise RevisionClosed(
            f"This revision is {state_words(revision.state)}.",
            remedy="Only a draft is changed. Have it sent back, or make a copy as a new draft.",
        )
    before = document_from(head_of(revision), step_rows(revision.pk))
    wanted = read.document if read is not None else merged(before, document or {})
    require_sound(wanted, read)
    kept_form = canonical(wanted)
    for name in ("code", "revision"):
        if kept_form[name] != before[name]:
            raise InvalidValue(
                f"This is {name} {before[name]}; a draft keeps its {name}.",
                remedy="Make a new draft for another one.",
                pointer=f"#/{name}",
            )
    digest = content_hash(kept_form)
    if digest == revision.content_hash:
        return
    head = head_from(kept_form)
    _procedure(head)
    _write(revision, head, steps_from(kept_form), digest)
    keep_act(revision, "changed", "procedure.drafted", by)


@transaction.atomic(savepoint=False)
def copy_revision(
    *, by: Caller, revision_id: uuid.UUID, number: int | None = None, copy_id: uuid.UUID | None = None
) -> uuid.UUID:
    """A new draft with the content of a revision; its number is the next one unless given. Raises `AlreadyThere`."""
    require_operator_wide(by, AUTHOR)
    source = revisions(by=by).select_related("procedure").filter(pk=revision_id).first()
    if source is None:
        raise NotThere("The revision is not here.", remedy="Check the id.")
    highest = ProcedureRevision.objects.filter(procedure_id=source.procedure_id).aggregate(most=Max("revision"))["most"]
    wanted = number or int(highest) + 1
    if ProcedureRevision.objects.filter(procedure_id=source.procedure_id, revision=wanted).exists():
        raise AlreadyThere(
            f"Revision {wanted} of {source.procedure.code} exists already.",
            remedy=f"Give a number from {highest + 1} up, or none.",
            pointer="#/revision",
        )
    document = document_from({**head_of(source), "revision": wanted}, step_rows(source.pk))
    made, _ = draft_revision(by=by, document=document, revision_id=copy_id)
    return made


def merged(target: Any, patch: Any) -> Any:
    """A JSON merge patch applied, after RFC 7396: null takes a field out, lists are replaced whole."""
    if not isinstance(patch, Mapping):
        return patch
    found = dict(target) if isinstance(target, Mapping) else {}
    for name, value in patch.items():
        if value is None:
            found.pop(name, None)
        else:
            found[name] = merged(found.get(name), value)
    return found


def locked_revision(revision_id: uuid.UUID, expected_version: int) -> ProcedureRevision:
    """The revision, locked, as the caller saw it. Raises `NotThere`, `VersionChanged`."""
    revision = (
        ProcedureRevision.objects.select_for_update(no_key=True, of=("self",))
        .select_related("procedure")
        .filter(pk=revision_id)
        .first()
    )
    if revision is None:
        raise NotThere("The revision is not here.", remedy="Check the id.")
    if revision.version != expected_version:
        raise version_changed("The revision", revision.version)
    return revision


def _write(revision: ProcedureRevision, head: Mapping[str, Any], steps: list[dict[str, Any]], digest: str) -> None:
    if not revision._state.adding:
        revision.steps.all().delete()
    for name in ("title", "scope_words", "prepared_by"):
        setattr(revision, name, head[name])
    revision.content_hash = digest
    revision.save()
    revision.refresh_from_db(fields=["version"])
    rows, characteristics = [], []
    for one in steps:
        asked = one.pop("characteristics")
        row = Step(id=new_id(), revision_id=revision.pk, **one)
        rows.append(row)
        characteristics += [Characteristic(id=new_id(), step=row, **each) for each in asked]
    Step.objects.bulk_create(rows)
    Characteristic.objects.bulk_create(characteristics)
