"""Which kits fit one pump, as installed or as described: what the rule needs, gathered; the answer, ranked.

What is stored says which kits are worth judging and in which order; verdict and reasons are computed as they are asked
for, by the same function.
"""

import datetime
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Q, TextField
from django.db.models.functions import Cast
from django.utils import timezone

from assets.calculations.build_class import variant_matches
from assets.calculations.serial_ranges import SerialRange
from assets.models import BuildClass, Pump, WearPosition
from assets.queries.pumps import pump_for
from kits.calculations.fit import (
    AskedPosition,
    Fit,
    OfferedKit,
    OfferedLine,
    OperatingConditions,
    Reason,
    described,
    judge_kits,
)
from kits.models import FitMark, FitResult, Kit, KitLine, Supersession
from kits.queries.fit_candidates import kits_offering
from kits.queries.fit_catalogue import specification_of
from kits.queries.fit_ranking import Ranked, rank, ranked_kits
from kits.queries.materials import suitability_tables
from kits.queries.supersessions import chains_of
from services.identity.callers import Caller

SHOWN = 20


@dataclass(frozen=True)
class PumpSeen:
    """A pump as the rule sees it, installed or only described; ``build_class_id`` is None where no class has it."""

    pump_model_id: uuid.UUID
    serial_number: str
    variant: Mapping[str, str]
    conditions: OperatingConditions
    site_id: uuid.UUID | None
    build_class_id: uuid.UUID | None


def seen(pump: Pump) -> PumpSeen:
    """An installed pump, with its own temperatures: the reasons name them, not those of another of its build class."""
    return PumpSeen(
        pump_model_id=pump.pump_model_id,
        serial_number=pump.serial_number,
        variant=pump.variant,
        conditions=OperatingConditions(pump.fluid.family.code, pump.temperature_min_c, pump.temperature_max_c),
        site_id=pump.site_id,
        build_class_id=pump.build_class_id,
    )


def conditions_of(one: BuildClass) -> OperatingConditions:
    """Fluid and temperatures of the pump from which a build class was made."""
    return OperatingConditions(one.fluid_family.code, one.temperature_min_c, one.temperature_max_c)


def asked_by(pumps: Sequence[PumpSeen]) -> list[list[AskedPosition]]:
    """For each pump the positions of its model that apply to it. One query."""
    rows: dict[uuid.UUID, list[tuple[AskedPosition, SerialRange, Mapping[str, str]]]] = {}
    for model, role, quantity, mandatory, number, text, start, end, variant in (
        WearPosition.objects.filter(pump_model_id__in={one.pump_model_id for one in pumps})
        .order_by("role_id", "serial_from", "id")
        .annotate(text=Cast("specification", TextField()))
        .values_list(
            "pump_model_id", "role_id", "quantity", "mandatory", "part_number", "text", "serial_from", "serial_to",
            "variant",
        )
    ):  # fmt: skip
        position = AskedPosition(str(role), quantity, mandatory, number, specification_of(text))
        rows.setdefault(model, []).append((position, SerialRange(start, end), variant or {}))
    return [
        [
            position
            for position, serials, variant in rows.get(one.pump_model_id, ())
            if serials.contains(one.serial_number) and variant_matches(variant, one.variant)
        ]
        for one in pumps
    ]


def offered_kits(kit_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, OfferedKit]:
    """Kits with their lines and the roles of their scope. Two queries."""
    wanted = list(kit_ids)
    roles: dict[uuid.UUID, set[str]] = {}
    for kit_id, role in Kit.objects.filter(pk__in=wanted).values_list("item_id", "scope__roles__code"):
        roles.setdefault(kit_id, set())
        if role is not None:
            roles[kit_id].add(role)
    lines: dict[uuid.UUID, list[OfferedLine]] = {}
    rows = (
        KitLine.objects.filter(kit_id__in=wanted)
        .order_by("kit_id", "line")
        .annotate(text=Cast("part__specification", TextField()))
        .values_list("kit_id", "role_id", "part__item__number", "text", "quantity", "optional", "alternative_group")
    )
    for kit_id, position, number, text, quantity, optional, group in rows:
        line = OfferedLine(str(position), number, specification_of(text), quantity, optional, group)
        lines.setdefault(kit_id, []).append(line)
    return {kit_id: OfferedKit(frozenset(those), tuple(lines.get(kit_id, ()))) for kit_id, those in roles.items()}


