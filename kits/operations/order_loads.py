"""Orders handed in as rows of a file: one row a line, keyed by order number and item."""

import uuid
from collections.abc import Sequence

from django.db import transaction

from assets.access import has_role
from assets.queries.sites import site_ids_by_code
from kits.models import Order, OrderLine, Supplier
from kits.operations.stock_loads import KEEPERS, item_keys, item_of, no_item
from kits.queries.items import items_by_number
from services.api.loading import LoadRow, RowOutcome
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller

FIGURES = ("quantity", "received", "expected_on", "price", "currency")


@transaction.atomic(savepoint=False)
def load_orders(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Orders with their lines. What was received before stands in the movements, so no stock moves here."""
    sites = site_ids_by_code({str(row.values.get("site")) for row in rows})
    items = items_by_number(item_keys(rows))
    suppliers = dict(
        Supplier.objects.filter(code__in={str(row.values.get("supplier")) for row in rows}).values_list("code", "id")
    )
    orders = {one.number: one for one in Order.objects.filter(number__in=[row.values["number"] for row in rows])}
    unsent = set(
        Order.objects.filter(site_id__in=sites.values(), state="approved").values_list("site_id", "supplier_id")
    )
    lines: dict[uuid.UUID, dict[uuid.UUID, OrderLine]] = {}
    for kept in OrderLine.objects.filter(order__in=orders.values()):
        lines.setdefault(kept.order_id, {})[kept.item_id] = kept
    outcomes: list[RowOutcome] = []
    fresh: list[Order] = []
    fresh_lines: list[OrderLine] = []
    changed: list[OrderLine] = []
    for row in rows:
        values, number = row.values, str(row.values["number"])
        key = f"{number} {values.get('item')}"
        site_id, supplier_id = sites.get(str(values.get("site"))), suppliers.get(str(values.get("supplier")))
        item_id = item_of(row, items)
        if site_id is None or not has_role(by, site_id, *KEEPERS):
            outcomes.append(
                RowOutcome.refused(row, key, "site", "No such site is granted to you.", "Check the site's code.")
            )
            continue
        if supplier_id is None:
            outcomes.append(
                RowOutcome.refused(row, key, "supplier", "No such supplier is known.", "Load the suppliers first.")
            )
            continue
        if item_id is None:
            outcomes.append(no_item(row, key))
            continue
        wrong = _unsound(row)
        if wrong:
            outcomes.append(RowOutcome.refused(row, key, *wrong))
            continue
        order = orders.get(number)
        if order is None:
            if values["state"] == "approved" and (site_id, supplier_id) in unsent:
                outcomes.append(
                    RowOutcome.refused(
                        row, key, "state", "The site has another unsent order there.", "Send or cancel that one first."
                    )
                )
                continue
            order = Order(number=number, site_id=site_id, supplier_id=supplier_id, state=values["state"])
            orders[number] = order
            fresh.append(order)
            if order.state == "approved":
                unsent.add((site_id, supplier_id))
        elif (order.site_id, order.supplier_id) != (site_id, supplier_id):
            outcomes.append(
                RowOutcome.refused(
                    row, key, "number", "The number is that of another site's or supplier's order.", "Check the number."
                )
            )
            continue
        known = lines.setdefault(order.pk, {})
        line = known.get(item_id)
        figures = {name: values[name] for name in FIGURES}
        if line is None:
            line = OrderLine(order=order, line=len(known) + 1, item_id=item_id, **figures)
            known[item_id] = line
            fresh_lines.append(line)
            outcomes.append(RowOutcome(row.number, key, "created"))
        elif any(getattr(line, name) != figures[name] for name in ("quantity", "expected_on", "price", "currency")):
            if line.expected_on != figures["expected_on"]:
                # A new day from the ERP is newer than what the supplier said before.
                line.promised_on, line.told_late = None, 0
            for name in ("quantity", "expected_on", "price", "currency"):
                setattr(line, name, figures[name])
            changed.append(line)
            outcomes.append(RowOutcome(row.number, key, "changed"))
        else:
            outcomes.append(RowOutcome(row.number, key, "unchanged"))
    Order.objects.bulk_create(fresh)
    OrderLine.objects.bulk_create(fresh_lines)
    if changed:
        OrderLine.objects.bulk_update(
            changed, ["quantity", "expected_on", "promised_on", "told_late", "price", "currency"]
        )
    record_changes(
        [
            Recorded("order.loaded", "order", one.pk, 1, one.site_id, {"number": one.number, "state": one.state})
            for one in fresh
        ],
        by=by,
    )
    return outcomes


def _unsound(row: LoadRow) -> tuple[str, str, str] | None:
    values = row.values
    if values["quantity"] <= 0:
        return "quantity", "The quantity must be above zero.", "Give what was ordered."
    if values["received"] < 0:
        return "received", "Less than nothing cannot have come.", "Give what came so far, or 0."
    if values["price"] < 0:
        return "price", "The price is below zero.", "Give the price of one."
    return None
