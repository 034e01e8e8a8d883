"""Kits and their lines handed in as rows of files."""

import uuid
from collections.abc import Sequence
from functools import partial
from typing import Any

from django.db import transaction
from django.db.models import Model
from django.utils import timezone

from assets.access import require_operator_wide
from assets.calculations.part_numbers import normalise_number
from assets.queries.pump_models import role_codes
from kits.models import Item, Kit, KitLine, KitScope
from kits.operations.parts import OWNERS
from kits.operations.row_figures import as_kept, unstorable
from kits.queries.kits import kits_by_number
from kits.queries.parts import part_ids_by_number, retired_parts
from kits.queries.supersessions import chains_of
from services.api.loading import LoadRow, RowNote, RowOutcome
from services.api.many_rows import insert_many, update_many
from services.api.sorting_rows import SortedRows
from services.changes.recording import Recorded, record_changes
from services.changes.sorted_rows import record_sorted
from services.identity.callers import Caller

KEPT_OF_LINES: dict[str, type[Model]] = {"quantity": KitLine, "alternative_group": KitLine}
FIGURES = ("name", "criticality", "cost", "currency")


@transaction.atomic(savepoint=False)
def load_kits(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Revisions of kits keyed by number and revision; new ones are drafts until they are released."""
    require_operator_wide(by, *OWNERS)
    scopes = dict(KitScope.objects.values_list("code", "id"))
    kept = kits_by_number({str(row.values["number"]).strip() for row in rows}).values()
    found = SortedRows(
        {
            (one.item.number.upper(), one.item.revision): one
            for one in Kit.objects.filter(pk__in=kept).select_related("item")
        }
    )
    outcomes = []
    for row in rows:
        values = row.values
        key = f"{values['number']} {values['revision']}"
        scope_id = scopes.get(str(values["scope"]))
        if scope_id is None:
            outcomes.append(
                RowOutcome.refused(row, key, "scope", "No such scope.", f"Known: {', '.join(sorted(scopes))}.")
            )
            continue
        wrong = unstorable(row, dict.fromkeys(("number", "revision", "name", "cost", "currency"), Item))
        if wrong is None and values.get("cost") is not None and not values.get("currency"):
            wrong = "currency", "The cost has no currency.", "Give it, such as EUR."
        if wrong:
            outcomes.append(RowOutcome.refused(row, key, *wrong))
            continue
        written = {
            "name": values["name"],
            "criticality": values.get("criticality") or "essential",
            "cost": values.get("cost"),
            "currency": values.get("currency") or "",
        }
        figures = as_kept(written, Item)
        place = str(values["number"]).strip().upper(), str(values["revision"]).strip()
        old = found.known.get(place)
        if old is not None and old.scope_id != scope_id:
            outcomes.append(
                RowOutcome.refused(row, key, "scope", "The revision has another scope.", "Make a new revision.")
            )
            continue
        make = partial(_new_kit, row, place[1], scope_id, figures)
        outcomes.append(found.take(row, key, place, {}, make, within={"item": figures}))
    insert_many([one.item for one in found.fresh])
    insert_many(found.fresh)
    versions = update_many([one.item for one in found.changed], FIGURES)
    record_sorted(
        found,
        versions,
        by=by,
        noun="kit",
        told=lambda one: {"number": one.item.number, "state": one.state},
        begun="drafted",
    )
    return outcomes


def _new_kit(row: LoadRow, revision: str, scope_id: uuid.UUID, figures: dict[str, Any]) -> Kit:
    item = Item(
        kind="kit",
        number=str(row.values["number"]).strip(),
        revision=revision,
        external_ids={"file": row.values["external_id"]},
        **figures,
    )
    return Kit(item=item, scope_id=scope_id)


@transaction.atomic(savepoint=False)
def load_kit_lines(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Lines of drafts keyed by kit, revision and line. A part that something newer replaces is taken, with a note."""
    require_operator_wide(by, *OWNERS)
    kits = kits_by_number({str(row.values["kit"]) for row in rows})
    states = dict(Kit.objects.filter(pk__in=kits.values()).values_list("item_id", "state"))
    parts = part_ids_by_number(str(row.values["part"]) for row in rows)
    roles, newer, retired = role_codes(), _newer_numbers(set(parts.values())), retired_parts(parts.values())
    found = SortedRows({(one.kit_id, one.line): one for one in KitLine.objects.filter(kit_id__in=kits.values())})
    outcomes = []
    for row in rows:
        values = row.values
        key = f"{values['kit']} {values['revision']} {values['line']}"
        kit_id = kits.get((str(values["kit"]), str(values["revision"])))
        part_id = parts.get(str(values["part"]).upper())
        wrong = _unsound(row, kit_id, part_id, roles) or unstorable(row, KEPT_OF_LINES)
        if wrong or kit_id is None or part_id is None:
            outcomes.append(RowOutcome.refused(row, key, *(wrong or ("kit", "Not known.", "Load it first."))))
            continue
        figures = {
            "role_id": str(values["role"]),
            "part_id": part_id,
            "quantity": as_kept({"quantity": values["quantity"]}, KitLine)["quantity"],
            "optional": bool(values.get("optional")),
            "alternative_group": str(values.get("alternative_group") or ""),
        }
        notes = []
        if part_id in newer:
            notes.append(RowNote("part", str(values["part"]), f"superseded by {newer[part_id]}; taken as written"))
        place = kit_id, values["line"]
        if found.would_change(place, figures) and states[kit_id] != "draft":
            outcomes.append(
                RowOutcome.refused(row, key, "line", "A released kit never changes.", "Make a new revision.")
            )
        elif found.would_change(place, figures) and part_id in retired:
            outcomes.append(
                RowOutcome.refused(row, key, "part", "The part is retired.", "Name the part that replaced it.")
            )
        else:
            make = partial(KitLine, kit_id=kit_id, line=values["line"], **figures)
            outcomes.append(found.take(row, key, place, figures, make, notes))
    insert_many(found.fresh)
    update_many(found.changed, ["role", "part", "quantity", "optional", "alternative_group"])
    touched = {one.kit_id for one in [*found.fresh, *found.changed]}
    Item.objects.filter(pk__in=touched).update(updated_at=timezone.now())
    record_changes(
        [
            Recorded("kit.changed", "kit", pk, version, None, {"number": number})
            for pk, version, number in Item.objects.filter(pk__in=touched).values_list("id", "version", "number")
        ],
        by=by,
    )
    return outcomes


def _unsound(
    row: LoadRow, kit_id: uuid.UUID | None, part_id: uuid.UUID | None, roles: set[str]
) -> tuple[str, str, str] | None:
    if kit_id is None:
        return "kit", "No such revision of a kit is known.", "Load the kits first; check number and revision."
    if part_id is None:
        return "part", "No such part is known.", "Load the parts first; check the number."
    if row.values["role"] not in roles:
        return "role", "No such position role.", f"Known: {', '.join(sorted(roles))}."
    if not 0 < row.values["line"] < 2**31:
        return "line", "It is no line number.", "Count the lines from 1."
    if row.values["quantity"] <= 0:
        return "quantity", "It must be above zero.", "Say how many the kit holds."
    return None


def _newer_numbers(part_ids: set[uuid.UUID]) -> dict[uuid.UUID, str]:
    numbers = dict(Item.objects.filter(pk__in=part_ids).values_list("id", "number"))
    chains, today, newer = chains_of(numbers.values()), timezone.now().date(), {}
    for part_id, number in numbers.items():
        place = normalise_number(number)
        newest = chains.links.newest(place, today)
        if newest != place:
            newer[part_id] = chains.part(newest)["number"]
    return newer
