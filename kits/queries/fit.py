"""Which kits fit which pump: what the rule of fit needs, gathered; and its answer for one pump, ranked."""

import datetime
import hashlib
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Q
from django.utils import timezone

from assets.calculations.build_class import variant_matches
from assets.calculations.part_specifications import Specification, specification_from_json
from assets.calculations.serial_ranges import SerialRange
from assets.models import BuildClass, Pump, WearPosition
from assets.queries.build_classes import build_classes
from assets.queries.pump_models import wear_positions_of
from assets.queries.pumps import pump_for
from kits.calculations.fit import (
    VERDICT_ORDER,
    AskedPosition,
    Fit,
    OfferedLine,
    OperatingConditions,
    Reason,
    judge_fit,
)
from kits.calculations.material_suitability import SuitabilityTables
from kits.calculations.supersession import Supersessions
from kits.models import Coverage, FitMark, FitResult, Kit, Supersession
from kits.queries.availability import free_at
from kits.queries.kits import kit_lines_of
from kits.queries.materials import suitability_tables
from kits.queries.parts import supersessions_by_number
from services.identity.callers import Caller


@dataclass(frozen=True)
class OfferedKit:
    """A kit as the rule of fit sees it."""

    kit_id: uuid.UUID
    scope_roles: frozenset[str]
    lines: tuple[OfferedLine, ...]


@dataclass(frozen=True)
class FitTables:
    """What the rule needs beside pump and kit."""

    supersessions: Supersessions[str]
    materials: SuitabilityTables


def fit_tables() -> FitTables:
    """Supersessions and materials. Three queries."""
    return FitTables(supersessions_by_number(), suitability_tables())


def offered_kits(kit_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, OfferedKit]:
    """Kits with their lines and the roles of their scope. Three queries."""
    wanted = list(kit_ids)
    lines = kit_lines_of(wanted)
    roles: dict[uuid.UUID, set[str]] = {}
    for kit_id, role in Kit.objects.filter(pk__in=wanted).values_list("item_id", "scope__roles__code"):
        roles.setdefault(kit_id, set())
        if role is not None:
            roles[kit_id].add(role)
    return {
        kit_id: OfferedKit(kit_id, frozenset(roles[kit_id]), tuple(map(_line, lines.get(kit_id, []))))
        for kit_id in roles
    }


def _line(row: Mapping[str, Any]) -> OfferedLine:
    return OfferedLine(
        role=row["role"],
        part_number=row["number"],
        specification=_specification(row["specification"]),
        quantity=row["quantity"],
        optional=row["optional"],
        alternative_group=row["alternative_group"],
    )


def _specification(stored: Mapping[str, Any] | None) -> Specification | None:
    """A typed specification; None where nothing but a category is known."""
    return specification_from_json(stored) if stored and len(stored) > 1 else None


def asked_positions(one: BuildClass, positions: Sequence[WearPosition]) -> list[AskedPosition]:
    """The positions of its model that apply to a build class."""
    return [
        AskedPosition(
            role=position.role_id,
            quantity=position.quantity,
            mandatory=position.mandatory,
            part_number=position.part_number,
            specification=_specification(position.specification),
        )
        for position in positions
        if SerialRange(position.serial_from, position.serial_to).contains(one.sample_serial)
        and variant_matches(position.variant or {}, one.variant)
    ]


def conditions_of(one: BuildClass) -> OperatingConditions:
    """Fluid and temperatures of the pump from which a build class was made."""
    return OperatingConditions(one.fluid_family.code, one.temperature_min_c, one.temperature_max_c)


def judge(
    kit: OfferedKit,
    positions: Sequence[AskedPosition],
    conditions: OperatingConditions,
    tables: FitTables,
    on: datetime.date,
) -> Fit:
    """The verdict of a kit for what is asked under some conditions on a day."""
    return judge_fit(
        positions=positions,
        lines=kit.lines,
        scope_roles=kit.scope_roles,
        supersessions=tables.supersessions,
        tables=tables.materials,
        conditions=conditions,
        on=on,
    )


def declared_for(classes: Iterable[BuildClass]) -> set[tuple[uuid.UUID, uuid.UUID]]:
    """(kit, build class) for which the maker says the kit is meant. One query."""
    wanted = list(classes)
    rows = Coverage.objects.filter(pump_model_id__in={one.pump_model_id for one in wanted}).values_list(
        "kit_id", "pump_model_id", "serial_from", "serial_to"
    )
    return {
        (kit_id, one.pk)
        for kit_id, model_id, start, end in rows
        for one in wanted
        if one.pump_model_id == model_id and SerialRange(start, end).contains(one.sample_serial)
    }


