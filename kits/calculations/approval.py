"""Who may approve an order of which worth, and what is better looked at by a person.

A limit is on the worth of the order, not of the line, so that nobody passes it line by line; orders at the same
supplier within the limit's window add up, so that nobody passes it order by order (common practice, no source).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

AUTOMATIC = "automatic"


@dataclass(frozen=True)
class Limit:
    """The most an order may be worth for a role in a currency, together with those of the last ``window_days``."""

    role: str
    currency: str
    amount: Decimal
    window_days: int = 0


@dataclass(frozen=True)
class EarlierOrder:
    """Another order of the site at the supplier that was not cancelled: how many days ago, and its worth."""

    days_ago: int
    value: Decimal


@dataclass(frozen=True)
class Approval:
    """Whether an order may be approved by a role. ``amount`` is None where nothing limits it; ``total`` is what counts
    against it."""

    role: str
    allowed: bool
    amount: Decimal | None
    total: Decimal


def judge(
    limits: Iterable[Limit], role: str, currency: str, *, value: Decimal, earlier: Sequence[EarlierOrder] = ()
) -> Approval:
    """Whether a role may approve an order worth ``value`` in all.

    Without any limit a role may approve everything, and nothing is approved automatically. A role that has limits, but
    none in the currency, may approve nothing in it: amounts are not converted.
    """
    own = [one for one in limits if one.role == role]
    if not own:
        return Approval(role, role != AUTOMATIC, None if role != AUTOMATIC else Decimal(0), value)
    kept = next((one for one in own if one.currency == currency), None)
    if kept is None:
        return Approval(role, False, Decimal(0), value)
    total = value + sum((one.value for one in earlier if one.days_ago < kept.window_days), Decimal(0))
    return Approval(role, total <= kept.amount, kept.amount, total)


def needs_a_person(working: Mapping[str, Any]) -> list[str]:
    """Why a proposal is not approved automatically, from its working; empty where nothing warns."""
    found = [str(one.get("code", "warning")) if isinstance(one, Mapping) else str(one) for one in _warnings(working)]
    sizing = working.get("order_quantity") or {}
    if sizing.get("minimum_exceeds_cap") and "minimum-exceeds-shelf-life" not in found:
        found.append("minimum-exceeds-shelf-life")
    if (working.get("source") or {}).get("alternative"):
        found.append("could-be-borrowed")
    return found


def _warnings(working: Mapping[str, Any]) -> Sequence[Any]:
    kept = working.get("warnings") or []
    return kept if isinstance(kept, (list, tuple)) else [kept]
