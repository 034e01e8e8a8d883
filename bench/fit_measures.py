"""Fits on a large catalogue: computed as a whole, after one edit, and asked for one pump.

The floor of computing is the best single join that finds and writes the same pairs: no quantities, alternatives,
scopes or materials, no chains of supersession, only numbers and specifications that are equal. The floor of asking is
the smallest WSGI application that runs the same queries and the same calculation.
"""

import resource
import statistics
import time
from collections.abc import Callable

from django.db import connection, transaction

from bench.timing import Comparison
from kits.models import FitMark, FitResult, Kit
from kits.operations.fit import compute_marked, mark_everything

FLOOR_TABLE = "CREATE TABLE bench_fit (LIKE kits_fitresult INCLUDING ALL)"
FLOOR = """
INSERT INTO bench_fit (build_class_id, kit_id, verdict, matched, asked, declared, kit_seen, class_seen, computed_at)
SELECT c.id, served.kit_id, 'fits', served.matched, served.matched, false, 0, 0, now()
FROM (
    SELECT pump_model_id, kit_id, count(*) AS matched FROM (
        SELECT p.pump_model_id, l.kit_id, p.id FROM assets_wearposition p
            JOIN kits_part q ON q.specification = p.specification AND q.category <> 'other'
            JOIN kits_kitline l ON l.part_id = q.item_id AND l.role = p.role
            JOIN kits_kit k ON k.item_id = l.kit_id AND k.state = 'released'
        UNION
        SELECT p.pump_model_id, l.kit_id, p.id FROM assets_wearposition p
            JOIN kits_item i ON i.number = p.part_number
            JOIN kits_kitline l ON l.part_id = i.id AND l.role = p.role
            JOIN kits_kit k ON k.item_id = l.kit_id AND k.state = 'released'
    ) pairs GROUP BY 1, 2
) served JOIN assets_buildclass c ON c.pump_model_id = served.pump_model_id
"""


def rebuilding(turns: int = 3) -> Comparison:
    """Every kit against every build class, from marks to stored verdicts, into an empty table."""
    ours, floor = [], []
    pairs = 0
    for _ in range(turns):
        with transaction.atomic(savepoint=False), connection.cursor() as cursor:
            cursor.execute("DROP TABLE IF EXISTS bench_fit")
            cursor.execute(FLOOR_TABLE)
        floor.append(_timed(_write_floor))
        with connection.cursor() as cursor:
            cursor.execute("TRUNCATE kits_fitresult")
        mark_everything()
        ours.append(_timed(_drain))
        pairs = FitResult.objects.count()
    kits = Kit.objects.filter(state="released").count()
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return Comparison(
        name=f"Computing all fits of {kits} kits ({pairs} verdicts), process at most {memory:.0f} MB",
        floor="the best single join that finds and writes these pairs",
        unit="verdicts",
        per_turn=pairs,
        seconds=statistics.median(ours),
        floor_seconds=statistics.median(floor),
    )


def _write_floor() -> None:
    with transaction.atomic(savepoint=False), connection.cursor() as cursor:
        cursor.execute(FLOOR)


def _drain() -> None:
    while compute_marked(limit=1_000_000):
        continue


def _timed(act: Callable[[], object]) -> float:
    begun = time.perf_counter()
    act()
    return time.perf_counter() - begun


def one_kit(kit_number: str) -> float:
    """Seconds from the mark of one changed kit until its fits are stored."""
    FitMark.objects.create(kit=Kit.objects.get(item__number=kit_number))
    return _timed(_drain)
