"""Reading what is past its day at suppliers, and how they were chased."""

import datetime
import uuid
from collections.abc import Iterable, Sequence
from typing import Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.db.models.functions import Coalesce

from assets.access import narrow
from kits.calculations.expected_receipts import LIMIT_DAYS, ExpectedReceipt, OpenLine, expected_receipts
from kits.models import OrderChase, OrderLine
from kits.queries.availability import COMING
from kits.queries.lead_times import usual_lateness
from kits.queries.orders import order_for
from services.api.rows import plain_rows
from services.identity.callers import Caller


def with_due_day(lines: QuerySet[OrderLine]) -> Any:
    """Lines with ``due_on``: what the supplier promised last, else the day expected."""
    return lines.annotate(due_on=Coalesce("promised_on", "expected_on"))


def late_lines(*, by: Caller, on: datetime.date) -> Any:
    """Lines of orders at granted sites that should have come before a day and did not, or not in whole; ``chased`` says
    whether anybody asked the supplier for them."""
    asked = OrderChase.objects.filter(Q(line=None) | Q(line=OuterRef("pk")), order=OuterRef("order_id"))
    lines = OrderLine.objects.filter(order__state__in=COMING, received__lt=F("quantity"))
    return (
        with_due_day(narrow(lines, by, path="order__site_id"))
        .filter(due_on__lt=on)
        .annotate(chased=Exists(asked), rest=F("quantity") - F("received"))
    )


def receipts_at(
    site_ids: Iterable[uuid.UUID], item_ids: Iterable[uuid.UUID] | None, *, as_of: datetime.date
) -> dict[tuple[uuid.UUID, uuid.UUID], list[ExpectedReceipt]]:
    """What is on order, by site and item (some, or all), the first due first: when each line is counted on, or that it
    is not. Two queries, one where nothing is late; not narrowed, callers have passed the gate."""
    open_lines = OrderLine.objects.filter(
        order__site_id__in=list(site_ids), order__state__in=COMING, received__lt=F("quantity")
    )
    if item_ids is not None:
        open_lines = open_lines.filter(item_id__in=list(item_ids))
    rows = list(
        with_due_day(open_lines)
        .order_by("due_on", "id")
        .values_list(
            "order__site_id", "item_id", "order__number", "order__supplier_id", "due_on", F("quantity") - F("received")
        )
    )
    found: dict[tuple[uuid.UUID, uuid.UUID], list[ExpectedReceipt]] = {}
    for (site, item, *_), one in zip(rows, counted_on([OpenLine(*row[2:]) for row in rows], as_of), strict=True):
        found.setdefault((site, item), []).append(one)
    return found


def receipts_to_come(
    site_id: uuid.UUID, item_ids: Iterable[uuid.UUID] | None, *, as_of: datetime.date
) -> dict[uuid.UUID, list[ExpectedReceipt]]:
    """`receipts_at` of one site, by item. Two queries, one where nothing is late."""
    return {item: receipts for (_, item), receipts in receipts_at([site_id], item_ids, as_of=as_of).items()}


def counted_on(lines: Sequence[OpenLine], on: datetime.date) -> list[ExpectedReceipt]:
    """When each line is counted on, by its supplier's usual lateness. One query where something is late."""
    late = {one.supplier for one in lines if one.due_on < on}
    return expected_receipts(lines, usual_lateness(late), on)


def add_expectations(rows: Iterable[dict[str, Any]], on: datetime.date) -> None:
    """Add to late lines when they are counted on, and how their supplier was chased last. Two queries."""
    late = list(rows)
    lines = [OpenLine(one["order_number"], one["supplier"], one["due_on"], one["rest"]) for one in late]
    chased = last_chases([one["order"] for one in late])
    for row, found in zip(late, counted_on(lines, on), strict=True):
        row["days_late"], row["counted_on"] = found.days_late, found.counted_on
        row["last_chase"] = chased.get((row["order"], row["line"])) or chased.get((row["order"], None))
        row["words"] = _words(row)


def _words(row: dict[str, Any]) -> str:
    days = row["days_late"]
    text = (
        f"{row['rest'].normalize():f} of {row['number']} on order {row['order_number']} "
        f"{'are' if row['rest'] != 1 else 'is'} {days} {'day' if days == 1 else 'days'} late"
    )
    if row["counted_on"] is not None:
        return f"{text}; counted on for {row['counted_on']} as {row['supplier_code']} usually is late."
    if days > LIMIT_DAYS:
        return f"{text}: not counted on any more, since that is more than {LIMIT_DAYS} days."
    return f"{text}: not counted on, since nothing tells how late {row['supplier_code']} usually is."


def last_chases(order_ids: Iterable[uuid.UUID]) -> dict[tuple[uuid.UUID, int | None], dict[str, Any]]:
    """The last time each line was chased, and each order as a whole under no line. One query."""
    rows = (
        OrderChase.objects.filter(order_id__in=list(order_ids))
        .order_by("order_id", "line_id", "-chased_at", "-id")
        .distinct("order_id", "line_id")
        .values("order_id", "chased_at", "said", "promised_on", by_name=F("by__name"), of_line=F("line__line"))
    )
    return {(one.pop("order_id"), one.pop("of_line")): one for one in plain_rows(rows)}


def chases(*, by: Caller, order_id: Any) -> QuerySet[OrderChase]:
    """How an order's supplier was chased. Raises `NotThere`."""
    return OrderChase.objects.filter(order_id=order_for(by, order_id).pk)
