"""Suppliers, parts and terms handed in as rows of files."""

import uuid
from collections.abc import Sequence
from functools import partial
from typing import Any

from django.db import transaction

from assets.access import require_operator_wide
from assets.calculations.part_specifications import SpecificationError, parse_specification
from assets.queries.pump_models import maker_ids
from kits.models import Item, Part, Supplier, SupplierTerms
from kits.operations.parts import OWNERS, described
from kits.operations.row_figures import as_kept, unstorable
from kits.queries.items import items_by_number
from kits.queries.materials import storage_groups_of_materials
from kits.queries.parts import part_ids_by_number, parts_of_files, supplier_ids_by_code
from services.api.loading import LoadRow, RowNote, RowOutcome
from services.api.many_rows import insert_many, update_many
from services.api.sorting_rows import SortedRows
from services.changes.sorted_rows import record_sorted, write_sorted
from services.identity.callers import Caller

ITEM_FIGURES = ("number", "name", "unit", "cost", "currency")
SUPPLIER_FIGURES = ("name", "minimum_order_value", "minimum_order_currency")
TERM_FIGURES = (
    "lead_time_days", "lead_time_sd_days", "minimum", "multiple", "price", "currency", "order_cost",
)  # fmt: skip


@transaction.atomic(savepoint=False)
def load_suppliers(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Suppliers keyed by code; a minimum order value that is left out stays as it is."""
    require_operator_wide(by, *OWNERS)
    found = SortedRows(
        {one.code: one for one in Supplier.objects.filter(code__among=[row.values["code"] for row in rows])}
    )
    outcomes = []
    for row in rows:
        key = str(row.values["code"])
        wrong = unstorable(row, dict.fromkeys(("code", *SUPPLIER_FIGURES), Supplier))
        given = {name: row.values[name] for name in SUPPLIER_FIGURES if row.values.get(name) is not None}
        figures = {} if wrong else as_kept(given, Supplier)
        old = found.known.get(key)
        currency = figures.get("minimum_order_currency") or (old.minimum_order_currency if old else "")
        if figures.get("minimum_order_value") and not currency:
            wrong = "minimum_order_currency", "The minimum order value has no currency.", "Give it, such as EUR."
        if wrong:
            outcomes.append(RowOutcome.refused(row, key, *wrong))
            continue
        outcomes.append(found.take(row, key, key, figures, partial(Supplier, code=key, **figures)))
    write_sorted(found, SUPPLIER_FIGURES, by=by, noun="supplier", told=lambda one: {"code": one.code})
    return outcomes


@transaction.atomic(savepoint=False)
def load_parts(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Parts keyed by external id, with their typed specification. A fixed number of queries for any number of rows."""
    require_operator_wide(by, *OWNERS)
    makers, groups = maker_ids(), storage_groups_of_materials()
    names = [str(row.values["external_id"]) for row in rows]
    found = SortedRows({str(one.item.external_ids["file"]): one for one in parts_of_files(names)})
    taken = part_ids_by_number(str(row.values["number"]).strip() for row in rows)
    outcomes = []
    for row, key in zip(rows, names, strict=True):
        made = _figures(row, key, makers, groups)
        if isinstance(made, RowOutcome):
            outcomes.append(made)
            continue
        item_figures, part_figures, notes = made
        old, number = found.known.get(key), item_figures["number"].upper()
        mine = old.pk if old else None
        if taken.get(number, mine) != mine:
            outcomes.append(
                RowOutcome.refused(row, key, "number", "Another part has this number.", "One number means one part.")
            )
            continue
        make = partial(_new_part, key, item_figures, part_figures)
        outcomes.append(found.take(row, key, key, part_figures, make, notes, {"item": item_figures}))
        taken[number] = found.known[key].pk
    insert_many([one.item for one in found.fresh])
    insert_many(found.fresh)
    update_many(found.changed, ["maker", "category", "specification", "elastomers", "storage_group"])
    versions = update_many([one.item for one in found.changed], ITEM_FIGURES)
    record_sorted(found, versions, by=by, noun="part", told=lambda one: {"number": one.item.number})
    return outcomes


def _new_part(key: str, item_figures: dict[str, Any], part_figures: dict[str, Any]) -> Part:
    return Part(item=Item(kind="part", external_ids={"file": key}, **item_figures), **part_figures)


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


@transaction.atomic(savepoint=False)
def load_supplier_terms(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Terms keyed by supplier and item."""
    require_operator_wide(by, *OWNERS)
    suppliers = supplier_ids_by_code({str(row.values["supplier"]) for row in rows})
    items = items_by_number({(str(row.values["item"]), row.values.get("revision")) for row in rows})
    found = SortedRows(
        {
            (one.supplier_id, one.item_id): one
            for one in SupplierTerms.objects.filter(supplier_id__in=suppliers.values())
        }
    )
    outcomes = []
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
        make = partial(SupplierTerms, supplier_id=supplier_id, item_id=item_id, **figures)
        outcomes.append(found.take(row, key, (supplier_id, item_id), figures, make))
    write_sorted(
        found,
        TERM_FIGURES,
        by=by,
        noun="supplier-terms",
        told=lambda one: {"supplier": one.supplier_id, "item": one.item_id},
        begun="agreed",
    )
    return outcomes


def _terms(row: LoadRow) -> dict[str, Any]:
    values = row.values
    defaults = {"lead_time_sd_days": 0, "minimum": 1, "multiple": 1, "order_cost": 0}
    return {name: defaults.get(name) if values.get(name) is None else values[name] for name in TERM_FIGURES}
