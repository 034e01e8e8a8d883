"""Kits in revisions: drafting, lines, releasing and withdrawing."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from assets.access import require_operator_wide
from assets.queries.pump_models import role_codes
from kits.models import Item, Kit, KitLine, KitScope
from kits.operations.parts import OWNERS
from kits.queries.kits import kit_for, kit_lines
from kits.queries.parts import missing_parts, retired_parts
from kits.refusals_catalogue import KitIncomplete, KitReleased
from services.api.refusals import FieldProblem, InvalidValue
from services.api.versions import version_changed
from services.changes.recording import record_change
from services.identity.callers import Caller

ITEM_FIELDS = ("name", "cost", "currency", "criticality", "external_ids", "is_active")


@dataclass(frozen=True)
class LineWanted:
    """A line of a kit: where the part goes, how many, whether it is optional or one of several choices."""

    line: int
    role: str
    part_id: uuid.UUID
    quantity: Decimal
    optional: bool = False
    alternative_group: str = ""


@transaction.atomic(savepoint=False)
def draft_kit(
    *,
    by: Caller,
    number: str,
    revision: str,
    name: str,
    scope: str,
    criticality: str = "essential",
    cost: Decimal | None = None,
    currency: str = "",
    kit_id: uuid.UUID | None = None,
) -> Kit:
    """A draft of a kit's revision. Raises `InvalidValue`, `AlreadyThere`."""
    require_operator_wide(by, *OWNERS)
    found = KitScope.objects.filter(code=scope).first()
    if found is None:
        known = ", ".join(KitScope.objects.order_by("code").values_list("code", flat=True))
        raise InvalidValue(f"{scope!r} is no scope.", remedy=f"Known: {known}.", pointer="#/scope")
    if cost is not None and not currency:
        raise InvalidValue("The cost has no currency.", remedy="Give it, such as EUR.", pointer="#/currency")
    item = Item.objects.create(
        kind="kit",
        number=number.strip(),
        revision=revision.strip(),
        name=name,
        cost=cost,
        currency=currency,
        criticality=criticality,
        **({"id": kit_id} if kit_id else {}),
    )
    kit = Kit.objects.create(item=item, scope=found)
    _tell("kit.drafted", kit, by)
    return kit


@transaction.atomic(savepoint=False)
def change_kit(*, by: Caller, kit_id: uuid.UUID, expected_version: int, **changes: Any) -> Kit:
    """Change name, cost or criticality; these may change after release too. Raises `VersionChanged`."""
    require_operator_wide(by, *OWNERS)
    kit = _locked(kit_id, expected_version)
    fields = {name: changes[name] for name in ITEM_FIELDS if name in changes}
    if fields.get("cost", kit.item.cost) is not None and not fields.get("currency", kit.item.currency):
        raise InvalidValue("The cost has no currency.", remedy="Give it, such as EUR.", pointer="#/currency")
    Item.objects.filter(pk=kit.pk).update(**fields)
    kit = kit_for(kit_id)
    _tell("kit.changed", kit, by)
    return kit


@transaction.atomic(savepoint=False)
def set_lines(*, by: Caller, kit_id: uuid.UUID, expected_version: int, lines: Sequence[LineWanted]) -> Kit:
    """Replace the lines of a draft. Raises `KitReleased`, `InvalidValue` with every line that is wrong."""
    require_operator_wide(by, *OWNERS)
    kit = _locked(kit_id, expected_version)
    if kit.state != Kit.State.DRAFT:
        raise KitReleased(f"{kit.item} is {kit.state}.", remedy="Make a new revision with the lines you want.")
    problems = list(_wrong_lines(lines))
    if problems:
        raise InvalidValue(
            " ".join(one.detail for one in problems), remedy="Correct the lines named.", problems=problems
        )
    KitLine.objects.filter(kit=kit).delete()
    KitLine.objects.bulk_create(
        [
            KitLine(
                kit=kit,
                line=one.line,
                role_id=one.role,
                part_id=one.part_id,
                quantity=one.quantity,
                optional=one.optional,
                alternative_group=one.alternative_group,
            )
            for one in lines
        ]
    )
    Item.objects.filter(pk=kit.pk).update(updated_at=timezone.now())
    kit = kit_for(kit_id)
    _tell("kit.changed", kit, by)
    return kit


