"""Descriptions of pumps and kits that are not there yet, made into what the rule of fit reads."""

import datetime
import uuid
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.db.models import TextField
from django.db.models.functions import Cast

from assets.calculations.part_specifications import Specification, SpecificationError, parse_specification
from assets.queries.build_classes import build_class_id_of, described_class
from assets.queries.pump_models import role_codes
from assets.queries.sites import site_for
from kits.calculations.fit import OfferedLine
from kits.models import KitScope, Part
from kits.queries.fit import PumpSeen, conditions_of, fits_of, offered_kits
from kits.queries.fit_catalogue import specification_of
from kits.queries.fit_of_kit import fits_of_described_kit
from kits.queries.kits import kit_for
from services.api.refusals import FieldProblem, InvalidValue
from services.identity.callers import Caller

MOST_LINES = 200


def fits_of_described_pump(
    *,
    by: Caller,
    pump_model: uuid.UUID,
    serial_number: str,
    temperature_min_c: Decimal,
    temperature_max_c: Decimal,
    on: datetime.date,
    site: uuid.UUID | None,
    scope: str | None,
    limit: int,
    variant: Mapping[str, str] | None = None,
    fluid: str = "",
    fluid_family: str = "",
) -> dict[str, Any]:
    """The best kits for a pump as described; see `kits.queries.fit.fits_of`. Raises `InvalidValue`, `NotThere`."""
    place = site_for(by, site).pk if site is not None else None
    one = described_class(
        pump_model, serial_number, variant, fluid_family, temperature_min_c, temperature_max_c, fluid=fluid
    )
    seen = PumpSeen(
        pump_model_id=one.pump_model_id,
        serial_number=one.sample_serial,
        variant=one.variant,
        conditions=conditions_of(one),
        site_id=place,
        build_class_id=build_class_id_of(one),
    )
    return {"on": on, "site": place, **fits_of(by, seen, on, scope=scope, limit=limit)}


def fits_of_described_kit_of(
    *,
    by: Caller,
    on: datetime.date,
    kit: uuid.UUID | None,
    scope: str | None,
    lines: Sequence[Mapping[str, Any]] | None,
) -> dict[str, Any]:
    """What a draft, or a kit of these lines, would fit; see `kits.queries.fit_of_kit`. Raises `InvalidValue`,
    `NotThere`."""
    if kit is not None:
        if scope is not None or lines is not None:
            raise InvalidValue(
                "Both a kit and its lines are given.", remedy="Give the kit, or scope and lines.", pointer="#/kit"
            )
        drafted = offered_kits([kit_for(kit).pk])[kit]
        return fits_of_described_kit(by=by, scope_roles=drafted.scope_roles, lines=drafted.lines, on=on)
    if not lines or len(lines) > MOST_LINES:
        raise InvalidValue(
            f"The kit has {len(lines or ())} lines.", remedy=f"Give 1 to {MOST_LINES} lines.", pointer="#/lines"
        )
    roles = dict[str, set[str]]()
    for code, role in KitScope.objects.values_list("code", "roles__code"):
        roles.setdefault(code, set()).add(role)
    if scope not in roles:
        raise InvalidValue(
            f"{scope!r} is no scope." if scope else "The kit has no scope.",
            remedy=f"Known: {', '.join(sorted(roles))}.",
            pointer="#/scope",
        )
    return fits_of_described_kit(by=by, scope_roles=frozenset(roles[scope]), lines=_lines(lines), on=on)


def _lines(lines: Sequence[Mapping[str, Any]]) -> list[OfferedLine]:
    parts = {
        pk: (number, specification_of(text))
        for pk, number, text in Part.objects.filter(pk__in=[one["part"] for one in lines if one.get("part")])
        .annotate(text=Cast("specification", TextField()))
        .values_list("item_id", "item__number", "text")
    }
    known, found, problems = role_codes(), [], list[FieldProblem]()
    for place, line in enumerate(lines):
        at = f"#/lines/{place}"
        if line["role"] not in known:
            problems.append(FieldProblem(f"{at}/role", "unknown-role", f"{line['role']!r} is no position role."))
        if line["quantity"] <= 0:
            problems.append(FieldProblem(f"{at}/quantity", "not-positive", "A line holds more than none."))
        try:
            number, specification = _part(line, parts)
        except InvalidValue as error:
            problems.append(
                FieldProblem(f"{at}{error.problems[0].pointer.removeprefix('#')}", error.code, error.detail)
            )
            continue
        found.append(
            OfferedLine(
                line["role"], number, specification, line["quantity"], line["optional"], line["alternative_group"]
            )
        )
    if problems:
        raise InvalidValue(
            " ".join(one.detail for one in problems), remedy="Correct the lines named.", problems=problems
        )
    return found


def _part(
    line: Mapping[str, Any], parts: Mapping[uuid.UUID, tuple[str, Specification | None]]
) -> tuple[str, Specification | None]:
    if line.get("part"):
        if line["part"] not in parts:
            raise InvalidValue("There is no such part.", remedy="GET /parts lists them.", pointer="#/part")
        return parts[line["part"]]
    number, text = line.get("part_number") or "", line.get("specification") or ""
    if not number and not text:
        raise InvalidValue(
            "The line names no part.", remedy="Give part, part_number or specification.", pointer="#/part"
        )
    if not text:
        return number, None
    try:
        return number, parse_specification(line.get("category") or "", text)
    except SpecificationError as error:
        pointer = "#/category" if error.field == "category" else "#/specification"
        raise InvalidValue(error.what, remedy=error.remedy, pointer=pointer) from error
