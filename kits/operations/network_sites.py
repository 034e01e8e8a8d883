"""Which sites a plan over many sites is for, and who may ask for one."""

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from assets.access import require_anywhere, require_role, sites_with
from assets.queries.sites import sites
from kits.refusals_network import MixedCurrencies, TooManyToPlan
from services.api.refusals import InvalidValue
from services.identity.callers import Caller

PLANNERS = ("stores", "planner", "admin")
MOST_SITES = 100


@dataclass(frozen=True)
class Money:
    """An amount of a currency."""

    amount: Decimal
    currency: str


@dataclass(frozen=True)
class NetworkSite:
    """A site of a network as it is named to people."""

    id: uuid.UUID
    code: str
    name: str
    is_central_store: bool


def sites_of_network(by: Caller, named: Sequence[uuid.UUID] | None) -> dict[uuid.UUID, NetworkSite]:
    """The sites named, or all where the caller has a role to plan, by code. One query beside the grants.

    Raises `NotThere`, `NotAllowed`, `InvalidValue`, `TooManyToPlan`.
    """
    granted = sites(by=by)
    if named is None:
        require_anywhere(by, *PLANNERS)
        mine = sites_with(by, *PLANNERS)
        rows = granted if mine is None else granted.filter(pk__in=mine)
    else:
        if not named:
            raise InvalidValue("No site is named.", remedy="Name one, or leave it out for all.", pointer="#/sites")
        for one in named:
            require_role(by, one, *PLANNERS, what="The site")
        rows = granted.filter(pk__in=named)
    columns = ("id", "code", "name", "is_central_store")
    found = {row[0]: NetworkSite(*row) for row in rows.order_by("code").values_list(*columns)}
    for place, one in enumerate(named or ()):
        if one not in found:
            raise InvalidValue("There is no such site.", remedy="GET /sites lists them.", pointer=f"#/sites/{place}")
    if len(found) > MOST_SITES:
        raise TooManyToPlan(
            f"{len(found)} sites are more than are planned at once.",
            remedy=f"Name up to {MOST_SITES} sites.",
            pointer="#/sites",
        )
    return found


def one_currency(by_currency: Mapping[str, Iterable[str]], *, pointer: str, remedy: str) -> str:
    """The only currency. ``by_currency`` names what is in each. Raises `MixedCurrencies`."""
    if len(by_currency) == 1:
        return next(iter(by_currency))
    listed = {currency: sorted(set(what)) for currency, what in sorted(by_currency.items())}
    words = "; ".join(f"{currency}: {_few(what)}" for currency, what in listed.items())
    raise MixedCurrencies(
        f"There is more than one currency. {words}.", remedy=remedy, pointer=pointer, currencies=listed
    )


def _few(what: Sequence[str]) -> str:
    more = f" and {len(what) - 5} more" if len(what) > 5 else ""
    return ", ".join(what[:5]) + more
