"""Parts, and which replaces which. The data owner keeps them."""

import datetime
import uuid
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from assets.access import require_operator_wide
from assets.calculations.part_specifications import Specification, SpecificationError, parse_specification
from assets.queries.pump_models import maker_exists
from kits.calculations.supersession import Link, closes_a_cycle
from kits.models import Item, Part, Supersession
from kits.queries.materials import storage_groups_of_materials
from kits.queries.parts import missing_parts, part_for, supersession_links
from kits.refusals_catalogue import PartSpecificationUnreadable, SupersessionCycle
from services.api.refusals import InvalidValue, NotThere
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


@transaction.atomic(savepoint=False)
def register_supersession(
    *,
    by: Caller,
    old_id: uuid.UUID,
    new_id: uuid.UUID,
    from_date: datetime.date,
    both_ways: bool = False,
    supersession_id: uuid.UUID | None = None,
) -> Supersession:
    """From a date one part replaces another. Raises `SupersessionCycle`, `InvalidValue`, `AlreadyThere`."""
    require_operator_wide(by, *OWNERS)
    missing = missing_parts([old_id, new_id])
    for field, part_id in (("old", old_id), ("new", new_id)):
        if part_id in missing:
            raise InvalidValue("There is no such part.", remedy="GET /parts lists them.", pointer=f"#/{field}")
    if closes_a_cycle(supersession_links(), Link(old_id, new_id, from_date, both_ways)):
        raise SupersessionCycle(
            "The newer part leads back to the older one already.",
            remedy="Check which of the two is the newer.",
            pointer="#/new",
        )
    made = Supersession.objects.create(
        old_id=old_id,
        new_id=new_id,
        from_date=from_date,
        both_ways=both_ways,
        **({"id": supersession_id} if supersession_id else {}),
    )
    _tell_supersession("supersession.registered", made, by)
    return made


@transaction.atomic(savepoint=False)
def change_supersession(
    *, by: Caller, supersession_id: uuid.UUID, expected_version: int, **changes: Any
) -> Supersession:
    """Change its date or direction. Raises `NotThere`, `VersionChanged`."""
    require_operator_wide(by, *OWNERS)
    done = Supersession.objects.filter(pk=supersession_id, version=expected_version).update(**changes) if changes else 1
    made = Supersession.objects.filter(pk=supersession_id).first()
    if made is None:
        raise NotThere("The supersession is not here.", remedy="Check the id.")
    if not done:
        raise version_changed("The supersession", made.version)
    _tell_supersession("supersession.changed", made, by)
    return made


def _tell(kind: str, item: Item, by: Caller) -> None:
    record_change(
        kind, noun="part", noun_id=item.pk, version=item.version, by=by, body={"number": item.number, "name": item.name}
    )


def _tell_supersession(kind: str, made: Supersession, by: Caller) -> None:
    record_change(
        kind,
        noun="supersession",
        noun_id=made.pk,
        version=made.version,
        by=by,
        body={"old": made.old_id, "new": made.new_id, "from_date": made.from_date, "both_ways": made.both_ways},
    )
