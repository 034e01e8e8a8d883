"""Reading procedures. Every signed-in principal may read them; drafts only their authors."""

import uuid
from typing import Any

from django.db.models import QuerySet

from assets.access import has_role
from jobs.models import Characteristic, Procedure, ProcedureRevision, Step
from services.api.rows import plain_rows
from services.identity.callers import Caller

AUTHOR = "procedure-author"


def procedures(*, by: Caller) -> QuerySet[Procedure]:
    """All procedures."""
    return Procedure.objects.all()


def revisions(*, by: Caller) -> QuerySet[ProcedureRevision]:
    """Revisions: published and withdrawn ones, for authors drafts too."""
    found = ProcedureRevision.objects.all()
    return found if has_role(by, None, AUTHOR) else found.exclude(state="draft")


def steps_of(revision_id: uuid.UUID) -> list[dict[str, Any]]:
    """Steps in order with their characteristics; two queries."""
    steps = plain_rows(
        Step.objects.filter(revision_id=revision_id)
        .order_by("number")
        .values(
            "id", "number", "section", "title", "instruction", "signal_word", "caution", "tools", "consumables",
            "positions", "conditions", "hold_point", "computes",
        )
    )  # fmt: skip
    characteristics: dict[uuid.UUID, list[dict[str, Any]]] = {}
    for one in plain_rows(
        Characteristic.objects.filter(step__revision_id=revision_id)
        .order_by("code")
        .values(
            "id", "step_id", "code", "name", "quantity", "unit", "readings", "rule", "limits", "instrument_type",
            "decision_rule",
        )
    ):  # fmt: skip
        characteristics.setdefault(one.pop("step_id"), []).append(one)
    for step in steps:
        step["characteristics"] = characteristics.get(step["id"], [])
    return steps


def published_for(configuration: str) -> list[dict[str, Any]]:
    """Published revisions for a pump's configuration."""
    return plain_rows(
        ProcedureRevision.objects.filter(state="published", procedure__configuration=configuration)
        .order_by("procedure__code")
        .values("id", "procedure__code", "procedure__title", "revision")
    )


def instrument_types_of(revision_id: uuid.UUID) -> set[str]:
    """The types of instrument that a revision's characteristics ask for."""
    return set(Characteristic.objects.filter(step__revision_id=revision_id).values_list("instrument_type", flat=True))


def newer_is_published(revision_id: uuid.UUID) -> bool:
    """Whether a later revision of the same procedure is published."""
    one = ProcedureRevision.objects.filter(pk=revision_id).values("procedure_id", "revision").get()
    return ProcedureRevision.objects.filter(
        procedure_id=one["procedure_id"], revision__gt=one["revision"], state="published"
    ).exists()
