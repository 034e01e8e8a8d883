"""Reading procedures. Every signed-in principal may read them; what is not published yet only authors."""

import uuid
from typing import Any

from django.db.models import QuerySet

from assets.access import has_role
from jobs.models import Characteristic, Procedure, ProcedureRevision, RevisionAct, Step
from services.api.models import as_uuid
from services.api.refusals import NotThere
from services.api.rows import plain_rows
from services.identity.callers import Caller

AUTHOR = "procedure-author"
UNPUBLISHED = ("draft", "in-review", "reviewed")
STEP_COLUMNS = (
    "number", "section", "title", "instruction", "signal_word", "caution", "achieves", "tools", "consumables",
    "positions", "conditions", "hold_point", "look_at", "photos", "computes",
)  # fmt: skip
CHARACTERISTIC_COLUMNS = (
    "code", "name", "quantity", "unit", "readings", "rule", "set_up", "limits", "instrument_type",
    "second_instrument_type", "decision_rule",
)  # fmt: skip


def procedures(*, by: Caller) -> QuerySet[Procedure]:
    """All procedures."""
    return Procedure.objects.all()


def revisions(*, by: Caller) -> QuerySet[ProcedureRevision]:
    """Revisions that are or were published; for authors also those being written or reviewed."""
    found = ProcedureRevision.objects.all()
    return found if has_role(by, None, AUTHOR) else found.exclude(state__in=UNPUBLISHED)


def acts_of(revision_id: uuid.UUID, *, by: Caller) -> QuerySet[RevisionAct]:
    """What was done with a revision, as far as it may be seen."""
    return RevisionAct.objects.filter(revision__in=revisions(by=by).filter(pk=revision_id))


def steps_of(revision_id: uuid.UUID) -> list[dict[str, Any]]:
    """Steps in order with their characteristics and ids; two queries."""
    steps = plain_rows(Step.objects.filter(revision_id=revision_id).order_by("number").values("id", *STEP_COLUMNS))
    characteristics: dict[uuid.UUID, list[dict[str, Any]]] = {}
    for one in plain_rows(
        Characteristic.objects.filter(step__revision_id=revision_id)
        .order_by("id")
        .values("id", "step_id", *CHARACTERISTIC_COLUMNS)
    ):
        characteristics.setdefault(one.pop("step_id"), []).append(one)
    for step in steps:
        step["characteristics"] = characteristics.get(step["id"], [])
    return steps


def step_rows(revision_id: uuid.UUID) -> list[dict[str, Any]]:
    """Steps as `procedure_rows` knows them, characteristics in the order written; two queries."""
    steps = steps_of(revision_id)
    for step in steps:
        del step["id"]
        for one in step["characteristics"]:
            del one["id"]
    return steps


def head_of(revision: ProcedureRevision) -> dict[str, Any]:
    """What is said of the whole revision; its procedure must be fetched with it."""
    return {
        "code": revision.procedure.code,
        "title": revision.title,
        "configuration": revision.procedure.configuration,
        "revision": revision.revision,
        "prepared_by": revision.prepared_by,
        "scope_words": revision.scope_words,
    }


def revision_for(by: Caller, revision_id: Any) -> ProcedureRevision:
    """The revision behind an outside id, with its procedure. Raises `NotThere`."""
    found = revisions(by=by).select_related("procedure").filter(pk=as_uuid(revision_id)).first()
    if found is None:
        raise NotThere("The revision is not here.", remedy="Check the id.")
    return found


def revision_before(by: Caller, revision: ProcedureRevision) -> ProcedureRevision | None:
    """The one before it of the same procedure, as far as the caller sees."""
    return (
        revisions(by=by)
        .select_related("procedure")
        .filter(procedure_id=revision.procedure_id, revision__lt=revision.revision)
        .order_by("-revision")
        .first()
    )


def published_for(configuration: str) -> list[dict[str, Any]]:
    """Published revisions for a pump's configuration."""
    return plain_rows(
        ProcedureRevision.objects.filter(state="published", procedure__configuration=configuration)
        .order_by("procedure__code")
        .values("id", "procedure__code", "procedure__title", "revision")
    )


def instrument_types_of(revision_id: uuid.UUID) -> set[str]:
    """The types of instrument that a revision's characteristics ask for."""
    found = Characteristic.objects.filter(step__revision_id=revision_id).values_list(
        "instrument_type", "second_instrument_type"
    )
    return {one for both in found for one in both if one}


def newer_is_published(revision_id: uuid.UUID) -> bool:
    """Whether a later revision of the same procedure is published."""
    one = ProcedureRevision.objects.filter(pk=revision_id).values("procedure_id", "revision").get()
    return ProcedureRevision.objects.filter(
        procedure_id=one["procedure_id"], revision__gt=one["revision"], state="published"
    ).exists()