def judge(pumps: Sequence[PumpSeen], kits: Sequence[OfferedKit], on: datetime.date) -> list[list[Fit]]:
    """For each pump the verdicts of the kits on a day, in their order. Five queries."""
    asked = asked_by(pumps)
    supersessions = chains_of(one.part_number for positions in asked for one in positions).links
    tables = suitability_tables()
    return [
        judge_kits(
            positions=positions,
            kits=kits,
            supersessions=supersessions,
            tables=tables,
            conditions=pump.conditions,
            on=on,
        )
        for pump, positions in zip(pumps, asked, strict=True)
    ]


def fit_of(*, pump_id: uuid.UUID, kit_id: uuid.UUID, on: datetime.date) -> dict[str, Any]:
    """The verdict of one kit for one pump on a day, with its reasons; computed now. Callers have passed the gate."""
    pump = Pump.objects.select_related("fluid__family").filter(pk=pump_id).first()
    kit = offered_kits([kit_id]).get(kit_id)
    if pump is None or kit is None:
        return {"verdict": "no-fit", "reasons": []}
    found = judge([seen(pump)], [kit], on)[0][0]
    return {"verdict": found.verdict, "reasons": [shape_reason(reason) for reason in found.reasons]}


def fits_of_pump(
    *, by: Caller, pump_id: uuid.UUID, on: datetime.date, scope: str | None = None, limit: int = SHOWN
) -> dict[str, Any]:
    """The best kits for a pump on a day, each with its verdict, its reasons and every factor of its rank.

    Kits of which no mandatory position matches are left out. A fixed number of queries. Raises `NotThere`.
    """
    pump = pump_for(by, pump_id)
    found = fits_of(by, seen(pump), on, scope=scope, limit=limit)
    return {"pump": pump.pk, "tag": pump.tag, "site": pump.site_id, "on": on, **found}


def fits_of(by: Caller, pump: PumpSeen, on: datetime.date, *, scope: str | None, limit: int) -> dict[str, Any]:
    """``pending``, how many kits were ``found``, and the best of them. A fixed number of queries."""
    stored, pending = _stored(pump, on)
    if stored is None:
        kit_ids = kits_offering(map(described, asked_by([pump])[0]))
        ranked = ranked_kits(by, pump.site_id, dict.fromkeys(kit_ids), on, scope=scope)
        chosen, found = ranked, 0
    else:
        ranked = ranked_kits(by, pump.site_id, stored, on, scope=scope)
        chosen, found = ranked[:limit], len(ranked)
    kits = offered_kits([one.kit_id for one in chosen])
    judged = judge([pump], [kits[one.kit_id] for one in chosen], on)[0]
    served = [(one, fit) for one, fit in zip(chosen, judged, strict=True) if fit.verdict != "no-fit"]
    served.sort(key=lambda pair: rank(pair[0], pair[1].verdict, pair[1].asked))
    return {
        "pending": pending,
        "found": max(found, len(served)),
        "kits": [_shape(one, fit) for one, fit in served[:limit]],
    }


def _stored(pump: PumpSeen, on: datetime.date) -> tuple[dict[uuid.UUID, tuple[str, int, bool]] | None, bool]:
    """(stored verdicts by kit, whether a mark is open); None where nothing stored holds for the pump on that day."""
    if pump.build_class_id is None:
        return None, FitMark.objects.exists()
    today = timezone.now().date()
    first, last = min(on, today), max(on, today)
    between = Supersession.objects.filter(
        Q(from_date__gt=first, from_date__lte=last) | Q(until_date__gte=first, until_date__lt=last)
    )
    marks = FitMark.objects.filter(Q(build_class_id=pump.build_class_id) | Q(kit__isnull=False))
    if on != today and between.exists():
        return None, marks.exists()
    rows = FitResult.objects.filter(build_class_id=pump.build_class_id, kit__state="released")
    stored = {
        kit: (verdict, asked, declared)
        for kit, verdict, asked, declared in rows.values_list("kit_id", "verdict", "asked", "declared")
    }
    return stored, marks.exists()


def _shape(one: Ranked, fit: Fit) -> dict[str, Any]:
    return {
        **one.row,
        "verdict": fit.verdict,
        "matched": fit.matched,
        "asked": fit.asked,
        "reasons": [shape_reason(reason) for reason in fit.reasons],
    }


def shape_reason(reason: Reason) -> dict[str, Any]:
    """A reason as it is answered."""
    return {
        "code": reason.code,
        "role": reason.role,
        "asked": reason.asked,
        "offered": reason.offered,
        "compared": [
            {"name": one.name, "asked": one.asked, "offered": one.offered, "same": one.same} for one in reason.compared
        ],
        "sentence": reason.sentence,
    }
