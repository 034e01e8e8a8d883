"""Putting labels on a sheet: which ones, in which order, with what on them."""

import datetime
import uuid
from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.db import transaction

from jobs.calculations.label_codes import grouped, label_address
from jobs.calculations.label_pdf import symbol_modules
from jobs.calculations.label_sheets import FORMATS, LabelTooSmall, SheetMisused, cells, layout
from jobs.models import Label
from jobs.operations.labels import make_labels, may_label, recorded
from jobs.queries.labels import Thing, labels, printed_texts
from jobs.refusals import SheetImpossible
from services.api.refusals import FieldProblem, InvalidValue, WrongState
from services.changes.recording import record_changes
from services.identity.callers import Caller


@transaction.atomic(savepoint=False)
def put_on_sheet(
    *,
    by: Caller,
    label_ids: Sequence[uuid.UUID],
    things: Sequence[Thing],
    sheet: str,
    start_at: int,
    copies: int,
    printed_at: datetime.datetime,
) -> dict[str, Any]:
    """What is to be set: the labels named, then those of the things, each ``copies`` times one after the other.

    Labels of things are made where there is none. JSON-safe, so that a repeated request is set from what was kept.
    Raises `InvalidValue`, `NotAllowed`, `NotThere`, `WrongState`, `SheetImpossible`.
    """
    _must_fit(sheet, (len(label_ids) + len(things)) * copies, start_at)
    sites = _printable(by, label_ids)
    made: list[uuid.UUID] = []
    if things:
        made, _ = make_labels(by=by, things=things)
    wanted = [*label_ids, *made]
    locked = {one.pk: one for one in Label.objects.select_for_update(no_key=True).filter(pk__in=wanted).order_by("id")}
    _must_be_active([locked[pk] for pk in wanted])
    Label.objects.filter(pk__in=wanted).update(printed_at=printed_at)
    rows = labels(by=by).filter(pk__in=wanted)
    sites |= dict(rows.values_list("id", "site"))
    record_changes(
        [recorded("label.printed", one, sites[one.pk]) for one in Label.objects.filter(pk__in=wanted).order_by("id")],
        by=by,
    )
    texts = printed_texts(by, wanted)
    return {
        "format": sheet,
        "start_at": start_at,
        "printed_at": printed_at.isoformat(),
        "labels": [_printed(texts[pk]) for pk in wanted for _ in range(copies)],
    }


def _printed(text: dict[str, Any]) -> dict[str, Any]:
    return text | {"address": label_address(settings.PUBLIC_ADDRESS, text["code"]), "code": grouped(text["code"])}


def _must_fit(sheet: str, count: int, start_at: int) -> None:
    try:
        cells(FORMATS[sheet], count, start_at)
        layout(FORMATS[sheet], symbol_modules(label_address(settings.PUBLIC_ADDRESS, "0" * 10)))
    except SheetMisused as error:
        raise SheetImpossible(str(error), remedy="Ask for fewer labels, or begin at a cell of the page.") from error
    except LabelTooSmall as error:
        raise SheetImpossible(str(error), remedy="Choose a larger label.", pointer="#/format") from error


def _printable(by: Caller, label_ids: Sequence[uuid.UUID]) -> dict[uuid.UUID, uuid.UUID | None]:
    """The site of each label's thing. Raises `InvalidValue`, `NotAllowed`."""
    rows = list(labels(by=by).filter(pk__in=list(label_ids)).values_list("id", "kind", "thing", "site"))
    known = {pk for pk, *_ in rows}
    unknown = [
        FieldProblem(f"#/labels/{index}", "not-found", "There is no such label.")
        for index, pk in enumerate(label_ids)
        if pk not in known
    ]
    if unknown:
        raise InvalidValue(
            f"There is no such label: {', '.join(one.pointer for one in unknown[:5])}.",
            remedy="GET /labels lists them.",
            problems=unknown,
        )
    may_label(by, {Thing(kind, thing): site for _, kind, thing, site in rows})
    return {pk: site for pk, _, _, site in rows}


def _must_be_active(found: Sequence[Label]) -> None:
    spent = sorted({f"{grouped(one.code)} is {one.state}" for one in found if one.state != Label.State.ACTIVE})
    if spent:
        raise WrongState(
            f"Only active labels are printed: {', '.join(spent[:5])}.",
            remedy="Name the things instead of the labels; their active labels are printed.",
        )
