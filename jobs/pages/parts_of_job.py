"""Parts beyond the kit, and parts that come back: asked for, taken, no longer wanted, returned."""

import uuid
from typing import Any

from django.http import HttpRequest

from jobs.operations.extra_parts import ask_for_part, reserve_extra_part, take_extra_part, withdraw_extra_part
from jobs.operations.job_returns import return_from_job
from jobs.pages.kept_forms import form_of_job, needed_text
from jobs.pages.measuring_form import number_of
from jobs.queries.extra_parts import extra_part_answer
from jobs.queries.sheet_parts import extra_part_on
from kits.queries.parts import part_ids_by_number
from services.api.refusals import InvalidValue
from services.identity.callers import Caller
from services.web.forms import id_of
from services.web.pages import Said

MOST = 10_000


def _quantity(request: HttpRequest) -> Any:
    quantity = number_of(request.POST.get("quantity", ""), "How many")
    if not 0 < quantity <= MOST or quantity != round(quantity, 3):
        raise InvalidValue("How many is not a quantity.", remedy="Write a number above 0, such as 1.")
    return quantity


def _ask(request: HttpRequest, by: Caller, job: uuid.UUID) -> str | Said:
    number = needed_text(request, "part", "The part's number", 60)
    part = part_ids_by_number([number]).get(number.upper())
    if part is None:
        raise InvalidValue(f"There is no part {number}.", remedy="Write the number as it stands in the catalogue.")
    made = ask_for_part(
        by=by,
        job_id=job,
        part_id=part,
        quantity=_quantity(request),
        role=needed_text(request, "part-role", "The position", 40),
        reason=needed_text(request, "part-reason", "Why it is needed"),
        extra_part_id=id_of(request, "id", "The id of the extra part"),
    )
    claim = extra_part_answer(by, made.pk)
    if claim["claim"] == "soft":
        return Said(f"Asked for {number.upper()}. Not enough of it is free here. {claim['promise']}")
    return f"{number.upper()} is held for this job. Take it off the shelf when you need it."


def _named(request: HttpRequest, by: Caller, job: uuid.UUID) -> uuid.UUID:
    """An extra part of this very job."""
    return extra_part_on(by, job, id_of(request, "extra-part", "The extra part"))


def _hold(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    reserve_extra_part(by=by, extra_part_id=_named(request, by, job))
    return "The part is held for this job."


def _take(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    taken = take_extra_part(by=by, extra_part_id=_named(request, by, job))
    return f"Taken off the shelf, from lot {', '.join(one['lot_number'] for one in taken.taken_from)}."


def _withdraw(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    reason = needed_text(request, "withdraw-reason", "Why it is not needed")
    withdraw_extra_part(by=by, extra_part_id=_named(request, by, job), reason=reason)
    return "No longer wanted; what was held for it is free again."


def _give_back(request: HttpRequest, by: Caller, job: uuid.UUID) -> str:
    kind, _, text = request.POST.get("what", "").partition(":")
    try:
        what = uuid.UUID(text)
    except ValueError as error:
        raise InvalidValue("What comes back is not chosen.", remedy="Choose it from the list.") from error
    extra = extra_part_on(by, job, what) if kind == "extra" else None
    item = what if extra is None else extra_part_on(by, job, what, item=True)
    kept = return_from_job(
        by=by,
        job_id=job,
        item_id=item,
        quantity=_quantity(request),
        reason=needed_text(request, "back-reason", "Why it comes back", 300),
        extra_part_id=extra,
    )
    if kept and kept[0].condition == "quarantined":
        return "Given back. It waits in quarantine until stores has looked at it."
    return "Given back to its lot."


ask, hold, take, withdraw, give_back = (
    form_of_job(act, name)
    for act, name in (
        (_ask, "extra-part"),
        (_hold, "hold-part"),
        (_take, "take-part"),
        (_withdraw, "withdraw-part"),
        (_give_back, "give-back"),
    )
)
