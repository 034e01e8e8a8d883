"""Keeping approval limits, and holding orders to them."""

import datetime
import uuid
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.db import connection
from django.utils import timezone

from assets.access import has_role, require_operator_wide
from assets.operations.table_rows import Table, add_row, change_row, remove_row
from kits.calculations.approval import AUTOMATIC, Approval, Limit, judge
from kits.models import ApprovalLimit
from kits.queries.approval_limits import earlier_orders, limits, people_with, value_of_unsent
from kits.refusals import OverApprovalLimit
from services.identity.callers import Caller

KEEPERS = ("admin",)
APPROVERS = ("stores", "admin")
LOCK_SPACE = 7306
LIMITS = Table(
    ApprovalLimit,
    "approval-limit",
    "The approval limit",
    lambda one: {
        "role": one.role,
        "currency": one.currency,
        "limit": one.limit,
        "window_days": one.window_days,
    },
)


def add_approval_limit(*, by: Caller, row_id: uuid.UUID | None = None, **figures: Any) -> ApprovalLimit:
    """A limit of a role, or the automatic one. Raises `NotAllowed`, `AlreadyThere`."""
    require_operator_wide(by, *KEEPERS)
    return add_row(LIMITS, by=by, row_id=row_id, **figures)


def change_approval_limit(*, by: Caller, row_id: uuid.UUID, expected_version: int, **figures: Any) -> ApprovalLimit:
    """Another amount or window; what is approved stays so. Raises `NotAllowed`, `NotThere`, `VersionChanged`."""
    require_operator_wide(by, *KEEPERS)
    return change_row(LIMITS, by=by, row_id=row_id, expected_version=expected_version, **figures)


def remove_approval_limit(*, by: Caller, row_id: uuid.UUID, expected_version: int) -> ApprovalLimit:
    """The role is no longer limited in the currency; without the automatic one nothing is approved by itself. Raises
    `NotAllowed`, `NotThere`, `VersionChanged`."""
    require_operator_wide(by, *KEEPERS)
    return remove_row(LIMITS, by=by, row_id=row_id, expected_version=expected_version)


def hold_to_limit(
    *,
    by: Caller | None,
    site_id: uuid.UUID,
    supplier_id: uuid.UUID,
    item_id: uuid.UUID,
    quantity: Decimal,
    price: Decimal,
    currency: str,
    now: datetime.datetime | None = None,
) -> None:
    """Raises `OverApprovalLimit` where the site's unsent order would be worth more than the caller may approve with
    what is added, at its price what stands there of the item already; without a caller the automatic limit holds. Must
    run inside the transaction that adds it: whoever
    adds to an order of the site at the supplier waits for it, so two never fill the same rest of a limit."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s, hashtext(%s))", [LOCK_SPACE, f"{site_id} {supplier_id}"])
    known = limits()
    if not known and by is not None:
        return
    value = value_of_unsent(site_id, supplier_id, currency, repriced=item_id, price=price) + quantity * price
    earlier = earlier_orders(
        site_id,
        supplier_id,
        currency,
        now=now or timezone.now(),
        days=max((one.window_days for one in known), default=0),
    )
    roles = [AUTOMATIC] if by is None else [one for one in APPROVERS if has_role(by, site_id, one)]
    found = [judge(known, one, currency, value=value, earlier=earlier) for one in roles]
    if not any(one.allowed for one in found):
        best = max(found, key=lambda one: one.amount or Decimal(0))
        others = [judge(known, one, currency, value=value, earlier=earlier) for one in APPROVERS]
        raise _over(best, currency, site_id, [one.role for one in others if one.allowed], known)


def _over(
    best: Approval, currency: str, site_id: uuid.UUID, roles: Sequence[str], known: Sequence[Limit]
) -> OverApprovalLimit:
    who = people_with(site_id, roles) if roles else []
    counted = " with what was ordered there lately" if _has_window(known, best.role) else ""
    most = best.amount or Decimal(0)
    return OverApprovalLimit(
        f"The order would be worth {best.total:.2f} {currency}{counted}; {best.role} may approve up to {most:.2f}.",
        remedy=f"Ask {', '.join(who)} to approve it, or order less."
        if who
        else "Order less, or ask an administrator of the whole operator to raise the limit.",
        order_value=f"{best.total:.2f}",
        limit=f"{most:.2f}",
        currency=currency,
        may_approve=list(who),
    )


def _has_window(known: Sequence[Limit], role: str) -> bool:
    return any(one.role == role and one.window_days for one in known)
