"""Reading what makers say kits are for, and what in it does not go together."""

import datetime
import uuid
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db.models import Q, QuerySet

from assets.calculations.build_class import variant_matches
from assets.calculations.serial_ranges import Gap, SerialRange, gaps
from assets.models import Pump, PumpModel, WearPosition
from assets.queries.pump_models import pump_model_for, wear_positions_of
from assets.queries.pumps import pumps
from kits.calculations.coverage import Declared, compatible, conditions_of, overlapping
from kits.models import Coverage
from kits.queries.kits import kit_for
from services.identity.callers import Caller

MOST_SHOWN = 20


def coverage(*, by: Caller) -> QuerySet[Coverage]:
    """What makers say kits are for. Every signed-in principal may read it."""
    return Coverage.objects.all()


def declared_of_models(
    model_ids: Iterable[uuid.UUID], kit_ids: Iterable[uuid.UUID] | None = None
) -> dict[uuid.UUID, list[Declared[uuid.UUID]]]:
    """What is said about some models, of all kits or of some, by model, whatever the day. One query."""
    rows = Coverage.objects.filter(pump_model_id__in=list(model_ids))
    if kit_ids is not None:
        rows = rows.filter(kit_id__in=list(kit_ids))
    found: dict[uuid.UUID, list[Declared[uuid.UUID]]] = {}
    for model, kit, start, end, variant, first, last in rows.values_list(
        "pump_model_id", "kit_id", "serial_from", "serial_to", "variant", "valid_from", "valid_to"
    ):
        found.setdefault(model, []).append(Declared(kit, SerialRange(start, end), variant, first, last))
    return found


def findings_of_kit(*, by: Caller, kit_id: uuid.UUID, on: datetime.date) -> list[dict[str, Any]]:
    """Overlaps and gaps of the coverage of a kit together with the released kits of its scope, on the kit's models.
    Four queries. Raises `NotThere`."""
    kit = kit_for(kit_id)
    said = _said(Q(pump_model__coverage__kit_id=kit.pk, kit__scope_id=kit.scope_id), on, kit.pk)
    return _coverage_findings(by, said)


def findings_of_model(*, by: Caller, model_id: uuid.UUID, on: datetime.date) -> list[dict[str, Any]]:
    """Overlaps and gaps of all coverage of a model, and positions that overlap. Five queries. Raises `NotThere`."""
    model = pump_model_for(model_id)
    found = _coverage_findings(by, _said(Q(pump_model_id=model.pk), on, None))
    return found + _position_overlaps(model, wear_positions_of([model.pk]).get(model.pk, []))


def _said(which: Q, on: datetime.date, also: uuid.UUID | None) -> dict[tuple[uuid.UUID, str], list[Coverage]]:
    """Declarations of released kits, and of one more, that hold on a day, by model and scope."""
    rows = (
        Coverage.objects.filter(which, Q(kit__state="released") | Q(kit_id=also))
        .filter(Q(valid_from=None) | Q(valid_from__lte=on), Q(valid_to=None) | Q(valid_to__gte=on))
        .select_related("kit__item", "kit__scope", "pump_model")
        .order_by("pump_model__code", "kit__scope__code", "kit__item__number", "serial_from", "id")
        .distinct()
    )
    found: dict[tuple[uuid.UUID, str], list[Coverage]] = {}
    for one in rows:
        found.setdefault((one.pump_model_id, one.kit.scope.code), []).append(one)
    return found


def _coverage_findings(by: Caller, said: Mapping[tuple[uuid.UUID, str], list[Coverage]]) -> list[dict[str, Any]]:
    standing: dict[uuid.UUID, list[Pump]] = {}
    models = {model for model, _ in said}
    rows = pumps(by=by).exclude(state="withdrawn").filter(pump_model_id__in=models)
    for pump in rows.only("id", "tag", "serial_number", "site_id", "variant", "pump_model_id").order_by("tag", "id"):
        standing.setdefault(pump.pump_model_id, []).append(pump)
    found: list[dict[str, Any]] = []
    for (model_id, scope), those in said.items():
        found += [_overlap(scope, one, other) for one, other in _pairs(those)]
        for condition in conditions_of(one.variant for one in those):
            meant = [one for one in those if compatible(one.variant, condition)]
            built = [one for one in standing.get(model_id, []) if variant_matches(condition, one.variant)]
            found += _gaps(scope, meant, condition, built)
    return found


