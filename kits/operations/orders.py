"""Orders at suppliers: lines added by decisions, sent, received in whole or in part, closed short, cancelled."""

import datetime
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import connection, transaction
from django.db.models import F
from django.utils import timezone

from assets.access import require_role
from kits.models import Order, OrderLine
from kits.operations.approval_limits import hold_to_limit
from kits.operations.arrivals import refuse_unreceivable
from kits.operations.lots import LotWanted, ensure_lots
from kits.operations.movements import Entry, post_movements
from kits.queries.items import item_for
from kits.queries.orders import order_for, supplier_exists
from kits.refusals import WrongOrderState
from services.api.refusals import InvalidValue
from services.api.versions import version_changed
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller

BUYERS = ("stores", "admin")
RECEIVERS = ("stores", "integrator", "admin")
SENDERS = ("stores", "integrator", "admin")
State = Order.State
RECEIVABLE = (State.APPROVED, State.SENT, State.PART_RECEIVED)


@dataclass(frozen=True)
class Arrived:
    """What came for one order line: the quantity, the lot as its label says, and its cure date where it ages."""

    line: int
    quantity: Decimal
    lot: str
    cure_date: datetime.date | None = None


@dataclass(frozen=True)
class LineWanted:
    """A line to be ordered."""

    item_id: uuid.UUID
    quantity: Decimal
    expected_on: datetime.date
    price: Decimal
    currency: str


@transaction.atomic(savepoint=False)
def make_order(
    *, by: Caller, site_id: uuid.UUID, supplier_id: uuid.UUID, lines: Sequence[LineWanted], number: str = ""
) -> Order:
    """Order by hand: the lines are added to the site's unsent order at that supplier. Raises `InvalidValue`,
    `OverApprovalLimit`."""
    require_role(by, site_id, *BUYERS, what="The site")
    if not supplier_exists(supplier_id):
        raise InvalidValue("There is no such supplier.", remedy="GET /suppliers lists them.", pointer="#/supplier")
    if not lines:
        raise InvalidValue("An order needs a line.", remedy="Give at least one item.", pointer="#/lines")
    order = None
    for one in lines:
        item_for(one.item_id)
        order = add_line(by=by, site_id=site_id, supplier_id=supplier_id, wanted=one, number=number).order
    if order is None:
        raise AssertionError("lines were checked")
    order.refresh_from_db()
    return order


def add_line(
    *, by: Caller | None, site_id: uuid.UUID, supplier_id: uuid.UUID, wanted: LineWanted, number: str = ""
) -> OrderLine:
    """Add to the site's unsent order at the supplier, which is made where there is none; an item's line grows.

    Without a caller it is approved automatically. Raises `OverApprovalLimit`, before anything is written.
    """
    hold_to_limit(
        by=by, site_id=site_id, supplier_id=supplier_id, item_id=wanted.item_id, quantity=wanted.quantity,
        price=wanted.price, currency=wanted.currency,
    )  # fmt: skip
    order = _unsent(by, site_id, supplier_id, number)
    line = OrderLine.objects.select_for_update(no_key=True).filter(order=order, item_id=wanted.item_id).first()
    if line is None:
        line = OrderLine.objects.create(
            order=order,
            line=OrderLine.objects.filter(order=order).count() + 1,
            item_id=wanted.item_id,
            quantity=wanted.quantity,
            expected_on=wanted.expected_on,
            price=wanted.price,
            currency=wanted.currency,
        )
    else:
        OrderLine.objects.filter(pk=line.pk).update(
            quantity=F("quantity") + wanted.quantity,
            expected_on=min(line.expected_on, wanted.expected_on),
            price=wanted.price,
            currency=wanted.currency,
        )
        line.refresh_from_db()
    touch_order(order)
    tell_order("order.line-added", order, by, item=wanted.item_id, quantity=wanted.quantity)
    return line


def _unsent(by: Caller | None, site_id: uuid.UUID, supplier_id: uuid.UUID, number: str) -> Order:
    unsent = Order.objects.select_for_update(no_key=True).filter(
        site_id=site_id, supplier_id=supplier_id, state=State.APPROVED
    )
    found = unsent.first()
    if found is not None:
        return found
    made = Order(
        number=number or _next_number(), site_id=site_id, supplier_id=supplier_id, approved_by_id=by.id if by else None
    )
    Order.objects.bulk_create([made], ignore_conflicts=True)
    order = unsent.first()
    if order is None:
        raise InvalidValue(
            f"The number {number} is taken by another order.", remedy="Choose another.", pointer="#/number"
        )
    if order.pk == made.pk:
        tell_order("order.approved", order, by)
    return order


def _next_number() -> str:
    with connection.cursor() as cursor:
        cursor.execute("SELECT nextval('kits_order_number')")
        return f"O-{timezone.now():%Y}-{cursor.fetchone()[0]:05d}"


@transaction.atomic(savepoint=False)
def send_order(*, by: Caller, order_id: uuid.UUID, expected_version: int, erp_number: str = "") -> Order:
    """The order was handed to the supplier or acknowledged by the ERP. Raises `WrongOrderState`, `VersionChanged`."""
    order = lock_order(by, order_id, expected_version, *SENDERS)
    if order.state != State.APPROVED:
        raise wrong_order_state(order, "sent", "approved")
    names = order.external_ids | ({"erp": erp_number} if erp_number else {})
    Order.objects.filter(pk=order.pk).update(state=State.SENT, sent_at=timezone.now(), external_ids=names)
    return _told("order.sent", order, by)


