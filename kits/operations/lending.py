"""What speaks against lending: said to who approves it, and kept with the reason why it was done all the same."""

import datetime
import uuid
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from assets.calculations.written_numbers import plain
from kits.calculations.demand_history import HISTORY
from kits.calculations.lending import lend
from kits.calculations.replenishment_working import plan_replenishment
from kits.calculations.stock_projection import serve
from kits.queries.replenishment import levels_kept
from kits.queries.replenishment_pictures import inputs_of, stock_pictures, targets
from kits.queries.stock_picture import shelves_of


def lending_warnings(
    site_id: uuid.UUID, wanted: Mapping[uuid.UUID, Decimal], *, today: datetime.date, lasting: datetime.date
) -> list[dict[str, Any]]:
    """Against lending so many of each item today: too few free that are in date on ``lasting``, the lender's own jobs
    going short, its position falling below its reorder point. The reorder point is the one
    that replenishment keeps, or what the item's own history gives where it keeps none. That a lender keeps it is common
    practice, no source."""
    found = []
    shelves = shelves_of(site_id, wanted, today)
    for item_id, quantity in wanted.items():
        shelf = shelves[item_id]
        gone = lend(shelf.stock, quantity, leaving=today, lasting=lasting)
        if gone.quantity < quantity:
            words = f"Only {plain(gone.quantity)} of {plain(quantity)} are free now and in date on {lasting}."
            found.append(_warning("too-few-free", item_id, words))
        rest = shelf.supplies[len(shelf.stock) :]
        before = serve(shelf.supplies, shelf.needs).shortage
        worse = serve([*gone.left, *rest], shelf.needs).shortage - before
        if worse > 0:
            found.append(_warning("own-jobs-short", item_id, f"The lender's own jobs would be {plain(worse)} short."))
    rates, kept = targets(), levels_kept([site_id], wanted)
    for picture in stock_pictures(site_id, as_of=today, since=today - HISTORY, only=wanted):
        if picture.criticality not in rates:
            continue
        plan = plan_replenishment(inputs_of(picture, today, rates[picture.criticality]))
        after = plan.position.total - wanted[picture.item_id]
        level = kept.get((site_id, picture.item_id), plan.point.level)
        if after < level:
            words = (
                f"The lender's position of {picture.number} would be {plain(after)}, below its reorder point {level}."
            )
            found.append(_warning("below-reorder-point", picture.item_id, words))
    return found


def _warning(code: str, item_id: uuid.UUID, words: str) -> dict[str, Any]:
    return {"code": code, "item": str(item_id), "words": words}
