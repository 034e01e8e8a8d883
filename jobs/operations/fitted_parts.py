"""What a job leaves in the pump: the kit's parts and those beside it, less what came back; what sat there is out."""

import uuid
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from django.utils import timezone

from jobs.calculations.failure_codes import removed_condition
from jobs.models import ExtraPart, FittedPart, Job, JobStep
from jobs.queries.extra_parts import came_back
from jobs.queries.findings import standing_findings
from kits.queries.kits import kit_lines
from kits.queries.reservations import issued_lots
from services.api.refusals import InvalidValue
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller

ZERO = Decimal(0)


def fit_parts(job: Job, by: Caller) -> list[FittedPart]:
    """Record what was fitted, mark what it replaced as removed in the condition that was found, and tell both.

    Parts for positions whose steps wait for a follow-up must have come back. Raises `InvalidValue`.
    """
    when = job.finished_at or timezone.now()
    back = came_back(job.pk)
    fitted = _merged([*_of_kit(job, back), *_beside_it(job, back)])
    for one in fitted:
        one.fitted_at = when
    _remove_what_was_there(job, {one.role for one in fitted}, by)
    made = FittedPart.objects.bulk_create(fitted)
    record_changes(
        [
            Recorded(
                "fitted-part.fitted",
                "fitted-part",
                one.pk,
                1,
                job.site_id,
                {"pump": one.pump_id, "role": one.role, "part": one.part_id, "quantity": one.quantity, "job": job.pk},
            )
            for one in made
        ],
        by=by,
    )
    return made


def _fitted(job: Job, role: str, part_id: uuid.UUID, quantity: Decimal, lot_id: Any) -> FittedPart:
    return FittedPart(pump_id=job.pump_id, role=role, part_id=part_id, quantity=quantity, lot_id=lot_id, job=job)


def _of_kit(job: Job, back: dict[tuple[uuid.UUID, uuid.UUID | None], Decimal]) -> list[FittedPart]:
    lots = [one for one in issued_lots(job.pk) if one["item_id"] == job.kit_id]
    if not lots:
        return []
    waiting = _waiting_positions(job)
    left, fitted, loose = dict(back), [], []
    # What came back is taken off the positions that wait first.
    for line in sorted(kit_lines(job.kit_id), key=lambda one: one["role"] not in waiting):
        key = (line["part_id"], None)
        less = min(left.get(key, ZERO), line["quantity"])
        left[key] = left.get(key, ZERO) - less
        rest = line["quantity"] - less
        if rest > 0 and line["role"] in waiting:
            loose.append(line["role"])
        elif rest > 0:
            fitted.append(_fitted(job, line["role"], line["part_id"], rest, lots[0]["lot_id"]))
    if loose:
        raise InvalidValue(
            f"Steps at {', '.join(sorted(set(loose)))} wait for the follow-up, but their parts have not come back.",
            remedy="Name them as returned; they go to quarantine until somebody has looked.",
            pointer="#/returned",
            positions=sorted(set(loose)),
        )
    return fitted


def _waiting_positions(job: Job) -> set[str]:
    """Positions touched by steps that moved to a follow-up and by none that was done here."""
    moved: set[str] = set()
    done: set[str] = set()
    for state, positions in JobStep.objects.filter(job=job).values_list("state", "step__positions"):
        if state == "moved":
            moved.update(positions)
        elif state == "done":
            done.update(positions)
    return moved - done


def _beside_it(job: Job, back: dict[tuple[uuid.UUID, uuid.UUID | None], Decimal]) -> list[FittedPart]:
    fitted = []
    for extra in ExtraPart.objects.filter(job=job, state="taken").order_by("id"):
        less = back.get((extra.part_id, extra.pk), ZERO)
        for one in extra.taken_from:
            taken = Decimal(one["quantity"])
            off = min(less, taken)
            less -= off
            if taken > off:
                fitted.append(_fitted(job, extra.role, extra.part_id, taken - off, uuid.UUID(one["lot"])))
    return fitted


def _merged(fitted: Iterable[FittedPart]) -> list[FittedPart]:
    """One row for a position, part and lot, even where the kit lists it on two lines."""
    by_key: dict[tuple[str, uuid.UUID, Any], FittedPart] = {}
    for one in fitted:
        known = by_key.setdefault((one.role, one.part_id, one.lot_id), one)
        if known is not one:
            known.quantity += one.quantity
    return list(by_key.values())


def _remove_what_was_there(job: Job, roles: set[str], by: Caller) -> None:
    when = job.finished_at or timezone.now()
    found = {
        one["role"]: removed_condition(one["mode"], one["mechanism"], one["bearing_damage"])
        for one in standing_findings(job.pk)
    }
    gone: Sequence[FittedPart] = list(
        FittedPart.objects.filter(pump_id=job.pump_id, role__in=roles, removed_at=None).order_by("id")
    )
    for one in gone:
        one.removed_at, one.removed_by_job, one.removed_condition = when, job, found.get(one.role, "")
    FittedPart.objects.bulk_update(gone, ["removed_at", "removed_by_job", "removed_condition"])
    record_changes(
        [
            Recorded(
                "fitted-part.removed",
                "fitted-part",
                one.pk,
                one.version + 1,
                job.site_id,
                {
                    "pump": one.pump_id,
                    "role": one.role,
                    "part": one.part_id,
                    "job": job.pk,
                    "removed_condition": one.removed_condition,
                },
            )
            for one in gone
        ],
        by=by,
    )
