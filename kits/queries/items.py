"""Reading items: whatever is stocked and ordered. Every signed-in principal may."""

import uuid
from collections.abc import Iterable
from typing import Any

from django.db.models import QuerySet
from django.db.models.functions import Upper

from kits.models import Item
from services.api.models import as_uuid
from services.api.refusals import InvalidValue
from services.identity.callers import Caller


def items(*, by: Caller) -> QuerySet[Item]:
    """All items."""
    return Item.objects.all()


def item_for(item_id: Any) -> Item:
    """One item named in a request. Raises `InvalidValue`."""
    found = Item.objects.filter(pk=as_uuid(item_id)).first()
    if found is None:
        raise InvalidValue(
            "There is no such item.", remedy="GET /parts and GET /kits list what is stocked.", pointer="#/item"
        )
    return found


def items_by_number(pairs: Iterable[tuple[str, str | None]]) -> dict[tuple[str, str | None], uuid.UUID]:
    """Ids by (number, revision) as asked; without a revision a part, or a kit's released revision of the latest date.

    Capitals do not matter. One query.
    """
    wanted = list(pairs)
    numbers = {number.upper() for number, _ in wanted}
    rows = Item.objects.annotate(capitals=Upper("number")).filter(capitals__in=numbers)
    exact: dict[tuple[str, str], uuid.UUID] = {}
    latest: dict[str, uuid.UUID] = {}
    for pk, number, revision, state in rows.order_by("kit__released_at", "id").values_list(
        "id", "number", "revision", "kit__state"
    ):
        exact[number.upper(), revision] = pk
        if state in (None, "released"):
            latest[number.upper()] = pk
    found: dict[tuple[str, str | None], uuid.UUID] = {}
    for number, asked in wanted:
        item = exact.get((number.upper(), asked or "")) or (None if asked else latest.get(number.upper()))
        if item is not None:
            found[number, asked] = item
    return found