def _wrong_lines(lines: Sequence[LineWanted]) -> list[FieldProblem]:
    roles, seen, problems = role_codes(), set(), []
    ids = {one.part_id for one in lines}
    missing, retired = missing_parts(ids), retired_parts(ids)
    for index, one in enumerate(lines):
        if one.line in seen:
            problems.append(FieldProblem(f"#/lines/{index}/line", "twice", f"Line {one.line} stands twice."))
        seen.add(one.line)
        if one.role not in roles:
            problems.append(FieldProblem(f"#/lines/{index}/role", "unknown-role", f"{one.role!r} is no position role."))
        if one.quantity <= 0:
            problems.append(FieldProblem(f"#/lines/{index}/quantity", "not-positive", "Must be above zero."))
        if one.part_id in missing:
            problems.append(FieldProblem(f"#/lines/{index}/part", "unknown-part", f"Line {one.line}: no such part."))
        if one.part_id in retired:
            problems.append(
                FieldProblem(
                    f"#/lines/{index}/part",
                    "retired-part",
                    f"{retired[one.part_id]} is retired; name the part that replaced it.",
                )
            )
    return problems


@transaction.atomic(savepoint=False)
def release_kit(*, by: Caller, kit_id: uuid.UUID, expected_version: int) -> Kit:
    """Release a draft: from now on its lines never change, and its fits are computed.

    It takes the place of the earlier revisions of the same number, which are withdrawn: offered no more, while stock
    and jobs that have them go on. Raises `KitIncomplete` naming what is missing, `KitReleased`, `VersionChanged`.
    """
    require_operator_wide(by, *OWNERS)
    _lock_revisions(kit_for(kit_id).item.number)
    kit = _locked(kit_id, expected_version)
    if kit.state != Kit.State.DRAFT:
        raise KitReleased(f"{kit.item} is {kit.state}.", remedy="Only a draft can be released.")
    lines = kit_lines(kit.pk)
    roles = set(kit.scope.roles.values_list("code", flat=True))
    problems = [
        FieldProblem(
            f"#/lines/{index}/role",
            "outside-scope",
            f"Line {one['line']} ({one['role']}) is outside the scope {kit.scope.code}.",
        )
        for index, one in enumerate(lines)
        if one["role"] not in roles
    ]
    if not lines:
        problems.append(FieldProblem("#/lines", "empty", "The kit has no lines."))
    if problems:
        raise KitIncomplete(
            " ".join(one.detail for one in problems),
            remedy="Correct the lines, or choose another scope.",
            problems=problems,
        )
    _withdraw_earlier(kit, by)
    Kit.objects.filter(pk=kit.pk, state=Kit.State.DRAFT).update(state=Kit.State.RELEASED, released_at=timezone.now())
    Item.objects.filter(pk=kit.pk).update(updated_at=timezone.now())
    kit = kit_for(kit_id)
    _tell("kit.released", kit, by)
    return kit


def _lock_revisions(number: str) -> None:
    # Two revisions released at once would each miss the other.
    revisions = Item.objects.select_for_update(no_key=True).filter(kind="kit", number__iexact=number)
    list(revisions.order_by("id").values_list("id", flat=True))


def _withdraw_earlier(kit: Kit, by: Caller) -> None:
    earlier = Item.objects.filter(kit__state="released", number__iexact=kit.item.number).exclude(pk=kit.pk)
    for kit_id in earlier.order_by("id").values_list("id", flat=True):
        _withdraw(kit_id, by)


def _withdraw(kit_id: uuid.UUID, by: Caller) -> Kit:
    Kit.objects.filter(pk=kit_id).update(state=Kit.State.WITHDRAWN)
    Item.objects.filter(pk=kit_id).update(updated_at=timezone.now())
    kit = kit_for(kit_id)
    _tell("kit.withdrawn", kit, by)
    return kit


@transaction.atomic(savepoint=False)
def withdraw_kit(*, by: Caller, kit_id: uuid.UUID, expected_version: int) -> Kit:
    """Withdraw a released revision: it is offered no more; stock and jobs that have it go on. Raises `KitReleased`."""
    require_operator_wide(by, *OWNERS)
    kit = _locked(kit_id, expected_version)
    if kit.state != Kit.State.RELEASED:
        raise KitReleased(f"{kit.item} is {kit.state}.", remedy="Only a released kit can be withdrawn.")
    return _withdraw(kit.pk, by)


def _locked(kit_id: uuid.UUID, expected_version: int) -> Kit:
    kit_for(kit_id)
    item = Item.objects.select_for_update(no_key=True).get(pk=kit_id)
    if item.version != expected_version:
        raise version_changed("The kit", item.version)
    return kit_for(kit_id)


def _tell(kind: str, kit: Kit, by: Caller) -> None:
    record_change(
        kind,
        noun="kit",
        noun_id=kit.pk,
        version=kit.item.version,
        by=by,
        body={"number": kit.item.number, "revision": kit.item.revision, "state": kit.state},
    )
