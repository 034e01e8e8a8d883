"""Reading kits and their lines. Every signed-in principal may read the catalogue."""

import uuid
from collections.abc import Iterable
from typing import Any

from django.db.models import F, QuerySet
from django.db.models.functions import Upper

from kits.models import Item, Kit, KitLine, Lot
from services.api.models import as_uuid
from services.api.refusals import InvalidValue, NotThere
from services.api.rows import plain_rows
from services.identity.callers import Caller


def kits(*, by: Caller) -> QuerySet[Item]:
    """All revisions of kits, as items with their kit."""
    return Item.objects.filter(kind="kit")


def kit_for(kit_id: Any) -> Kit:
    """One revision of a kit. Raises `NotThere`."""
    found = Kit.objects.select_related("item", "scope").filter(pk=as_uuid(kit_id)).first()
    if found is None:
        raise NotThere("The kit is not here.", remedy="GET /kits lists them.")
    return found


def released_kit(kit_id: Any) -> dict[str, Any]:
    """Number, revision and name of a released kit named in a request. Raises `InvalidValue`."""
    found = (
        Kit.objects.filter(pk=as_uuid(kit_id))
        .values("item_id", "state", number=F("item__number"), revision=F("item__revision"), name=F("item__name"))
        .first()
    )
    if found is None:
        raise InvalidValue("There is no such kit.", remedy="GET /kits lists them.", pointer="#/kit")
    if found["state"] != "released":
        raise InvalidValue(
            f"Kit {found['number']} {found['revision']} is {found['state']}.",
            remedy="Choose a released revision.",
            pointer="#/kit",
        )
    return dict(found)


def kit_lines(kit_id: uuid.UUID) -> list[dict[str, Any]]:
    """A kit's lines in order. One query."""
    return kit_lines_of([kit_id]).get(kit_id, [])


def kit_lines_of(kit_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[dict[str, Any]]]:
    """Lines by kit, in order. One query."""
    found: dict[uuid.UUID, list[dict[str, Any]]] = {}
    rows = (
        KitLine.objects.filter(kit_id__in=list(kit_ids))
        .order_by("kit_id", "line")
        .values(
            "id", "kit_id", "line", "part_id", "quantity", "optional", "alternative_group", "version",
            role_code=F("role_id"), number=F("part__item__number"), name=F("part__item__name"),
            category=F("part__category"), specification=F("part__specification"), elastomers=F("part__elastomers"),
        )
    )  # fmt: skip
    for row in plain_rows(rows):
        row["role"] = row.pop("role_code")
        found.setdefault(row.pop("kit_id"), []).append(row)
    return found


def numbers_in_kits(kit_ids: Iterable[uuid.UUID]) -> list[str]:
    """Numbers of the parts that some kits hold. One query."""
    rows = Item.objects.filter(part__kit_lines__kit_id__in=list(kit_ids)).distinct()
    return list(rows.values_list("number", flat=True))


def kits_by_number(numbers: Iterable[str]) -> dict[tuple[str, str], uuid.UUID]:
    """Ids of kit revisions by (number as asked, revision); capitals do not matter. One query."""
    wanted: dict[str, set[str]] = {}
    for number in numbers:
        wanted.setdefault(number.upper(), set()).add(number)
    rows = Item.objects.annotate(capitals=Upper("number")).filter(kind="kit", capitals__among=wanted)
    return {
        (asked, revision): pk
        for capitals, revision, pk in rows.values_list("capitals", "revision", "id")
        for asked in wanted[capitals]
    }


def lots_by_number(numbers: Iterable[str]) -> dict[tuple[uuid.UUID, str], uuid.UUID]:
    """Ids of lots by (item, number). One query."""
    rows = Lot.objects.filter(number__in=list(numbers)).values_list("item_id", "number", "id")
    return {(item, number): pk for item, number, pk in rows}
