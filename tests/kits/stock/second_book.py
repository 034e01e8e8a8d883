"""A second book of a store, kept by a second hand: plain lists, no database, none of the service's own code.

It knows the rules of the ledger: a shelf holds the sum of what happened there; what was counted stays counted, so what
happened before a count and is told after it changes nothing; a correction takes its effect when what it corrects
happened.
"""

import datetime
from collections import Counter, defaultdict
from collections.abc import Hashable
from dataclasses import dataclass, field
from decimal import Decimal

Shelf = Hashable
ZERO = Decimal(0)


@dataclass
class SecondBook:
    """What happened on each shelf, and when each was last counted."""

    happened: dict[Shelf, list[tuple[datetime.datetime, Decimal]]] = field(default_factory=lambda: defaultdict(list))
    counted: dict[Shelf, datetime.datetime] = field(default_factory=dict)

    def on_hand(self, shelf: Shelf) -> Decimal:
        """What lies there."""
        return sum((quantity for _, quantity in self.happened[shelf]), ZERO)

    def lying(self) -> dict[Shelf, Decimal]:
        """Whatever lies anywhere."""
        return {shelf: amount for shelf in list(self.happened) if (amount := self.on_hand(shelf))}

    def up_to(self, shelf: Shelf, moment: datetime.datetime) -> Decimal:
        """What lay there at a moment, as far as it is known now."""
        return sum((quantity for at, quantity in self.happened[shelf] if at <= moment), ZERO)

    def seen(self, shelf: Shelf, at: datetime.datetime) -> bool:
        """Whether whoever counted the shelf saw what happened then."""
        return shelf in self.counted and at <= self.counted[shelf]

    def write(
        self, shelf: Shelf, at: datetime.datetime, quantity: Decimal, *, of_a_count: bool = False
    ) -> "Counter[tuple[Shelf, Decimal]]":
        """Write one movement; what the ledger must answer it with, since a count saw it."""
        self.happened[shelf].append((at, quantity))
        if of_a_count or not self.seen(shelf, at):
            return Counter()
        self.happened[shelf].append((self.counted[shelf], -quantity))
        return Counter({(shelf, -quantity): 1})
