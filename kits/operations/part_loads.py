"""Suppliers, parts and terms handed in as rows of files."""

import uuid
from collections.abc import Sequence
from typing import Any

from django.db import transaction

from assets.access import require_operator_wide
from assets.calculations.part_specifications import SpecificationError, parse_specification
from assets.queries.pump_models import maker_ids
from kits.models import Item, Part, Supplier, SupplierTerms
from kits.operations.parts import OWNERS, described
from kits.operations.row_figures import as_kept, unstorable, versions_of
from kits.queries.items import items_by_number
from kits.queries.materials import storage_groups_of_materials
from kits.queries.parts import part_ids_by_number, supplier_ids_by_code
from services.api.loading import LoadRow, RowNote, RowOutcome
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller

ITEM_FIGURES = ("number", "name", "unit", "cost", "currency")
TERM_FIGURES = (
    "lead_time_days", "lead_time_sd_days", "minimum", "multiple", "price", "currency", "order_cost",
)  # fmt: skip


@transaction.atomic(savepoint=False)
def load_suppliers(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Suppliers keyed by code."""
    require_operator_wide(by, *OWNERS)
    known = {one.code: one for one in Supplier.objects.filter(code__in=[row.values["code"] for row in rows])}
    outcomes, fresh, changed = [], [], []
    for row in rows:
        key, name = str(row.values["code"]), str(row.values["name"])
        wrong, old = unstorable(row, {"code": Supplier, "name": Supplier}), known.get(key)
        if wrong:
            outcomes.append(RowOutcome.refused(row, key, *wrong))
        elif old is None:
            known[key] = Supplier(code=key, name=name)
            fresh.append(known[key])
            outcomes.append(RowOutcome(row.number, key, "created"))
        elif old.name != name:
            old.name = name
            changed.append(old)
            outcomes.append(RowOutcome(row.number, key, "changed"))
        else:
            outcomes.append(RowOutcome(row.number, key, "unchanged"))
    Supplier.objects.bulk_create(fresh)
    Supplier.objects.bulk_update(changed, ["name"])
    _record("supplier", fresh, changed, by, lambda one: {"code": one.code})
    return outcomes


@transaction.atomic(savepoint=False)
def load_parts(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Parts keyed by external id, with their typed specification. A fixed number of queries for any number of rows."""
    require_operator_wide(by, *OWNERS)
    makers, groups = maker_ids(), storage_groups_of_materials()
    names = [str(row.values["external_id"]) for row in rows]
    known = {
        str(one.item.external_ids["file"]): one
        for one in Part.objects.filter(item__external_ids__file__in=names).select_related("item")
    }
    taken = part_ids_by_number(str(row.values["number"]).strip() for row in rows)
    outcomes, fresh, changed = [], [], []
    for row in rows:
        key = str(row.values["external_id"])
        made = _figures(row, key, makers, groups)
        if isinstance(made, RowOutcome):
            outcomes.append(made)
            continue
        item_figures, part_figures, notes = made
        old = known.get(key)
        number = item_figures["number"].upper()
        if taken.get(number, old.pk if old else None) != (old.pk if old else None):
            outcomes.append(
                RowOutcome.refused(row, key, "number", "Another part has this number.", "One number means one part.")
            )
            continue
        if old is None:
            item = Item(kind="part", external_ids={"file": key}, **item_figures)
            known[key] = Part(item=item, **part_figures)
            taken[number] = item.pk
            fresh.append(known[key])
            outcomes.append(RowOutcome(row.number, key, "created", notes=notes))
        elif _differs(old.item, item_figures) or _differs(old, part_figures):
            _set(old.item, item_figures)
            _set(old, part_figures)
            changed.append(old)
            outcomes.append(RowOutcome(row.number, key, "changed", notes=notes))
        else:
            outcomes.append(RowOutcome(row.number, key, "unchanged", notes=notes))
    Item.objects.bulk_create([one.item for one in fresh])
    Part.objects.bulk_create(fresh)
    Item.objects.bulk_update([one.item for one in changed], list(ITEM_FIGURES))
    Part.objects.bulk_update(changed, ["maker", "category", "specification", "elastomers", "storage_group"])
    _record("part", [one.item for one in fresh], [one.item for one in changed], by, lambda one: {"number": one.number})
    return outcomes


def _figures(
    row: LoadRow, key: str, makers: dict[str, uuid.UUID], groups: dict[str, tuple[int, uuid.UUID]]
) -> tuple[dict[str, Any], dict[str, Any], list[RowNote]] | RowOutcome:
    values = row.values
    maker = values.get("maker")
    if maker and str(maker) not in makers:
        return RowOutcome.refused(row, key, "maker", "No such maker is known.", "Load the makers first.")
    wrong = unstorable(row, dict.fromkeys(ITEM_FIGURES, Item))
    if wrong:
        return RowOutcome.refused(row, key, *wrong)
    if values.get("cost") is not None and not values.get("currency"):
        return RowOutcome.refused(row, key, "currency", "The cost has no currency.", "Give it, such as EUR.")
    try:
        read = parse_specification(str(values["category"]), str(values["specification"]))
    except SpecificationError as error:
        column = "category" if error.field == "category" else "specification"
        return RowOutcome.refused(row, key, column, error.what, error.remedy)
    notes = []
    if read.designation() != str(values["specification"]):
        notes.append(RowNote("specification", str(values["specification"]), f"read as {read.designation()}"))
    item_figures = {
        "number": str(values["number"]).strip(),
        "name": values["name"],
        "unit": values.get("unit") or "piece",
        "cost": values.get("cost"),
        "currency": values.get("currency") or "",
    }
    return (
        as_kept(item_figures, Item),
        {"maker_id": makers[str(maker)] if maker else None, "category": str(values["category"])}
        | described(read, groups),
        notes,
    )


def _differs(kept: Any, figures: dict[str, Any]) -> bool:
    return any(getattr(kept, name) != value for name, value in figures.items())


def _set(kept: Any, figures: dict[str, Any]) -> None:
    for name, value in figures.items():
        setattr(kept, name, value)


@transaction.atomic(savepoint=False)
def load_supplier_terms(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Terms keyed by supplier and item."""
    require_operator_wide(by, *OWNERS)
    suppliers = supplier_ids_by_code({str(row.values["supplier"]) for row in rows})
    items = items_by_number({(str(row.values["item"]), row.values.get("revision")) for row in rows})
    known = {
        (one.supplier_id, one.item_id): one for one in SupplierTerms.objects.filter(supplier_id__in=suppliers.values())
    }
    outcomes, fresh, changed = [], [], []
    for row in rows:
        values = row.values
        key = f"{values['supplier']} {values['item']}"
        supplier_id = suppliers.get(str(values["supplier"]))
        item_id = items.get((str(values["item"]), values.get("revision")))
        if supplier_id is None:
            outcomes.append(RowOutcome.refused(row, key, "supplier", "No such supplier.", "Load the suppliers first."))
            continue
        if item_id is None:
            outcomes.append(RowOutcome.refused(row, key, "item", "No such part or kit.", "Load the catalogue first."))
            continue
        wrong = unstorable(row, dict.fromkeys(TERM_FIGURES, SupplierTerms))
        figures = {} if wrong else as_kept(_terms(row), SupplierTerms)
        nothing = next((name for name in ("minimum", "multiple") if not wrong and figures[name] <= 0), None)
        if nothing:
            wrong = nothing, "It must be above zero.", "1 means no rule."
        if wrong:
            outcomes.append(RowOutcome.refused(row, key, *wrong))
            continue
        old = known.get((supplier_id, item_id))
        if old is None:
            known[supplier_id, item_id] = SupplierTerms(supplier_id=supplier_id, item_id=item_id, **figures)
            fresh.append(known[supplier_id, item_id])
            outcomes.append(RowOutcome(row.number, key, "created"))
        elif _differs(old, figures):
            _set(old, figures)
            changed.append(old)
            outcomes.append(RowOutcome(row.number, key, "changed"))
        else:
            outcomes.append(RowOutcome(row.number, key, "unchanged"))
    SupplierTerms.objects.bulk_create(fresh)
    SupplierTerms.objects.bulk_update(changed, list(TERM_FIGURES))
    kinds = (("supplier-terms.agreed", fresh), ("supplier-terms.changed", changed))
    versions = versions_of(changed)
    record_changes(
        [
            Recorded(
                kind,
                "supplier-terms",
                one.pk,
                versions.get(one.pk, one.version),
                None,
                {"supplier": one.supplier_id, "item": one.item_id},
            )
            for kind, some in kinds
            for one in some
        ],
        by=by,
    )
    return outcomes


def _terms(row: LoadRow) -> dict[str, Any]:
    values = row.values
    defaults = {"lead_time_sd_days": 0, "minimum": 1, "multiple": 1, "order_cost": 0}
    return {name: defaults.get(name) if values.get(name) is None else values[name] for name in TERM_FIGURES}


def _record(noun: str, fresh: Sequence[Any], changed: Sequence[Any], by: Caller, body: Any) -> None:
    versions = versions_of(changed)
    record_changes(
        [
            Recorded(f"{noun}.{what}", noun, one.pk, versions.get(one.pk, one.version), None, body(one))
            for what, some in (("registered", fresh), ("changed", changed))
            for one in some
        ],
        by=by,
    )
