"""What is asked of a plan over a central store and its sites."""

import uuid
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TypeVar

from kits.calculations.multi_echelon import Model
from kits.operations.network_sites import Money
from kits.queries.replenishment_pictures import Named
from kits.queries.transfers import Place
from services.api.refusals import FieldProblem, InvalidValue

Of = TypeVar("Of", bound=Hashable)
Figure = TypeVar("Figure")


@dataclass(frozen=True)
class Way:
    """Days until a site has what it asks for: from the central store, or from a supplier of its own."""

    days: Decimal
    from_supplier: bool = False


@dataclass(frozen=True)
class Supplied:
    """What is known better of an item than its terms say."""

    lead_time_days: Decimal | None = None
    price: Decimal | None = None
    currency: str | None = None


@dataclass(frozen=True)
class TargetAsked:
    """What is asked. ``demands`` are units a month; a figure given here takes the place of the one that is known."""

    sites: Sequence[uuid.UUID] | None = None
    central_store: uuid.UUID | None = None
    items: Sequence[uuid.UUID] | None = None
    budget: Money | None = None
    availability: Decimal | None = None
    pumps: int | None = None
    model: Model = "vari-metric"
    demands: Mapping[Place, Decimal] = field(default_factory=dict)
    ways: Mapping[uuid.UUID, Way] = field(default_factory=dict)
    supplies: Mapping[uuid.UUID, Supplied] = field(default_factory=dict)


@dataclass(frozen=True)
class Bought:
    """An item with what it costs and how long a new one takes."""

    id: uuid.UUID
    named: Named
    price: Decimal
    currency: str
    lead_time_days: Decimal


def told_once(field: str, told: Iterable[tuple[Of, Figure]]) -> dict[Of, Figure]:
    """Figures by what they are of, in the order given, so that places in it are those of ``field``. Raises
    `InvalidValue` where a second figure of the same would take the place of the first."""
    found: dict[Of, Figure] = {}
    twice = []
    for place, (key, figure) in enumerate(told):
        if key in found:
            twice.append(f"#/{field}/{place}")
        found[key] = figure
    if twice:
        detail = "A figure of the same is given above."
        raise InvalidValue(
            detail,
            remedy="Give one of the two.",
            problems=[FieldProblem(one, "twice", detail) for one in twice],
        )
    return found
