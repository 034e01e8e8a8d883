"""Drafting, publishing and withdrawing revisions of procedures."""

import uuid
from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils import timezone

from assets.access import require_operator_wide
from jobs.calculations.signed_content import content_hash
from jobs.models import Characteristic, Procedure, ProcedureRevision, Step
from jobs.operations.procedure_soundness import computation_of, plain, signal_word, unsound_places
from jobs.refusals import ProcedureUnsound, RevisionClosed
from services.api.identifiers import new_id
from services.api.refusals import NotThere
from services.api.versions import version_changed
from services.changes.recording import record_change
from services.identity.callers import Caller

AUTHOR = "procedure-author"


@transaction.atomic(savepoint=False)
def draft_revision(*, by: Caller, document: Mapping[str, Any]) -> tuple[uuid.UUID, bool]:
    """A draft from a whole procedure document; (revision id, whether anything was written).

    The same revision with the same content is left alone. Raises `ProcedureUnsound` with every place that is wrong,
    `RevisionClosed` where the revision is published with other content.
    """
    require_operator_wide(by, AUTHOR)
    problems = list(unsound_places(document))
    if problems:
        raise ProcedureUnsound(
            f"{len(problems)} places of the procedure are not sound, first {problems[0].pointer}: {problems[0].detail}",
            remedy="Correct the places named and load it again.",
            problems=problems,
        )
    digest = content_hash(plain(document))
    code, number = str(document["code"]), int(document["revision"])
    procedure, _ = Procedure.objects.update_or_create(
        code=code,
        defaults={
            "title": document["title"],
            "configuration": document["configuration"],
            "scope_words": document.get("scope_words") or "",
        },
    )
    known = ProcedureRevision.objects.select_for_update(no_key=True).filter(procedure=procedure, revision=number)
    kept = known.first()
    if kept is not None and kept.content_hash == digest:
        return kept.pk, False
    if kept is not None and kept.state != "draft":
        raise RevisionClosed(
            f"Revision {number} of {code} is {kept.state} with other content.",
            remedy=f"Give it a new revision number, {number + 1} or higher.",
        )
    if kept is not None:
        kept.steps.all().delete()
    revision = kept or ProcedureRevision(procedure=procedure, revision=number)
    revision.prepared_by = document.get("prepared_by") or ""
    revision.content_hash = digest
    revision.save()
    _write_steps(revision.pk, document)
    record_change(
        "procedure.drafted",
        noun="procedure-revision",
        noun_id=revision.pk,
        by=by,
        body={"code": code, "revision": number, "title": procedure.title},
    )
    return revision.pk, True


def _write_steps(revision_id: uuid.UUID, document: Mapping[str, Any]) -> None:
    steps: list[Step] = []
    characteristics: list[Characteristic] = []
    for section, one in _steps_of(document):
        step = Step(
            id=new_id(),
            revision_id=revision_id,
            number=one["number"],
            section=section,
            title=one["title"],
            instruction=str(one["instruction"]).strip(),
            signal_word=signal_word(one),
            caution=str(one.get("caution") or "").strip(),
            tools=list(one.get("tools") or []),
            consumables=list(one.get("consumables") or []),
            positions=list(one.get("positions") or []),
            conditions=plain(list(one.get("conditions") or [])),
            hold_point=bool(one.get("hold_point")),
            computes=computation_of(one),
        )
        steps.append(step)
        characteristics.extend(
            Characteristic(
                id=new_id(),
                step=step,
                code=asked["code"],
                name=asked["name"],
                quantity=asked["quantity"],
                unit=asked["unit"],
                readings=int(asked.get("readings") or 1),
                rule=asked["rule"],
                limits=plain(asked.get("limits") or {}),
                set_up=plain(asked.get("set_up") or {}),
                instrument_type=asked["instrument_type"],
                second_instrument_type=asked.get("second_instrument_type") or "",
                decision_rule=asked.get("decision_rule") or "guard-band",
            )
            for asked in one.get("characteristics") or []
        )
    Step.objects.bulk_create(steps)
    Characteristic.objects.bulk_create(characteristics)


def _steps_of(document: Mapping[str, Any]) -> list[tuple[str, Mapping[str, Any]]]:
    return [(str(part["section"]), one) for part in document["sections"] for one in part["steps"]]


@transaction.atomic(savepoint=False)
def publish(*, by: Caller, revision_id: uuid.UUID, expected_version: int) -> None:
    """Publish a draft; the revision published so far is withdrawn, running jobs stay on theirs."""
    require_operator_wide(by, AUTHOR)
    revision = _locked(revision_id, expected_version)
    if revision.state != "draft":
        raise RevisionClosed(f"This revision is {revision.state}.", remedy="Only a draft can be published.")
    ProcedureRevision.objects.filter(procedure_id=revision.procedure_id, state="published").update(state="withdrawn")
    ProcedureRevision.objects.filter(pk=revision.pk).update(
        state="published", published_at=timezone.now(), published_by_id=by.id
    )
    _tell("procedure.published", revision, by)


@transaction.atomic(savepoint=False)
def withdraw(*, by: Caller, revision_id: uuid.UUID, expected_version: int) -> None:
    """Withdraw a published revision; new jobs cannot use it."""
    require_operator_wide(by, AUTHOR)
    revision = _locked(revision_id, expected_version)
    if revision.state != "published":
        raise RevisionClosed(f"This revision is {revision.state}.", remedy="Only a published one can be withdrawn.")
    ProcedureRevision.objects.filter(pk=revision.pk).update(state="withdrawn")
    _tell("procedure.withdrawn", revision, by)


def _locked(revision_id: uuid.UUID, expected_version: int) -> ProcedureRevision:
    revision = ProcedureRevision.objects.select_for_update(no_key=True).filter(pk=revision_id).first()
    if revision is None:
        raise NotThere("The revision is not here.", remedy="Check the id.")
    if revision.version != expected_version:
        raise version_changed("The revision", revision.version)
    return revision


def _tell(kind: str, revision: ProcedureRevision, by: Caller) -> None:
    record_change(
        kind,
        noun="procedure-revision",
        noun_id=revision.pk,
        version=revision.version + 1,
        by=by,
        body={"procedure": str(revision.procedure_id), "revision": revision.revision},
    )