@transaction.atomic(savepoint=False)
def receive_order(
    *,
    by: Caller,
    order_id: uuid.UUID,
    expected_version: int,
    arrived: Sequence[Arrived],
    occurred_at: datetime.datetime | None = None,
) -> Order:
    """Record what came: whole, in part, or more than was ordered. Stock rises in the same transaction.

    Raises `WrongOrderState`, `VersionChanged`, `InvalidValue` for a line that is not on the order, `CureDateMissing`.
    """
    order = lock_order(by, order_id, expected_version, *RECEIVERS)
    if order.state not in RECEIVABLE:
        raise wrong_order_state(order, "received", "approved, sent or part received")
    when = occurred_at or timezone.now()
    lines = {one.line: one for one in OrderLine.objects.select_for_update(no_key=True).filter(order=order)}
    refuse_unreceivable(arrived, lines, remedy="Name lines of the order with what came of each.")
    lots = ensure_lots(
        [LotWanted(lines[one.line].item_id, one.lot, when.date(), one.cure_date) for one in arrived], by=by
    )
    entries = []
    for one in arrived:
        line = lines[one.line]
        line.received += one.quantity
        entries.append(
            Entry(
                kind="receipt",
                site_id=order.site_id,
                item_id=line.item_id,
                lot_id=lots[line.item_id, one.lot].pk,
                quantity=one.quantity,
                occurred_at=when,
                order_line_id=line.pk,
                reason=f"order {order.number}",
            )
        )
    OrderLine.objects.bulk_update(lines.values(), ["received"])
    post_movements(by=by, entries=entries)
    _set_received_state(order)
    return _told("order.received", order, by, lines=[{"line": one.line, "quantity": one.quantity} for one in arrived])


def _set_received_state(order: Order) -> None:
    still_open = OrderLine.objects.filter(order=order, received__lt=F("quantity")).exists()
    some = OrderLine.objects.filter(order=order, received__gt=0).exists()
    before = State.SENT if order.sent_at else State.APPROVED
    state = before if not some else State.PART_RECEIVED if still_open else State.RECEIVED
    Order.objects.filter(pk=order.pk).update(state=state)
    touch_order(order)


def take_off_receipt(*, by: Caller, line_id: uuid.UUID, quantity: Decimal) -> None:
    """A receipt is being reversed: the line waits for that quantity again."""
    order = Order.objects.select_for_update(no_key=True).get(lines__pk=line_id)
    OrderLine.objects.filter(pk=line_id).update(received=F("received") - quantity)
    if order.state not in {State.CLOSED_SHORT, State.CANCELLED}:
        _set_received_state(order)
    _told("order.receipt-reversed", order, by)


@transaction.atomic(savepoint=False)
def close_short(*, by: Caller, order_id: uuid.UUID, expected_version: int, reason: str) -> Order:
    """The rest will not come. Raises `WrongOrderState`, `VersionChanged`."""
    order = lock_order(by, order_id, expected_version, *BUYERS)
    if order.state not in {State.SENT, State.PART_RECEIVED}:
        raise wrong_order_state(order, "closed short", "sent or part received")
    Order.objects.filter(pk=order.pk).update(state=State.CLOSED_SHORT)
    return _told("order.closed-short", order, by, reason=reason)


@transaction.atomic(savepoint=False)
def cancel_order(*, by: Caller, order_id: uuid.UUID, expected_version: int, reason: str) -> Order:
    """Nothing will come at all. Raises `WrongOrderState` once something arrived, `VersionChanged`."""
    order = lock_order(by, order_id, expected_version, *BUYERS)
    if order.state not in {State.APPROVED, State.SENT}:
        raise wrong_order_state(order, "cancelled", "approved or sent")
    Order.objects.filter(pk=order.pk).update(state=State.CANCELLED)
    return _told("order.cancelled", order, by, reason=reason)


def lock_order(by: Caller, order_id: uuid.UUID, expected_version: int, *roles: str) -> Order:
    """The order as it was seen, locked. Raises `NotThere`, `NotAllowed`, `VersionChanged`."""
    order_for(by, order_id, *roles)
    order = Order.objects.select_for_update(no_key=True).get(pk=order_id)
    if order.version != expected_version:
        raise version_changed("The order", order.version)
    return order


def touch_order(order: Order) -> None:
    """Lines are part of what is seen of an order: its version rises with them."""
    Order.objects.filter(pk=order.pk).update(updated_at=timezone.now())


def wrong_order_state(order: Order, what: str, needed: str) -> WrongOrderState:
    """The refusal where an order is not in a state in which something can be done."""
    return WrongOrderState(
        f"Order {order.number} is {order.state.replace('-', ' ')}; to be {what} it must be {needed}.",
        remedy="Read the order again and see what is possible.",
        state=order.state,
    )


def _told(kind: str, order: Order, by: Caller, **facts: Any) -> Order:
    order.refresh_from_db()
    tell_order(kind, order, by, **facts)
    return order


def tell_order(kind: str, order: Order, by: Caller | None, **facts: Any) -> None:
    """Record what became of an order."""
    record_changes([told_of_order(kind, order, **facts)], by=by)


def told_of_order(kind: str, order: Order, **facts: Any) -> Recorded:
    """What is recorded where something became of an order."""
    body = {"number": order.number, "state": order.state, "supplier": order.supplier_id, **facts}
    return Recorded(kind, "order", order.pk, order.version, order.site_id, body)