def fingerprint(kit: OfferedKit, one: BuildClass, positions: Sequence[AskedPosition], on: datetime.date) -> str:
    """SHA-256 over what a verdict came from."""
    seen = repr((kit.lines, sorted(kit.scope_roles), one.key, list(positions), on.isoformat()))
    return f"sha256:{hashlib.sha256(seen.encode()).hexdigest()}"


def fit_of(*, pump_id: uuid.UUID, kit_id: uuid.UUID, on: datetime.date) -> dict[str, Any]:
    """The verdict of one kit for one pump on a day, with its reasons; computed now. Callers have passed the gate."""
    pump = Pump.objects.select_related("fluid__family").filter(pk=pump_id).first()
    kit = offered_kits([kit_id]).get(kit_id)
    if pump is None or pump.build_class_id is None or kit is None:
        return {"verdict": "no-fit", "reasons": []}
    found = judge(kit, _asked_by(pump, pump.build_class_id), _conditions_at(pump), fit_tables(), on)
    return {"verdict": found.verdict, "reasons": [shape_reason(reason) for reason in found.reasons]}


def _asked_by(pump: Pump, class_id: uuid.UUID) -> list[AskedPosition]:
    one = build_classes([class_id])[0]
    return asked_positions(one, wear_positions_of([pump.pump_model_id]).get(pump.pump_model_id, []))


def _conditions_at(pump: Pump) -> OperatingConditions:
    """The pump's own, so that the reasons name its own temperatures and not those of another of its build class."""
    return OperatingConditions(pump.fluid.family.code, pump.temperature_min_c, pump.temperature_max_c)


def fits_of_pump(*, by: Caller, pump_id: uuid.UUID, on: datetime.date) -> dict[str, Any]:
    """Kits for a pump, the best first, each with its verdict on that day, its reasons and what is free at the site.

    Ranked by verdict, then by how much of the pump they renew, then by what is free, then by number. Kits of which no
    mandatory position matches are left out. A fixed number of queries. Raises `NotThere`.
    """
    pump = pump_for(by, pump_id)
    answer: dict[str, Any] = {
        "pump": pump.pk, "tag": pump.tag, "site": pump.site_id, "on": on, "pending": False, "kits": [],
    }  # fmt: skip
    if pump.build_class_id is None:
        return answer
    declared = _declared_for(pump)
    names = _names(declared | _candidates(pump.build_class_id, on))
    kits = offered_kits(names)
    positions, conditions = _asked_by(pump, pump.build_class_id), _conditions_at(pump)
    tables = fit_tables()
    free = free_at(pump.site_id, kits, on)
    for kit_id, kit in kits.items():
        found = judge(kit, positions, conditions, tables, on)
        if found.verdict == "no-fit":
            continue
        answer["kits"].append(
            names[kit_id]
            | {
                "kit": kit_id,
                "verdict": found.verdict,
                "matched": found.matched,
                "asked": found.asked,
                "declared": kit_id in declared,
                "free_at_site": free.get(kit_id, Decimal(0)),
                "reasons": [shape_reason(reason) for reason in found.reasons],
            }
        )
    answer["kits"].sort(key=_rank)
    answer["pending"] = FitMark.objects.filter(Q(build_class_id=pump.build_class_id) | Q(kit__isnull=False)).exists()
    return answer


def _candidates(class_id: uuid.UUID, on: datetime.date) -> set[uuid.UUID]:
    """Released kits worth judging: those whose fit is stored; all of them where a supersession begins before the day,
    since what is stored holds for the day it was computed."""
    today = timezone.now().date()
    if on > today and Supersession.objects.filter(from_date__gt=today, from_date__lte=on).exists():
        return set(Kit.objects.filter(state="released").values_list("item_id", flat=True))
    stored = FitResult.objects.filter(build_class_id=class_id, kit__state="released")
    return set(stored.values_list("kit_id", flat=True))


def _rank(row: Mapping[str, Any]) -> tuple[Any, ...]:
    return VERDICT_ORDER[row["verdict"]], -row["asked"], -row["free_at_site"], row["number"], row["revision"]


def _declared_for(pump: Pump) -> set[uuid.UUID]:
    rows = Coverage.objects.filter(pump_model_id=pump.pump_model_id, kit__state="released")
    return {
        kit_id
        for kit_id, start, end in rows.values_list("kit_id", "serial_from", "serial_to")
        if SerialRange(start, end).contains(pump.serial_number)
    }


def _names(kit_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, dict[str, Any]]:
    rows = Kit.objects.filter(pk__in=list(kit_ids)).values_list(
        "item_id", "item__number", "item__revision", "item__name", "scope__code"
    )
    return {
        pk: {"number": number, "revision": revision, "name": name, "scope": scope}
        for pk, number, revision, name, scope in rows
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
