"""When an open proposal is changed: people who act on it must not find another one every morning.

Common practice, no source: the share, the days and the freeze. That freezing damps changes best where a rolling horizon
is their cause: Blackburn, Kropp, Millen 1986, Management Science 32:413-429 (value from memory).
"""

import datetime
from dataclasses import dataclass
from decimal import Decimal

FREEZE = datetime.timedelta(days=3)
LEAST_CHANGE = Decimal(1)
LEAST_SHARE = Decimal("0.2")
LEAST_DAYS = 7
JOBS_GO_SHORT = "jobs go short"


@dataclass(frozen=True)
class Asked:
    """What a proposal asks for: how many, by which day, from where (lender None: the supplier), and whether jobs go
    short. ``price`` is amount and currency of a piece; it counts where it is bought."""

    quantity: Decimal
    need_by: datetime.date
    lender: object = None
    firm_shortage: bool = False
    supplier: object = None
    price: tuple[Decimal, str] | None = None


def why_changed(old: Asked, new: Asked, *, frozen_until: datetime.date | None, today: datetime.date) -> str:
    """Why the new one takes the old one's place, empty where the old one stands.

    1. Jobs go short that did not before, or what was proposed no longer covers them. 2. Inside the freeze nothing else
    counts. 3. Another source, or another price there. 4. By one piece and a fifth of the quantity at least. 5. By a
    week at least.
    """
    if new.firm_shortage and (not old.firm_shortage or new.quantity > old.quantity):
        return JOBS_GO_SHORT
    if frozen_until is not None and today < frozen_until:
        return ""
    if old.lender != new.lender or (new.lender is None and old.supplier != new.supplier):
        return "another source"
    if new.lender is None and old.price != new.price:
        return "another price"
    if abs(new.quantity - old.quantity) >= max(LEAST_CHANGE, LEAST_SHARE * old.quantity):
        return "another quantity"
    if abs((new.need_by - old.need_by).days) >= LEAST_DAYS:
        return "another day"
    return ""
