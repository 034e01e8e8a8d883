"""From a site's plan to what its proposals would say: bought or borrowed, and ordered together with others."""

import datetime
import math
import uuid
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import numpy as np

from assets.calculations.written_numbers import plain
from kits.calculations.expected_receipts import left_out_words
from kits.calculations.proposal_stability import Asked
from kits.calculations.replenishment_words import warnings_of, words_of
from kits.calculations.replenishment_working import ReplenishmentPlan, plan_of, working_of
from kits.calculations.site_consolidation import Conditions, OrderedTogether, near_enough, order_together
from kits.calculations.site_plan import SitePlan
from kits.calculations.sourcing import Sourcing, choose_source
from kits.queries.lenders import offers_of_others
from kits.queries.order_conditions import OrderConditions, order_conditions, unsent_suppliers
from kits.queries.replenishment import TermsShown, terms_shown
from kits.queries.site_stock import SiteStock


@dataclass(frozen=True)
class Wanted:
    """What a proposal for an item would say; ``late`` tells of receipts that are no longer counted on."""

    plan: ReplenishmentPlan
    source: Sourcing
    quantity: int
    terms: TermsShown
    supplier_id: uuid.UUID
    lead_time_days: float
    together: OrderedTogether | None
    late: str

    @property
    def asked(self) -> Asked:
        """What counts when an open proposal is compared with it."""
        lender = self.source.lender.site_id if self.source.lender else None
        return Asked(
            Decimal(self.quantity),
            self.plan.need_by,
            lender,
            self.plan.firm_shortage,
            self.supplier_id,
            (self.terms.price, self.terms.currency),
        )

    @property
    def warnings(self) -> list[dict[str, str]]:
        """What to look at before approving: then nothing approves it by itself."""
        found = warnings_of(self.plan, self.source)
        if self.late:
            found.append({"code": "late-receipts-left-out", "words": self.late})
        return found + [dict(one) for one in (self.together.warnings if self.together else ())]

    @property
    def words(self) -> list[str]:
        """The working as sentences."""
        found = words_of(self.plan, self.source, self.quantity)
        if self.terms.received:
            found.insert(
                3,
                f"The terms say {plain(self.terms.agreed_days)} days; {self.terms.received} "
                f"{'receipt was' if self.terms.received == 1 else 'receipts were'} heard as well.",
            )
        return found + ([self.late] if self.late else []) + list(self.together.words if self.together else ())

    @property
    def working(self) -> dict[str, Any]:
        """Every figure that went in."""
        found = working_of(self.plan, self.quantity)
        found["lead_time"] |= {
            "agreed_days": plain(self.terms.agreed_days),
            "receipts": self.terms.received,
            "from": self.terms.source,
        }
        lender = self.source.lender
        found["source"] = {
            "kind": self.source.kind,
            "words": self.source.words,
            "quantity": self.quantity,
            "sites": [str(one) for one in self.source.sites],
        }
        if lender is not None:
            found["source"] |= {
                "lender": lender.code,
                "days": lender.days,
                "free_there": plain(lender.free),
                "reorder_point_there": lender.level,
            }
        if self.together is not None:
            found["consolidation"] = self.together.shown()
        return found | {"warnings": self.warnings}


def wanted_of_site(
    site_id: uuid.UUID, stock: SiteStock, plan: SitePlan, day: datetime.date, *, held: Collection[uuid.UUID]
) -> dict[uuid.UUID, Wanted]:
    """What to propose of each item, by item: those at their reorder point, and those that join an order or lift it to
    its minimum; an order that is not sent yet goes out anyway. What was rejected (``held``) neither joins nor makes
    others join, unless jobs go short. At most seven statements."""
    places = [int(one) for one in np.flatnonzero(plan.quantity)]
    offers = offers_of_others(site_id, [stock.items[one] for one in places], day)
    plans, sources = {}, {}
    for place in places:
        plans[place] = plan_of(plan, place, as_of=day)
        sources[place] = choose_source(
            lacking=plans[place].lacking,
            gap=plans[place].gap,
            offers=offers.get(stock.items[place], []),
            lead_time_days=float(stock.figures.lead_time_days[place]),
        )
    kept_back = {
        place for place, item in enumerate(stock.items) if item in held and not bool(plan.firm_shortage[place])
    }
    borrowed = {place for place in places if sources[place].lender is not None}
    bought = [place for place in places if place not in borrowed and place not in kept_back]
    ordering = {stock.supplier(one) for one in bought} | unsent_suppliers(site_id)
    conditions = order_conditions(site_id, ordering, as_of=day)
    others = _could_join(stock, plan, conditions, set(places) | kept_back)
    terms = terms_shown([*places, *others])
    together = _together(stock, plan, [*bought, *others], terms, conditions)
    found = {}
    for place in [*places, *(one for one in others if one in together)]:
        item = stock.items[place]
        made = plans.get(place) or plan_of(plan, place, as_of=day)
        source = sources.get(place, Sourcing("buy", ""))
        if source.lender is not None:
            quantity = max(made.gap, math.ceil(made.lacking))
        else:
            quantity = together[place].quantity if place in together else made.quantity
        found[item] = Wanted(
            made,
            source,
            quantity,
            terms[place],
            stock.supplier(place),
            float(stock.figures.lead_time_days[place]),
            together.get(place),
            left_out_words(stock.receipts.get(item, ()), stock.lost.get(item, ())),
        )
    return found


def _could_join(
    stock: SiteStock, plan: SitePlan, conditions: Mapping[uuid.UUID, OrderConditions], taken: Collection[int]
) -> list[int]:
    """Other items of suppliers that are ordered from: those near their reorder point, and all where the supplier has a
    minimum order value."""
    cycles, all_join = np.zeros(len(stock.items)), np.zeros(len(stock.items), bool)
    for supplier, one in conditions.items():
        of_supplier = stock.bought_from(supplier)
        cycles[of_supplier] = one.cycle_days
        all_join |= of_supplier & (one.minimum_order_value > 0)
    joins = (cycles > 0) & (near_enough(plan, cycles) | (all_join & (plan.demand_mean > 0)))
    return [int(one) for one in np.flatnonzero(joins) if int(one) not in taken]


def _together(
    stock: SiteStock,
    plan: SitePlan,
    places: list[int],
    terms: Mapping[int, TermsShown],
    conditions: Mapping[uuid.UUID, OrderConditions],
) -> dict[int, OrderedTogether]:
    groups: dict[tuple[uuid.UUID, str], list[int]] = {}
    for place in places:
        if terms[place].price > 0:
            groups.setdefault((stock.supplier(place), terms[place].currency), []).append(place)
    found: dict[Any, OrderedTogether] = {}
    for (supplier, currency), members in groups.items():
        known = conditions[supplier]
        found |= order_together(
            plan,
            members,
            price=lambda place: terms[place].price,
            conditions=Conditions(
                known.name, known.minimum_in(currency), known.cycle_days, known.unsent.get(currency, Decimal(0))
            ),
            currency=currency,
        )
    return found
