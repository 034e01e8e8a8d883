"""Computing the fit of what changed: marks are taken, pairs judged, results saved as a whole.

A few marks look only at what may have to do with them; many look at the whole catalogue, piece by piece.
"""

import datetime
import uuid
from collections.abc import Collection

from django.db import connection, transaction
from django.db.models import Q
from django.utils import timezone

from assets.queries.build_classes import build_class_ids
from assets.queries.pump_models import role_codes
from kits.calculations.fit_catalogue import judge_catalogue
from kits.calculations.matching import specification_key
from kits.models import AskedKey, Coverage, FitDay, FitMark, Kit, OfferedKey, Supersession
from kits.operations.fit_saving import Saving
from kits.queries.fit_candidates import candidate_kits, candidate_models, stale_parts, stale_positions
from kits.queries.fit_catalogue import LoadedClasses, Places, declared_pairs, load_classes, load_kits, specification_of
from kits.queries.kits import numbers_in_kits
from kits.queries.materials import suitability_tables
from kits.queries.parts import supersessions_by_number
from kits.queries.supersessions import chains_of

COMPUTING = 650_216_001
# Beyond so many at once it is cheaper to look at everything than to look for what may have to do with them.
FEW_KITS, FEW_CLASSES = 200, 1000
MARKS_AT_ONCE = 100_000
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
        _mark_what_days_change(timezone.now().date())
        cursor.execute(TAKE, [limit])
        taken = cursor.fetchall()
    kits = {kit for kit, _ in taken if kit is not None}
    classes = {one for _, one in taken if one is not None}
    _renew_keys(kits, classes)
    everything = len(kits) > FEW_KITS and _released() <= kits
    if classes and not everything:
        _compute_classes(classes)
    if kits:
        _compute_kits(kits, everything=everything)
    return len(taken)


@transaction.atomic(savepoint=False)
def mark_everything() -> int:
    """Mark every released kit: all fits are computed anew. For whoever keeps the installation: it passes no gate."""
    kits = list(Kit.objects.filter(state="released").order_by("item_id").values_list("item_id", flat=True))
    FitMark.objects.bulk_create([FitMark(kit_id=kit) for kit in kits], ignore_conflicts=True)
    return len(kits)


def _mark_what_days_change(today: datetime.date) -> None:
    """Mark what a supersession or a word on coverage touches that began or ceased to hold since the day looked at
    last."""
    seen = FitDay.objects.values_list("day", flat=True).first()
    if seen is not None and seen >= today:
        return
    if seen is not None:
        begun = Supersession.objects.filter(
            Q(from_date__gt=seen, from_date__lte=today) | Q(until_date__gte=seen, until_date__lt=today)
        ).values_list("old_id", flat=True)
        said = Coverage.objects.filter(
            Q(valid_from__gt=seen, valid_from__lte=today) | Q(valid_to__gte=seen, valid_to__lt=today),
            kit__state="released",
        ).values_list("kit_id", flat=True)
        with connection.cursor() as cursor:
            cursor.execute("SELECT mark_fit_of_parts(parts_of_chains(%s))", [list(begun)])
            cursor.execute("SELECT mark_fit_of_kits(%s)", [list(said)])
    FitDay.objects.update_or_create(pk=1, defaults={"day": today})


def _renew_keys(kit_ids: set[uuid.UUID], class_ids: set[uuid.UUID]) -> None:
    """Make the keys anew of what was marked: whatever changes a position marks its model's classes, whatever changes a
    part marks its kits. What waits with an open mark is keyed, and found from its own side, when that is taken."""
    AskedKey.objects.bulk_create(
        [
            AskedKey(
                position_id=pk,
                pump_model_id=model,
                role=role,
                specification=specification_key(specification_of(text))[:400],
                seen=seen,
            )
            for pk, model, role, text, seen in stale_positions(class_ids)
        ],
        update_conflicts=True,
        unique_fields=["position_id"],
        update_fields=["pump_model_id", "role", "specification", "seen"],
        batch_size=5000,
    )
    OfferedKey.objects.bulk_create(
        [
            OfferedKey(part_id=pk, specification=specification_key(specification_of(text))[:400], seen=seen)
            for pk, text, seen in stale_parts(kit_ids)
        ],
        update_conflicts=True,
        unique_fields=["part_id"],
        update_fields=["specification", "seen"],
        batch_size=5000,
    )


def _released() -> set[uuid.UUID]:
    return set(Kit.objects.filter(state="released").values_list("item_id", flat=True))


def _compute_kits(kit_ids: set[uuid.UUID], *, everything: bool) -> None:
    """Some kits against every build class that they may have to do with."""
    roles = Places(sorted(role_codes()))
    if len(kit_ids) > FEW_KITS:
        _judge(None if everything else kit_ids, load_classes(None, roles), roles, all_classes=False)
    else:
        classes = build_class_ids(candidate_models(kit_ids))
        _judge(kit_ids, load_classes(classes, roles), roles, all_classes=True)


def _compute_classes(class_ids: set[uuid.UUID]) -> None:
    """Every kit that may have to do with some build classes against these."""
    roles = Places(sorted(role_codes()))
    classes = load_classes(class_ids, roles)
    kits = candidate_kits(set(classes.models)) if len(class_ids) <= FEW_CLASSES else None
    _judge(kits, classes, roles, all_classes=False, all_kits=True)


def _judge(
    kit_ids: Collection[uuid.UUID] | None,
    classes: LoadedClasses,
    roles: Places,
    *,
    all_classes: bool,
    all_kits: bool = False,
) -> None:
    """Judge kits against classes and save. ``all_classes`` and ``all_kits``: what was not looked at cannot fit, and
    what stands there of it goes."""
    today = timezone.now().date()
    few = kit_ids is not None and len(kit_ids) <= FEW_KITS
    supersessions = chains_of(numbers_in_kits(kit_ids or ())).links if few else supersessions_by_number()
    tables = suitability_tables()
    kits = load_kits(kit_ids, roles, supersessions, tables)
    saving = Saving(kits, classes, declared_pairs(kits, classes, today))
    old_kits = None if all_kits or kit_ids is None else list(kit_ids)
    found = judge_catalogue(kits.arrays, classes.arrays, supersessions=supersessions, tables=tables, on=today)
    if all_classes:
        saving.save([judged for _, judged in found], of_kits=old_kits, of_classes=None)
        return
    for looked_at, judged in found:
        saving.save([judged], of_kits=old_kits, of_classes=[classes.ids[one] for one in looked_at.tolist()])
