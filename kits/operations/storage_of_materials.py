"""The storage group that counts for a material, and the parts that follow it.

Lots keep the expiry they were given: nothing that lies on a shelf changes its date because a table does. Lots that come
later, and an extension granted later, are counted with the group as it stands then.
"""

import uuid
from collections.abc import Iterable, Mapping

from django.db import connection

from kits.calculations.storage_life import GroupRow, StorageGroup, counting_group
from kits.models import Material, MaterialStorageGroup
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller

# The shortest-lived elastomer of a part decides, as when a part is described. The item's time is touched so that its
# trigger counts the version up.
FOLLOW = """
WITH ages AS (
    SELECT p.item_id, (
        SELECT m.storage_group_id FROM kits_material m JOIN kits_storagegroup g ON g.id = m.storage_group_id
        WHERE p.elastomers ? m.code ORDER BY g.initial_years, g.id LIMIT 1
    ) AS storage_group_id
    FROM kits_part p WHERE p.elastomers ?| %s
), moved AS (
    UPDATE kits_part p SET storage_group_id = ages.storage_group_id
    FROM ages WHERE ages.item_id = p.item_id AND ages.storage_group_id IS DISTINCT FROM p.storage_group_id
    RETURNING p.item_id
)
UPDATE kits_item i SET updated_at = clock_timestamp() FROM moved WHERE i.id = moved.item_id
RETURNING i.id, i.version, i.number, i.name
"""


def settle_storage_groups(material_ids: Iterable[uuid.UUID], *, by: Caller | None) -> list[str]:
    """Give materials the group that counts of those their sources name; codes of the materials that changed.

    Parts of these materials follow. The installer (``by`` None) tells nothing of the materials it has just put in. A
    fixed number of queries, whatever the number of materials and parts. Must run inside a transaction.
    """
    known = {one.pk: one for one in Material.objects.select_for_update(no_key=True).filter(pk__in=list(material_ids))}
    ids: dict[str, uuid.UUID] = {}
    rows: dict[uuid.UUID, list[GroupRow]] = {pk: [] for pk in known}
    for material_id, its_group, code, first, more, source, because in MaterialStorageGroup.objects.filter(
        material_id__in=known
    ).values_list(
        "material_id", "storage_group_id", "storage_group__code", "storage_group__initial_years",
        "storage_group__extension_years", "source", "chosen_because",
    ):  # fmt: skip
        ids[code] = its_group
        rows[material_id].append(GroupRow(StorageGroup(code, first, more), source, because))
    moved = []
    for pk, material in known.items():
        counted = counting_group(rows[pk])
        group_id: uuid.UUID | None = ids[counted.group.code] if counted else None
        if material.storage_group_id != group_id:
            material.storage_group_id = group_id
            moved.append(material)
    Material.objects.bulk_update(moved, ["storage_group"])
    if moved and by is not None:
        versions = dict(Material.objects.filter(pk__in=[one.pk for one in moved]).values_list("pk", "version"))
        record_changes(
            [
                Recorded("material.changed", "material", one.pk, versions[one.pk], None, _told(one, ids))
                for one in moved
            ],
            by=by,
        )
    parts_follow([one.code for one in moved], by=by)
    return [one.code for one in moved]


def _told(material: Material, ids: Mapping[str, uuid.UUID]) -> dict[str, str | None]:
    codes = {pk: code for code, pk in ids.items()}
    group = codes.get(material.storage_group_id) if material.storage_group_id else None
    return {"code": material.code, "storage_group": group}


def parts_follow(codes: Iterable[str], *, by: Caller | None) -> int:
    """Let parts of these elastomers take the group of the shortest-lived one; how many changed. Two queries."""
    wanted = list(codes)
    if not wanted:
        return 0
    with connection.cursor() as cursor:
        cursor.execute(FOLLOW, [wanted])
        moved = cursor.fetchall()
    record_changes(
        [
            Recorded("part.changed", "part", pk, version, None, {"number": number, "name": name})
            for pk, version, number, name in moved
        ],
        by=by,
    )
    return len(moved)
