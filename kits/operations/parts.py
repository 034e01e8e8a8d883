"""Parts. The data owner keeps them."""

import uuid
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from assets.access import require_operator_wide
from assets.calculations.part_specifications import Specification, SpecificationError, parse_specification
from assets.queries.pump_models import maker_exists
from kits.models import Item, Part
from kits.queries.materials import storage_groups_of_materials
from kits.queries.parts import part_for
from kits.refusals_catalogue import PartSpecificationUnreadable
from services.api.refusals import InvalidValue
from services.api.versions import version_changed
from services.changes.recording import record_change
from services.identity.callers import Caller

OWNERS = ("data-owner", "integrator", "admin")
ITEM_FIELDS = ("name", "unit", "cost", "currency", "criticality", "is_active", "external_ids")


@transaction.atomic(savepoint=False)
def register_part(
    *,
    by: Caller,
    number: str,
    name: str,
    category: str,
    specification: str,
    maker_id: uuid.UUID | None = None,
    cost: Decimal | None = None,
    currency: str = "",
    unit: str = "piece",
    criticality: str = "essential",
    external_ids: Mapping[str, str] | None = None,
    part_id: uuid.UUID | None = None,
) -> Part:
    """A part with its typed specification; what of it ages, and how long it keeps, follows from the material.

    Raises `PartSpecificationUnreadable`, `InvalidValue`, `AlreadyThere`.
    """
    require_operator_wide(by, *OWNERS)
    _check_cost(cost, currency)
    if maker_id is not None and not maker_exists(maker_id):
        raise InvalidValue("There is no such maker.", remedy="GET /makers lists them.", pointer="#/maker")
    read = read_specification(category, specification)
    item = Item.objects.create(
        kind="part",
        number=number.strip(),
        name=name,
        cost=cost,
        currency=currency,
        unit=unit,
        criticality=criticality,
        external_ids=dict(external_ids or {}),
        **({"id": part_id} if part_id else {}),
    )
    part = Part.objects.create(item=item, maker_id=maker_id, category=category, **described(read))
    _tell("part.registered", item, by)
    return part


@transaction.atomic(savepoint=False)
def change_part(*, by: Caller, part_id: uuid.UUID, expected_version: int, **changes: Any) -> Part:
    """Change a part's data or specification, or retire it with ``is_active``: no further kit may then hold it.

    Fits of kits that hold it are computed again. Raises `NotThere`, `VersionChanged`, `InvalidValue`,
    `PartSpecificationUnreadable`.
    """
    require_operator_wide(by, *OWNERS)
    part = part_for(part_id)
    item = Item.objects.select_for_update(no_key=True).get(pk=part.pk)
    if item.version != expected_version:
        raise version_changed("The part", item.version)
    _check_cost(changes.get("cost", item.cost), changes.get("currency", item.currency))
    if "specification" in changes or "category" in changes:
        category = changes.get("category", part.category)
        read = read_specification(category, changes.get("specification", ""))
        Part.objects.filter(pk=part.pk).update(category=category, **described(read))
    if "maker_id" in changes:
        if changes["maker_id"] is not None and not maker_exists(changes["maker_id"]):
            raise InvalidValue("There is no such maker.", remedy="GET /makers lists them.", pointer="#/maker")
        Part.objects.filter(pk=part.pk).update(maker_id=changes["maker_id"])
    fields = {name: changes[name] for name in ITEM_FIELDS if name in changes}
    # The part's own columns lie in another table: touching the item's time lets the trigger count its version up.
    Item.objects.filter(pk=item.pk).update(**fields, updated_at=timezone.now())
    item.refresh_from_db()
    _tell("part.changed", item, by)
    return part_for(part_id)


def read_specification(category: str, text: str) -> Specification:
    """A typed specification from what people write. Raises `PartSpecificationUnreadable` naming the field."""
    try:
        return parse_specification(category, text)
    except SpecificationError as error:
        pointer = "#/category" if error.field == "category" else "#/specification"
        raise PartSpecificationUnreadable(error.what, remedy=error.remedy, pointer=pointer) from error


def described(read: Specification, groups: Mapping[str, tuple[int, uuid.UUID]] | None = None) -> dict[str, Any]:
    """Columns that follow from a specification: itself, its elastomers, the storage group of the shortest-lived."""
    elastomers = list(read.elastomers())
    known = storage_groups_of_materials() if groups is None else groups
    ages = sorted(known[one] for one in elastomers if one in known)
    return {
        "specification": read.to_json(),
        "elastomers": elastomers,
        "storage_group_id": ages[0][1] if ages else None,
    }


def _check_cost(cost: Decimal | None, currency: str) -> None:
    if cost is not None and not currency:
        raise InvalidValue("The cost has no currency.", remedy="Give it, such as EUR.", pointer="#/currency")


def _tell(kind: str, item: Item, by: Caller) -> None:
    record_change(
        kind, noun="part", noun_id=item.pk, version=item.version, by=by, body={"number": item.number, "name": item.name}
    )
