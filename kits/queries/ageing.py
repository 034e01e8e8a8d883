"""What in an item ages: the storage groups of a part, or of the parts on a kit's lines."""

import uuid
from collections.abc import Iterable

from kits.calculations.storage_life import StorageGroup
from kits.models import KitLine, Part


def ageing_groups(item_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[StorageGroup]]:
    """Storage groups by item; an item in which nothing ages is left out. Two queries."""
    wanted = list(item_ids)
    found: dict[uuid.UUID, set[StorageGroup]] = {}
    columns = ("storage_group__code", "storage_group__initial_years", "storage_group__extension_years")
    for item_id, code, first, more in Part.objects.filter(item_id__in=wanted, storage_group__isnull=False).values_list(
        "item_id", *columns
    ):
        found.setdefault(item_id, set()).add(StorageGroup(code, first, more))
    for kit_id, code, first, more in KitLine.objects.filter(
        kit_id__in=wanted, part__storage_group__isnull=False
    ).values_list("kit_id", *(f"part__{name}" for name in columns)):
        found.setdefault(kit_id, set()).add(StorageGroup(code, first, more))
    return {item: sorted(groups, key=lambda one: one.code) for item, groups in found.items()}