def _pairs(those: Sequence[Coverage]) -> list[tuple[Coverage, Coverage]]:
    places = overlapping([(_serials(one), one.variant) for one in those])
    return [(those[first], those[second]) for first, second in places]


def _overlap(scope: str, one: Coverage, other: Coverage) -> dict[str, Any]:
    model = one.pump_model
    who = (
        f"{_name(one)} is declared twice for"
        if one.kit_id == other.kit_id
        else f"{_name(one)} and {_name(other)}, both {scope} kits, are declared for the same pumps of"
    )
    sentence = f"{who} {model.code}: {_serials(one).words()}, and {_serials(other).words()}."
    return _finding("coverage-overlap", model, scope, [one, other], sentence)


def _gaps(
    scope: str, meant: Sequence[Coverage], condition: Mapping[str, str], built: Sequence[Pump]
) -> list[dict[str, Any]]:
    by_serials = {_serials(one): one for one in meant}
    found = []
    for gap in gaps(by_serials):
        inside = [one for one in built if gap.contains(one.serial_number)]
        # Beyond the first and the last range lies what the maker never built, unless a pump says otherwise.
        if not inside and (gap.after is None or gap.before is None):
            continue
        beside = [by_serials[one] for one in (gap.after, gap.before) if one is not None]
        finding = _finding(
            "coverage-gap", beside[0].pump_model, scope, beside, _gap_words(scope, beside[0], gap, condition)
        )
        finding["pump_count"] = len(inside)
        finding["pumps"] = [
            {"pump": one.pk, "tag": one.tag, "serial_number": one.serial_number, "site": one.site_id}
            for one in inside[:MOST_SHOWN]
        ]
        found.append(finding)
    return found


def _gap_words(scope: str, one: Coverage, gap: Gap, condition: Mapping[str, str]) -> str:
    built = " and ".join(f"{name} {value}" for name, value in sorted(condition.items()))
    as_built = f" built with {built}" if built else ""
    return f"No {scope} kit is declared for {one.pump_model.code}{as_built}, {gap.words()}."


def _position_overlaps(model: PumpModel, positions: Sequence[WearPosition]) -> list[dict[str, Any]]:
    by_role: dict[str, list[WearPosition]] = {}
    for one in positions:
        by_role.setdefault(one.role_id, []).append(one)
    found = []
    for role, those in sorted(by_role.items()):
        for first, second in overlapping([(_serials(one), one.variant or {}) for one in those]):
            one, other = those[first], those[second]
            if (one.part_number, one.specification) == (other.part_number, other.specification):
                continue
            sentence = (
                f"{model.code} asks for two different things as {role} on the same pumps: {_asked(one)} on "
                f"{_serials(one).words()}, {_asked(other)} on {_serials(other).words()}."
            )
            found.append(_finding("position-overlap", model, role, [one, other], sentence))
    return found


def _asked(one: WearPosition) -> str:
    spec = ", ".join(f"{value}" for name, value in (one.specification or {}).items() if name != "category" and value)
    return one.part_number or spec


def _finding(
    kind: str, model: PumpModel, scope: str, said: Sequence[Coverage | WearPosition], sentence: str
) -> dict[str, Any]:
    return {
        "kind": kind,
        "pump_model": model.pk,
        "pump_model_code": model.code,
        "scope": scope,
        "said": [
            {
                "id": one.pk,
                "name": _name(one),
                "serial_from": one.serial_from,
                "serial_to": one.serial_to,
                "variant": one.variant or {},
            }
            for one in said
        ],
        "pump_count": 0,
        "pumps": [],
        "sentence": sentence,
    }


def _serials(one: Coverage | WearPosition) -> SerialRange:
    return SerialRange(one.serial_from, one.serial_to)


def _name(one: Coverage | WearPosition) -> str:
    return str(one.kit.item) if isinstance(one, Coverage) else one.role_id
