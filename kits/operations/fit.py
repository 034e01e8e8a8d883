"""Computing the fit of what changed: marks are taken, pairs judged, results saved as a whole."""

import datetime
import uuid
from collections.abc import Iterable

from django.db import connection, transaction
from django.utils import timezone

from assets.queries.build_classes import build_class_ids, build_classes
from assets.queries.pump_models import wear_positions_of
from kits.models import FitDay, FitMark, FitResult, Kit, Supersession
from kits.queries.fit import asked_positions, conditions_of, declared_for, fingerprint, fit_tables, judge, offered_kits

COMPUTING = 650_216_001
TAKE = """
DELETE FROM kits_fitmark WHERE id IN (
    SELECT id FROM kits_fitmark ORDER BY marked_at, id LIMIT %s FOR UPDATE SKIP LOCKED
) RETURNING kit_id, build_class_id
"""


@transaction.atomic(savepoint=False)
def compute_marked(*, limit: int) -> int:
    """Compute the fits of up to ``limit`` marks; how many were taken, none while another worker computes.

    The marks go in the transaction that saves the results, so whoever dies half way leaves them to be taken again; a
    change that comes meanwhile waits for its mark's row, or is skipped here and found the next time. One at a time:
    a kit's mark and a build class's mark meet in one result, and the older look must not be saved last.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_xact_lock(%s)", [COMPUTING])
        if not cursor.fetchone()[0]:
            return 0
        _mark_started_supersessions(timezone.now().date())
        cursor.execute(TAKE, [limit])
        taken = cursor.fetchall()
    kits = {kit for kit, _ in taken if kit is not None}
    classes = {one for _, one in taken if one is not None}
    if classes:
        _compute(_released(), classes)
    if kits:
        _compute(kits, None)
    return len(taken)


def _mark_started_supersessions(today: datetime.date) -> None:
    """Mark the kits once on a day, if a supersession began to hold since the day looked at last."""
    seen = FitDay.objects.values_list("day", flat=True).first()
    if seen is not None and seen >= today:
        return
    if seen is not None and Supersession.objects.filter(from_date__gt=seen, from_date__lte=today).exists():
        FitMark.objects.bulk_create([FitMark(kit_id=kit) for kit in sorted(_released())], ignore_conflicts=True)
    FitDay.objects.update_or_create(pk=1, defaults={"day": today})


def _released() -> set[uuid.UUID]:
    return set(Kit.objects.filter(state="released").values_list("item_id", flat=True))


def _compute(kit_ids: Iterable[uuid.UUID], class_ids: Iterable[uuid.UUID] | None) -> None:
    kit_ids = set(kit_ids)
    class_ids = build_class_ids() if class_ids is None else list(class_ids)
    today = timezone.now().date()
    tables = fit_tables()
    offered = {pk: one for pk, one in offered_kits(kit_ids).items() if pk in _released()}
    classes = build_classes(class_ids)
    positions = wear_positions_of({one.pump_model_id for one in classes})
    declared = declared_for(classes)
    results = []
    for one in classes:
        asked = asked_positions(one, positions.get(one.pump_model_id, []))
        roles = {each.role for each in asked}
        for kit in offered.values():
            if not roles & kit.scope_roles:
                continue
            found = judge(kit, asked, conditions_of(one), tables, today)
            if found.verdict == "no-fit":
                continue
            results.append(
                FitResult(
                    kit_id=kit.kit_id,
                    build_class_id=one.pk,
                    verdict=found.verdict,
                    matched=found.matched,
                    asked=found.asked,
                    declared=(kit.kit_id, one.pk) in declared,
                    computed_from=fingerprint(kit, one, asked, today),
                )
            )
    _save(kit_ids, class_ids, results)


def _save(kit_ids: set[uuid.UUID], class_ids: list[uuid.UUID], results: list[FitResult]) -> None:
    kept = {(one.kit_id, one.build_class_id) for one in results}
    old = FitResult.objects.filter(kit_id__in=kit_ids, build_class_id__in=class_ids)
    gone = [pk for pk, kit, one in old.values_list("id", "kit_id", "build_class_id") if (kit, one) not in kept]
    FitResult.objects.filter(pk__in=gone).delete()
    FitResult.objects.bulk_create(
        results,
        update_conflicts=True,
        unique_fields=["kit", "build_class"],
        update_fields=["verdict", "matched", "asked", "declared", "computed_from", "computed_at"],
        batch_size=2000,
    )
