"""Drafting, publishing and withdrawing revisions of procedures."""

import uuid
from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils import timezone

from assets.access import require_operator_wide
from jobs.calculations.conditions import ConditionError, validate
from jobs.calculations.limits import LimitUnresolvable, check_rule
from jobs.calculations.signed_content import content_hash
from jobs.models import Characteristic, Procedure, ProcedureRevision, Section, SignalWord, Step
from jobs.queries.job_data import VARIABLES
from jobs.refusals import ProcedureUnsound, RevisionClosed
from services.api.identifiers import new_id
from services.api.refusals import FieldProblem, NotThere
from services.api.versions import version_changed
from services.changes.recording import record_change
from services.identity.callers import Caller

AUTHOR = "procedure-author"
DECISION_RULES = ("guard-band", "guard-band-1.65u", "simple")
READING_RULES = ("single", "mean", "max", "min", "range", "total-indicator-reading")
COMPUTATIONS = ("lubricant-advice", "bearing-heating")


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
    digest = content_hash(_plain(document))
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
            signal_word=_word(one),
            caution=str(one.get("caution") or "").strip(),
            tools=list(one.get("tools") or []),
            consumables=list(one.get("consumables") or []),
            positions=list(one.get("positions") or []),
            conditions=_plain(list(one.get("conditions") or [])),
            hold_point=bool(one.get("hold_point")),
            computes=_computation(one),
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
                limits=_plain(asked.get("limits") or {}),
                instrument_type=asked["instrument_type"],
                decision_rule=asked.get("decision_rule") or "guard-band",
            )
            for asked in one.get("characteristics") or []
        )
    Step.objects.bulk_create(steps)
    Characteristic.objects.bulk_create(characteristics)


def _steps_of(document: Mapping[str, Any]) -> list[tuple[str, Mapping[str, Any]]]:
    return [(str(part["section"]), one) for part in document["sections"] for one in part["steps"]]


def _word(step: Mapping[str, Any]) -> str:
    word = step.get("signal_word") or ""
    return "" if word == "none" else str(word)


def _computation(step: Mapping[str, Any]) -> dict[str, Any] | None:
    wanted = step.get("computes")
    if not wanted or wanted == "none":
        return None
    if isinstance(wanted, str):
        return {"kind": wanted}
    if "kind" in wanted:
        return dict(_plain(wanted))
    kind, arguments = next(iter(wanted.items()))
    return {"kind": kind, **_plain(arguments or {})}


def _plain(value: Any) -> Any:
    """YAML's values as JSON has them: floats and dates as the text that was written."""
    if isinstance(value, Mapping):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(one) for one in value]
    if isinstance(value, bool) or value is None or isinstance(value, (int, str)):
        return value
    return str(value)


def unsound_places(document: Mapping[str, Any]) -> list[FieldProblem]:
    """Every place of a procedure document that cannot be used, as pointers with what is wrong."""
    found: list[FieldProblem] = []

    def wrong(pointer: str, detail: str) -> None:
        found.append(FieldProblem(pointer, "procedure-unsound", detail))

    for name in ("code", "title", "configuration", "revision", "sections"):
        if not document.get(name):
            wrong(f"#/{name}", f"{name} is missing.")
    if found:
        return found
    sections = [str(part.get("section")) for part in document["sections"]]
    known = [str(one) for one in Section.values]
    for index, section in enumerate(sections):
        if section not in known:
            wrong(f"#/sections/{index}/section", f"{section!r} is none of {', '.join(known)}.")
    ranks = [known.index(one) for one in sections if one in known]
    if ranks != sorted(ranks) or len(set(ranks)) != len(ranks):
        wrong("#/sections", f"Sections must stand once each in the order {', '.join(known)}.")
    if "make-safe" not in sections:
        wrong("#/sections", "There is no section make-safe; every job begins with making safe.")
    numbers: set[int] = set()
    for index, part in enumerate(document["sections"]):
        for place, step in enumerate(part.get("steps") or []):
            _check_step(step, f"#/sections/{index}/steps/{place}", numbers, wrong)
    return found


def _check_step(step: Mapping[str, Any], pointer: str, numbers: set[int], wrong: Any) -> None:
    for name in ("number", "title", "instruction"):
        if not step.get(name):
            wrong(f"{pointer}/{name}", f"{name} is missing.")
    number = step.get("number")
    if isinstance(number, int):
        if number in numbers:
            wrong(f"{pointer}/number", f"Step number {number} stands twice.")
        numbers.add(number)
    word = _word(step)
    if word not in SignalWord.values:
        wrong(f"{pointer}/signal_word", f"{word!r} is none of danger, warning, caution, notice.")
    if word and not step.get("caution"):
        wrong(f"{pointer}/caution", "A signal word needs the caution it stands for.")
    try:
        validate(_plain(step.get("conditions") or []), VARIABLES)
    except ConditionError as error:
        wrong(f"{pointer}/conditions", str(error))
    computation = _computation(step)
    if computation and computation["kind"] not in COMPUTATIONS:
        wrong(f"{pointer}/computes", f"{computation['kind']!r} is none of {', '.join(COMPUTATIONS)}.")
    for place, asked in enumerate(step.get("characteristics") or []):
        here = f"{pointer}/characteristics/{place}"
        for name in ("code", "name", "quantity", "unit", "rule", "instrument_type"):
            if not asked.get(name):
                wrong(f"{here}/{name}", f"{name} is missing.")
        if asked.get("rule") and asked["rule"] not in READING_RULES:
            wrong(f"{here}/rule", f"{asked['rule']!r} is none of {', '.join(READING_RULES)}.")
        if (asked.get("decision_rule") or "guard-band") not in DECISION_RULES:
            wrong(f"{here}/decision_rule", f"None of {', '.join(DECISION_RULES)}.")
        try:
            check_rule(_plain(asked.get("limits") or {}), VARIABLES)
        except LimitUnresolvable as error:
            wrong(f"{here}/limits", str(error))


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
