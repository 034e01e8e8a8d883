"""Reading parts, suppliers, their terms and supersessions. Every signed-in principal may read the catalogue."""

import uuid
from collections.abc import Iterable
from typing import Any

from django.db.models import QuerySet
from django.db.models.fields.json import KT
from django.db.models.functions import Upper

from assets.calculations.part_numbers import normalise_number
from assets.models import normalised
from kits.calculations.supersession import Link, Supersessions
from kits.models import Item, Part, Supersession, Supplier, SupplierTerms
from services.api.many_rows import Among
from services.api.models import as_uuid
from services.api.refusals import NotThere
from services.identity.callers import Caller


def parts(*, by: Caller) -> QuerySet[Item]:
    """All parts, as items with their part."""
    return Item.objects.filter(kind="part")


def part_for(part_id: Any) -> Part:
    """One part. Raises `NotThere`."""
    found = Part.objects.select_related("item").filter(pk=as_uuid(part_id)).first()
    if found is None:
        raise NotThere("The part is not here.", remedy="GET /parts lists them.")
    return found


def part_ids_by_number(numbers: Iterable[str]) -> dict[str, uuid.UUID]:
    """Ids of parts by number as written, capitals ignored: keys are upper case. One query."""
    wanted = {number.upper() for number in numbers}
    rows = Item.objects.annotate(capitals=Upper("number")).filter(kind="part", capitals__among=wanted)
    return {number.upper(): pk for number, pk in rows.values_list("number", "id")}


def parts_of_files(external_ids: Iterable[str]) -> QuerySet[Part]:
    """Parts, with their items, that have one of the ids under which files know them."""
    of_files = Item.objects.filter(Among(KT("external_ids__file"), list(external_ids)), kind="part")
    return Part.objects.filter(item__in=of_files).select_related("item")


def part_ids_by_normalised_number(numbers: Iterable[str]) -> dict[str, list[uuid.UUID]]:
    """Ids of parts by number as compared (`normalise_number`), whichever way the numbers are written: every number
    asked for has its key, with no ids where no part has it, with several where it is not unique. One query, by index.
    """
    found: dict[str, list[uuid.UUID]] = {normalise_number(number): [] for number in numbers}
    rows = (
        Item.objects.annotate(compared=normalised("number"))
        .filter(kind="part", compared__in=[one for one in found if one])
        .order_by("number", "id")
    )
    for compared, pk in rows.values_list("compared", "id"):
        found[compared].append(pk)
    return found


def retired_parts(part_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, str]:
    """Which of some parts are no longer in use: number by id. One query."""
    rows = Item.objects.filter(kind="part", pk__among=part_ids, is_active=False)
    return dict(rows.values_list("id", "number"))


def missing_parts(part_ids: Iterable[uuid.UUID]) -> set[uuid.UUID]:
    """Which of some ids are no part. One query."""
    wanted = set(part_ids)
    return wanted - set(Part.objects.filter(pk__in=wanted).values_list("item_id", flat=True))


def suppliers(*, by: Caller) -> QuerySet[Supplier]:
    """All suppliers."""
    return Supplier.objects.all()


def supplier_terms(*, by: Caller) -> QuerySet[SupplierTerms]:
    """Terms of all suppliers."""
    return SupplierTerms.objects.all()


def supplier_ids_by_code(codes: Iterable[str]) -> dict[str, uuid.UUID]:
    """Ids by code. One query."""
    return dict(Supplier.objects.filter(code__in=list(codes)).values_list("code", "id"))


def supersessions(*, by: Caller) -> QuerySet[Supersession]:
    """All supersessions."""
    return Supersession.objects.all()


def supersessions_by_number() -> Supersessions[str]:
    """Every link between parts by number as compared, as the rule of fit reads them. One query."""
    rows = Supersession.objects.values_list(
        "old__item__number", "new__item__number", "from_date", "both_ways", "until_date"
    )
    return Supersessions(
        Link(normalise_number(old), normalise_number(new), from_date, both_ways, until_date)
        for old, new, from_date, both_ways, until_date in rows
    )


def numbers_of_parts_with(elastomer: str, *, most: int = 3) -> list[str]:
    """Numbers of a few parts that bring an elastomer. One query."""
    rows = Part.objects.filter(elastomers__contains=[elastomer]).order_by("item__number")
    return list(rows.values_list("item__number", flat=True)[:most])
