"""What a site should order of each of its items, all at once: forecast, lead-time demand, order quantity, reorder
point, position.

Quantities of stock are whole thousandths, so that a position is exact; demand and its moments are estimates.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kits.calculations.demand_arrays import THOUSANDTHS, Floats, Ints
from kits.calculations.expiry_waste import shelf_life_caps
from kits.calculations.forecast_arrays import METHOD_NAMES, Forecasts, forecast_all
from kits.calculations.forecast_blend import blend_arrays
from kits.calculations.job_size_arrays import Jobs
from kits.calculations.order_arrays import OrderQuantities, order_quantities, rounded_up
from kits.calculations.reorder_arrays import Banded, banded_levels
from kits.calculations.reorder_point import DAYS_OF_MONTH

# A year's cost of keeping something, as a share of its price (common practice, no source).
HOLDING_RATE = 0.20
REVIEW_DAYS = 1
NEVER_KEPT = -2
# A level holds within a point of service either way (common practice, no source).
BAND = 0.01
LONGEST_DAYS = 3650
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Installed:
    """What installed pumps are expected to need, arrays of (items,): mean and variance of what is not planned over lead
    time and review period, the weight that history has beside it (1 where no pump is registered), walk-in demand of a
    month."""

    mean: Floats
    variance: Floats
    weight_of_history: Floats
    walk_in_mean: Floats
    walk_in_variance: Floats


@dataclass(frozen=True)
class SiteFigures:
    """Items of one site as of a day, arrays of (items,).

    ``demand`` is (months, items): whole months, oldest first, of what was not foreseen; ``planned`` the same of what
    was; before its place in ``first`` an item was not kept. ``fill_rate`` is the share aimed at: of needs, or with
    ``by_cycle`` of the times from order to shelf that pass without a shortage. ``keeps_years`` is the storage life,
    infinite where nothing ages. Then the position's figures in thousandths, and the levels kept so far (`NEVER_KEPT`
    where none is). ``group`` parts kits, taken one by one, from parts, which go by the handful: 0 and 1. ``jobs`` tells
    how many pieces were taken at once.
    """

    demand: Floats
    planned: Floats
    first: Ints
    lead_time_days: Floats
    lead_time_sd_days: Floats
    minimum: Ints
    multiple: Ints
    price: Floats
    order_cost: Floats
    fill_rate: Floats
    by_cycle: Flags
    keeps_years: Floats
    usable: Ints
    dying: Ints
    on_order: Ints
    held_for_jobs: Ints
    claimed: Ints
    kept_level: Ints
    installed: Installed
    group: Ints
    jobs: Jobs

    @property
    def horizon_days(self) -> Ints:
        """Whole days of lead time and review period."""
        return horizon_days(self.lead_time_days)

    @cached_property
    def position(self) -> Ints:
        """Usable and not dying, plus what comes, less what jobs hold or ask for; in thousandths."""
        return self.usable - self.dying + self.on_order - self.held_for_jobs - self.claimed


def horizon_days(lead_time_days: Floats) -> Ints:
    """Whole days of lead time and review period."""
    return np.ceil(lead_time_days).astype(np.int64) + REVIEW_DAYS


@dataclass(frozen=True)
class SitePlan:
    """Arrays of (items,). The demand is of lead time and review period; ``caps`` is what is used before it ages;
    ``quantity`` 0 where nothing is to be ordered; ``lasts_days`` how long the position lasts at the expected pace."""

    figures: SiteFigures
    forecasts: Forecasts
    demand_mean: Floats
    demand_variance: Floats
    history_mean: Floats
    walk_in_mean: Floats
    usual: OrderQuantities
    caps: Floats
    levels: Banded
    gap: Ints
    quantity: Ints
    lasts_days: Floats

    @property
    def level(self) -> Ints:
        """The reorder points that hold."""
        return self.levels.level

    @cached_property
    def daily_use(self) -> Floats:
        """Mean use of a day."""
        use: Floats = self.demand_mean / (self.figures.lead_time_days + REVIEW_DAYS)
        return use

    @cached_property
    def firm_shortage(self) -> NDArray[np.bool_]:
        """Whether jobs ask for more than there is and comes in time: then a rejection does not hold."""
        return self.figures.position < 0

    @cached_property
    def up_to(self) -> Ints:
        """What a usual order at the reorder point lifts the position to."""
        return self.level + self.usual.quantity


def plan_site(figures: SiteFigures, *, pooled_variance_to_mean: float | None = None) -> SitePlan:
    """The way to a quantity, for every item at once.

    1. The forecast of a month's unforeseen demand, and its uncertainty. 2. Demand until an order placed now would be on
    the shelf, joined with what the installed pumps say. 3. The usual order quantity: economic, within the supplier's
    rules, used up before it ages. 4. The reorder point that reaches the fill rate with that quantity, of needs that
    come by the job where jobs take several at once; the one kept so far holds while it is good enough. 5. At or below
    it: the least the supplier takes that lifts the position above it, and at least the usual quantity.

    How much more than Poisson demand varies is learned from all items of a group, unless the ratio is given: then one
    item's plan can be done again by itself. Raises `ValueError` for a figure of demand that is none, or a fill rate
    outside 0 to 1.
    """
    found = forecast_all(figures.demand, first=figures.first, pooled=pooled_variance_to_mean, groups=figures.group)
    months = (figures.lead_time_days + REVIEW_DAYS) / DAYS_OF_MONTH
    blend = blend_arrays(
        (found.mean, found.variance, found.variance_of_mean),
        months=months,
        installed=(figures.installed.mean, figures.installed.variance),
        weight_of_history=figures.installed.weight_of_history,
        walk_in=(figures.installed.walk_in_mean, figures.installed.walk_in_variance),
    )
    pace = blend.mean / months
    variance = blend.variance + np.square(pace * figures.lead_time_sd_days / DAYS_OF_MONTH)
    # Of a storage life the first year is gone on arrival, at worst (common practice, no source).
    caps = shelf_life_caps(
        (pace, np.maximum(found.variance, pace), found.variance_of_mean),
        months=12 * np.maximum(figures.keeps_years - 1, 1),
    )
    usual = order_quantities(
        order_cost=figures.order_cost,
        yearly_demand=pace * 12,
        yearly_holding_cost=figures.price * HOLDING_RATE,
        minimum=figures.minimum,
        multiple=figures.multiple,
        shelf_life_cap=caps,
    )
    levels = banded_levels(
        blend.mean,
        variance,
        target=figures.fill_rate,
        quantity=usual.quantity,
        # The chance of no shortage counts the reorder point alone, whatever is ordered.
        by_cycle=figures.by_cycle,
        kept=figures.kept_level,
        width=BAND,
        jobs=figures.jobs,
    )
    gap = -((figures.position - (levels.level + 1) * THOUSANDTHS) // THOUSANDTHS)
    wanted = rounded_up(np.maximum(usual.quantity, gap), minimum=figures.minimum, multiple=figures.multiple)
    # With a level of -1 also half a metre that is owed is ordered.
    due = (figures.position <= levels.level * THOUSANDTHS) | (figures.position < 0)
    quantity = np.where(due, wanted, 0)
    lasts = np.full(len(pace), float(LONGEST_DAYS))
    np.divide(figures.position / THOUSANDTHS * DAYS_OF_MONTH, pace, out=lasts, where=pace > 0)
    return SitePlan(
        figures,
        found,
        blend.mean,
        variance,
        blend.history_mean,
        blend.walk_in_mean,
        usual,
        caps,
        levels,
        gap,
        quantity,
        np.clip(lasts, 0, LONGEST_DAYS),
    )


def without_installed(items: int) -> Installed:
    """Nothing known of installed pumps: history alone counts."""
    return Installed(*(np.full(items, one) for one in (0.0, 0.0, 1.0, 0.0, 0.0)))


def methods_of(forecasts: Forecasts) -> list[str]:
    """The name of each series' method."""
    return [METHOD_NAMES[one] for one in forecasts.method]
