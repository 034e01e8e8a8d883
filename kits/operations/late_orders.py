"""Chasing suppliers for what is late, and telling others of it."""

import datetime
import uuid

from django.db import connection, transaction
from django.db.models import F
from django.utils import timezone

from assets.operations.site_runs import ask_every_site
from kits.calculations.expected_receipts import OpenLine, threshold
from kits.models import Order, OrderChase, OrderLine
from kits.operations.orders import SENDERS, lock_order, tell_order, told_of_order, touch_order, wrong_order_state
from kits.queries.availability import COMING
from kits.queries.late_orders import counted_on, with_due_day
from services.api.many_rows import update_many
from services.api.refusals import InvalidValue
from services.changes.recording import record_changes
from services.identity.callers import Caller

TASK = "kits.tasks.run_late_order_review"
NIGHT_BEGINS = datetime.time(1, 0)
LOCK_SPACE = 7305
State = Order.State


@transaction.atomic(savepoint=False)
def record_chase(
    *,
    by: Caller,
    order_id: uuid.UUID,
    expected_version: int,
    said: str,
    line: int | None = None,
    promised_on: datetime.date | None = None,
    chased_at: datetime.datetime | None = None,
) -> OrderChase:
    """Somebody asked the supplier; what it said, and the new day it promised for one line or for all that is open.

    Raises `WrongOrderState` unless the order is sent and something is still to come, `VersionChanged`, `InvalidValue`.
    """
    order = lock_order(by, order_id, expected_version, *SENDERS)
    if order.state not in {State.SENT, State.PART_RECEIVED}:
        raise wrong_order_state(order, "chased", "sent or part received")
    now = timezone.now()
    if chased_at is not None and chased_at > now:
        raise InvalidValue("That lies in the future.", remedy="Give when it was asked.", pointer="#/chased_at")
    if promised_on is not None and promised_on < now.date():
        raise InvalidValue("A promised day has not passed.", remedy="Give today or later.", pointer="#/promised_on")
    still_open = {
        one.line: one
        for one in OrderLine.objects.select_for_update(no_key=True)
        .filter(order=order, received__lt=F("quantity"))
        .order_by("line")
    }
    if line is not None and line not in still_open:
        named = ", ".join(map(str, still_open)) or "none"
        raise InvalidValue(
            f"Line {line} is not on the order, or all of it came.",
            remedy=f"Lines still open: {named}. Leave it out to chase the whole order.",
            pointer="#/line",
        )
    asked = [still_open[line]] if line is not None else list(still_open.values())
    made = OrderChase.objects.create(
        order=order, line=asked[0] if line is not None else None, by_id=by.id, chased_at=chased_at or now, said=said,
        promised_on=promised_on,
    )  # fmt: skip
    if promised_on is not None:
        OrderLine.objects.filter(pk__in=[one.pk for one in asked]).update(promised_on=promised_on, told_late=0)
    touch_order(order)
    order.refresh_from_db()
    tell_order("order.chased", order, by, lines=[one.line for one in asked], said=said, promised_on=promised_on)
    return made


def ask_nightly_review(*, now: datetime.datetime | None = None) -> list[uuid.UUID]:
    """Ask for one run a site and day, once it is past one in the morning there; which runs are new."""
    return ask_every_site(TASK, word="late orders", begins=NIGHT_BEGINS, now=now)


@transaction.atomic(savepoint=False)
def tell_late_orders(*, by: Caller | None, site_id: uuid.UUID, today: datetime.date | None = None) -> dict[str, int]:
    """Record ``order.late`` for each line of a site that reached another mark of days late; how many lines are late and
    of how many was told. Once a mark and promised day: a second run tells nothing. Two runs of one site wait."""
    day = today or timezone.now().date()
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s, hashtext(%s))", [LOCK_SPACE, str(site_id)])
    found = list(
        with_due_day(
            OrderLine.objects.filter(order__site_id=site_id, order__state__in=COMING, received__lt=F("quantity"))
        )
        .filter(due_on__lt=day)
        .select_related("order")
        .select_for_update(no_key=True, of=("self",))
        .order_by("id")
    )
    lines = [
        OpenLine(
            one.order.number, one.order.supplier_id, one.promised_on or one.expected_on, one.quantity - one.received
        )
        for one in found
    ]
    told, changes = [], []
    for one, expected in zip(found, counted_on(lines, day), strict=True):
        mark = threshold(expected.days_late)
        if mark <= one.told_late:
            continue
        one.told_late = mark
        told.append(one)
        changes.append(
            told_of_order(
                "order.late",
                one.order,
                line=one.line,
                item=one.item_id,
                quantity=expected.line.quantity,
                due_on=expected.line.due_on,
                days_late=expected.days_late,
                counted_on=expected.counted_on,
            )
        )
    update_many(told, ["told_late"])
    record_changes(changes, by=by)
    return {"late": len(found), "told": len(told)}
