"""Which kits and which pump models may have to do with each other: candidates only, the rule judges them.

A line and a position may match where their numbers are in one chain of supersession, or where their specifications
share a key. Keys are kept beside positions and parts (`kits.models.MatchKey`): those of a model from when one of its
build classes is first computed, those of a part from when a kit that holds it is.
"""

import uuid
from collections.abc import Collection, Iterable
from typing import Any

from django.db import connection

from kits.calculations.matching import Described, specification_key

_MODELS = """
WITH line AS (SELECT DISTINCT part_id, role FROM kits_kitline WHERE kit_id = ANY (%(kits)s))
SELECT a.pump_model_id FROM line
    JOIN kits_offeredkey o ON o.part_id = line.part_id AND o.specification <> ''
    JOIN kits_askedkey a ON a.specification = o.specification AND a.role = line.role
UNION
SELECT p.pump_model_id
    FROM unnest(parts_of_chains((SELECT array_agg(part_id) FROM line))) AS chain(id)
    JOIN kits_item i ON i.id = chain.id
    JOIN assets_wearposition p
        ON normalised_part_number(p.part_number) = normalised_part_number(i.number) AND p.part_number <> ''
"""
_KITS = """
WITH part AS (
    SELECT o.part_id AS id FROM kits_askedkey a
        JOIN kits_offeredkey o ON o.specification = a.specification
        WHERE a.pump_model_id = ANY (%(models)s) AND a.specification <> ''
    UNION
    SELECT unnest(parts_of_chains((
        SELECT array_agg(i.id) FROM assets_wearposition p
            JOIN kits_item i ON normalised_part_number(i.number) = normalised_part_number(p.part_number)
            WHERE p.pump_model_id = ANY (%(models)s) AND p.part_number <> ''
    )))
)
SELECT DISTINCT l.kit_id FROM kits_kitline l JOIN part ON part.id = l.part_id
    JOIN kits_kit k ON k.item_id = l.kit_id AND k.state = 'released'
"""
_ASKING = """
SELECT pump_model_id FROM kits_askedkey WHERE specification = ANY (%(keys)s)
UNION
SELECT pump_model_id FROM assets_wearposition
    WHERE normalised_part_number(part_number) = ANY (%(numbers)s) AND part_number <> ''
UNION
SELECT p.pump_model_id
    FROM unnest(parts_of_chains((
        SELECT array_agg(id) FROM kits_item WHERE normalised_part_number(number) = ANY (%(numbers)s)
    ))) AS chain(id)
    JOIN kits_item i ON i.id = chain.id
    JOIN assets_wearposition p
        ON normalised_part_number(p.part_number) = normalised_part_number(i.number) AND p.part_number <> ''
"""
_OFFERING = """
WITH part AS (
    SELECT part_id AS id FROM kits_offeredkey WHERE specification = ANY (%(keys)s)
    UNION
    SELECT unnest(parts_of_chains((
        SELECT array_agg(id) FROM kits_item WHERE normalised_part_number(number) = ANY (%(numbers)s)
    )))
)
SELECT DISTINCT l.kit_id FROM kits_kitline l JOIN part ON part.id = l.part_id
    JOIN kits_kit k ON k.item_id = l.kit_id AND k.state = 'released'
"""
_STALE_POSITIONS = """
SELECT p.id, p.pump_model_id, p.role, p.specification::text, p.seen FROM (
    SELECT id, pump_model_id, role, specification,
        md5(concat_ws('|', pump_model_id, role, specification::text)) AS seen FROM assets_wearposition
        WHERE pump_model_id IN (SELECT pump_model_id FROM assets_buildclass WHERE id = ANY (%(classes)s))
) p LEFT JOIN kits_askedkey k ON k.position_id = p.id WHERE k.seen IS DISTINCT FROM p.seen
"""
_STALE_PARTS = """
SELECT p.item_id, p.specification::text, p.seen FROM (
    SELECT item_id, specification, md5(specification::text) AS seen FROM kits_part
        WHERE item_id IN (SELECT part_id FROM kits_kitline WHERE kit_id = ANY (%(kits)s))
) p LEFT JOIN kits_offeredkey k ON k.part_id = p.item_id WHERE k.seen IS DISTINCT FROM p.seen
"""


def _rows(statement: str, **values: Any) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        return cursor.fetchall()


def candidate_models(kit_ids: Collection[uuid.UUID]) -> set[uuid.UUID]:
    """Pump models of which some position may be served by a line of these kits. One query."""
    return {row[0] for row in _rows(_MODELS, kits=list(kit_ids))}


def candidate_kits(model_ids: Collection[uuid.UUID]) -> set[uuid.UUID]:
    """Released kits of which some line may serve a position of these models. One query."""
    return {row[0] for row in _rows(_KITS, models=list(model_ids))}


def models_asking_for(offers: Iterable[Described]) -> set[uuid.UUID]:
    """Pump models of which some position may be served by parts that are only described. One query."""
    keys, numbers = _keys_and_numbers(offers)
    return {row[0] for row in _rows(_ASKING, keys=keys, numbers=numbers)}


def kits_offering(sought: Iterable[Described]) -> set[uuid.UUID]:
    """Released kits of which some line may serve positions that are only described. One query."""
    keys, numbers = _keys_and_numbers(sought)
    return {row[0] for row in _rows(_OFFERING, keys=keys, numbers=numbers)}


def _keys_and_numbers(described: Iterable[Described]) -> tuple[list[str], list[str]]:
    wanted = list(described)
    keys = {specification_key(one.specification) for one in wanted} - {""}
    return sorted(keys), sorted({one.number for one in wanted} - {""})


def stale_positions(class_ids: Collection[uuid.UUID]) -> list[tuple[uuid.UUID, uuid.UUID, str, str | None, str]]:
    """(id, model, role, specification as JSON text, digest) of positions of these build classes' models whose key is
    not there or no longer true."""
    return _rows(_STALE_POSITIONS, classes=list(class_ids))


def stale_parts(kit_ids: Collection[uuid.UUID]) -> list[tuple[uuid.UUID, str, str]]:
    """(id, specification as JSON text, digest) of parts of these kits whose key is not there or no longer true."""
    return _rows(_STALE_PARTS, kits=list(kit_ids))
