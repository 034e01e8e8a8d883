"""One item's part of a site's plan: its figures by name, and the working that is kept with a proposal.

The working holds every figure that went in, so it can be done again and gives the same answer.
"""

import datetime
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import numpy as np

from assets.calculations.written_numbers import plain
from kits.calculations.demand_arrays import THOUSANDTHS
from kits.calculations.demand_forecast import Forecast, ending_together, forecast_at
from kits.calculations.demand_history import MonthlyDemand, monthly_demand, months_before, pattern
from kits.calculations.demand_of_jobs import demand_of_jobs
from kits.calculations.job_size_arrays import Jobs, jobs_of_sizes, without_jobs
from kits.calculations.order_quantity import OrderQuantity
from kits.calculations.reorder_point import LeadTimeDemand, ReorderPoint
from kits.calculations.site_plan import (
    BAND,
    HOLDING_RATE,
    NEVER_KEPT,
    REVIEW_DAYS,
    Installed,
    SiteFigures,
    SitePlan,
    horizon_days,
    plan_site,
    without_installed,
)
from kits.calculations.stock_position import StockPosition, stock_position

DatedQuantity = tuple[datetime.date, Decimal]


@dataclass(frozen=True)
class ReplenishmentInputs:
    """One item at one site as of a day. ``storage_years`` is how long it keeps from cure, None where it does not age.

    ``usable`` counts what is in date today, reserved or not; ``lots`` what is free of it by last day; ``taken_at_once``
    how many jobs took each quantity.
    """

    as_of: datetime.date
    kept_since: datetime.date
    needs: tuple[DatedQuantity, ...]
    usable: Decimal
    held_for_jobs: Decimal
    lots: tuple[tuple[datetime.date | None, Decimal], ...]
    claims: tuple[DatedQuantity, ...]
    on_order: tuple[DatedQuantity, ...]
    lead_time_days: Decimal
    lead_time_sd_days: Decimal
    minimum: Decimal
    multiple: Decimal
    price: Decimal
    order_cost: Decimal
    fill_rate: Decimal
    storage_years: int | None = None
    measure: str = "fill"
    is_part: bool = False
    taken_at_once: Mapping[Decimal, int] = field(default_factory=dict)


@dataclass(frozen=True)
class ReplenishmentPlan:
    """What is proposed of one item: ``quantity`` is 0 where nothing needs to be ordered."""

    site: SitePlan
    place: int
    as_of: datetime.date
    history: MonthlyDemand
    planned: tuple[Decimal, ...]
    forecast: Forecast
    point: ReorderPoint
    usual: OrderQuantity
    position: StockPosition
    quantity: int

    @property
    def firm_shortage(self) -> bool:
        """Whether jobs ask for more than there is and comes in time: then a rejection does not hold."""
        return self.position.total < 0

    @property
    def lacking(self) -> Decimal:
        """What jobs ask for beyond what is here: they wait for whatever comes first."""
        return max(-(self.position.total - self.position.on_order), Decimal(0))

    @property
    def gap(self) -> int:
        """Pieces that lift the position above the reorder point."""
        return int(self.site.gap[self.place])

    @property
    def need_by(self) -> datetime.date:
        """The day on which the position is used up at the expected pace; today where it is already."""
        return self.as_of + datetime.timedelta(days=int(self.site.lasts_days[self.place]))

    @property
    def installed(self) -> dict[str, float] | None:
        """What the installed pumps add to it; None where none is registered that may use it."""
        known = self.site.figures.installed
        if known.weight_of_history[self.place] >= 1:
            return None
        return {
            "mean": float(known.mean[self.place]),
            "variance": float(known.variance[self.place]),
            "weight_of_history": float(known.weight_of_history[self.place]),
            "walk_in_mean_a_month": float(known.walk_in_mean[self.place]),
            "walk_in_variance_a_month": float(known.walk_in_variance[self.place]),
        }

    @property
    def job_sizes(self) -> dict[int, int] | None:
        """Past jobs by the pieces they took, where the reorder point counts on it."""
        return self.site.figures.jobs.sizes_of(self.place) if self.site.levels.by_jobs[self.place] else None

    def chance_short(self, more: int = 0) -> float:
        """The chance that more is needed until an order placed now is here than the position and ``more`` hold."""
        held = math.floor(self.position.total + more)
        if self.point.demand.distribution == "none":
            return 1.0 if held < 0 else 0.0
        return 1.0 if held < 0 else float(1 - self.point.demand.at_most(np.array([held]))[0])


def plan_replenishments(
    each: Sequence[ReplenishmentInputs], *, pooled_variance_to_mean: float | None = None
) -> list[ReplenishmentPlan]:
    """What to order of each item of one site, all as of the same day; see `plan_site`."""
    if not each:
        return []
    plan = plan_site_of(each, pooled_variance_to_mean=pooled_variance_to_mean)
    return [plan_of(plan, place, as_of=one.as_of) for place, one in enumerate(each)]


def plan_site_of(each: Sequence[ReplenishmentInputs], *, pooled_variance_to_mean: float | None = None) -> SitePlan:
    """The plan of these items of one site, at least one, as arrays, all as of the same day; see `plan_site`."""
    histories = [monthly_demand(one.needs, kept_since=one.kept_since, as_of=one.as_of) for one in each]
    return plan_site(_figures(each, histories), pooled_variance_to_mean=pooled_variance_to_mean)


def plan_replenishment(
    inputs: ReplenishmentInputs, *, pooled_variance_to_mean: float | None = None
) -> ReplenishmentPlan:
    """What to order of one item, as far as its own history tells."""
    return plan_replenishments([inputs], pooled_variance_to_mean=pooled_variance_to_mean)[0]


def _figures(each: Sequence[ReplenishmentInputs], histories: Sequence[MonthlyDemand]) -> SiteFigures:
    lead_time = np.array([float(one.lead_time_days) for one in each])
    positions = [
        stock_position(
            usable=one.usable,
            held_for_jobs=one.held_for_jobs,
            lots=one.lots,
            claims=one.claims,
            on_order=one.on_order,
            horizon=one.as_of + datetime.timedelta(days=int(days)),
        )
        for one, days in zip(each, horizon_days(lead_time), strict=True)
    ]
    table, first = ending_together([[float(amount) for amount in one.amounts] for one in histories])
    return SiteFigures(
        demand=table,
        planned=np.zeros_like(table),
        first=first,
        lead_time_days=lead_time,
        lead_time_sd_days=np.array([float(one.lead_time_sd_days) for one in each]),
        minimum=np.array([whole_units(one.minimum) for one in each]),
        multiple=np.array([whole_units(one.multiple) for one in each]),
        price=np.array([float(one.price) for one in each]),
        order_cost=np.array([float(one.order_cost) for one in each]),
        fill_rate=np.array([float(one.fill_rate) for one in each]),
        by_cycle=np.array([one.measure == "cycle" for one in each]),
        keeps_years=np.array([math.inf if one.storage_years is None else one.storage_years for one in each]),
        usable=np.array([thousandths(one.usable) for one in positions]),
        dying=np.array([thousandths(one.dying) for one in positions]),
        on_order=np.array([thousandths(one.on_order) for one in positions]),
        held_for_jobs=np.array([thousandths(one.held_for_jobs) for one in positions]),
        claimed=np.array([thousandths(one.claimed) for one in positions]),
        kept_level=np.full(len(each), NEVER_KEPT),
        installed=without_installed(len(each)),
        group=np.array([int(one.is_part) for one in each]),
        jobs=jobs_of_sizes([{thousandths(size): count for size, count in one.taken_at_once.items()} for one in each]),
    )


def whole_units(value: Decimal) -> int:
    """The whole pieces in which a supplier's rule can be met."""
    return max(1, math.ceil(value))


def thousandths(value: Decimal) -> int:
    """An exact quantity in the unit of the arrays."""
    return int(value * THOUSANDTHS)


def plan_of(site: SitePlan, place: int, *, as_of: datetime.date) -> ReplenishmentPlan:
    """One item's figures, by name."""
    figures = site.figures
    first = int(figures.first[place])
    amounts = tuple(_decimal(one) for one in figures.demand[first:, place])
    demand = LeadTimeDemand(float(site.demand_mean[place]), float(site.demand_variance[place]))
    if site.levels.by_jobs[place]:
        demand = demand_of_jobs(demand, figures.jobs.sizes_of(place))
    return ReplenishmentPlan(
        site=site,
        place=place,
        as_of=as_of,
        history=MonthlyDemand(months_before(as_of, len(amounts)), amounts),
        planned=tuple(_decimal(one) for one in figures.planned[first:, place]),
        forecast=forecast_at(site.forecasts, place),
        point=ReorderPoint(int(site.levels.level[place]), float(site.levels.fill_rate[place]), demand),
        usual=OrderQuantity(
            int(site.usual.quantity[place]),
            float(site.usual.economic[place]),
            bool(site.usual.capped_by_shelf_life[place]),
            bool(site.usual.minimum_exceeds_cap[place]),
        ),
        position=StockPosition(
            *(
                Decimal(int(one[place])) / THOUSANDTHS
                for one in (
                    figures.usable, figures.dying, figures.on_order, figures.held_for_jobs, figures.claimed
                )
            )
        ),
        quantity=int(site.quantity[place]),
    )  # fmt: skip


def working_of(plan: ReplenishmentPlan, proposed: int | None = None) -> dict[str, Any]:
    """Everything the quantity came from, JSON-safe: exact figures as text, estimates as rounded text, and what an
    estimate came from unrounded. ``proposed`` where another quantity than the plan's is."""
    position, figures, place = plan.position, plan.site.figures, plan.place
    keeps = float(figures.keeps_years[place])
    kept = int(figures.kept_level[place])
    return {
        "as_of": plan.as_of.isoformat(),
        "demand": {
            "first_month": plan.history.first.isoformat(),
            "months": [plain(one) for one in plan.history.amounts],
            "planned_months": [plain(one) for one in plan.planned],
            "pattern": pattern(plan.history.amounts),
            "method": plan.forecast.method,
            "mean_a_month": _rounded(plan.forecast.mean),
            "variance_a_month": _rounded(plan.forecast.variance),
            "variance_of_mean": _rounded(plan.forecast.variance_of_mean),
            "variance_to_mean_of_all": repr(plan.forecast.pooled_variance_to_mean),
            "squared_errors": {name: _rounded(one) for name, one in plan.forecast.squared_errors.items()},
        },
        "installed": None
        if plan.installed is None
        else {name: repr(one) for name, one in plan.installed.items()}
        | {"history_mean": _rounded(float(plan.site.history_mean[place]))},
        "lead_time": {
            "days": _short(figures.lead_time_days[place]),
            "sd_days": _short(figures.lead_time_sd_days[place]),
            "review_days": REVIEW_DAYS,
            "demand_mean": _rounded(plan.point.demand.mean),
            "demand_variance": _rounded(plan.point.demand.variance),
            "distribution": plan.point.demand.distribution,
        },
        "job_sizes": None if plan.job_sizes is None else {str(size): count for size, count in plan.job_sizes.items()},
        "target": {
            "measure": "cycle" if figures.by_cycle[place] else "fill",
            "fill_rate": _short(figures.fill_rate[place]),
            "reached": _rounded(plan.point.fill_rate),
            "band": _short(BAND),
        },
        "reorder_point": plan.point.level,
        "lowest_reorder_point": int(plan.site.levels.lowest[place]),
        "kept_reorder_point": None if kept <= NEVER_KEPT else kept,
        "position": {
            "usable": plain(position.usable),
            "dying": plain(position.dying),
            "on_order": plain(position.on_order),
            "held_for_jobs": plain(position.held_for_jobs),
            "claimed": plain(position.claimed),
            "total": plain(position.total),
        },
        "order_quantity": {
            "economic": _rounded(plan.usual.economic),
            "usual": plan.usual.quantity,
            "minimum": str(int(figures.minimum[place])),
            "multiple": str(int(figures.multiple[place])),
            "order_cost": _short(figures.order_cost[place]),
            "price": _short(figures.price[place]),
            "holding_rate": _short(HOLDING_RATE),
            "keeps_years": None if math.isinf(keeps) else int(keeps),
            "capped_by_shelf_life": plan.usual.capped_by_shelf_life,
            "minimum_exceeds_cap": plan.usual.minimum_exceeds_cap,
        },
        "chance_short": {
            "as_it_is": _rounded(plan.chance_short()),
            "with_it": _rounded(plan.chance_short(plan.quantity if proposed is None else proposed)),
        },
        "quantity": plan.quantity,
    }


def done_again(working: Mapping[str, Any]) -> ReplenishmentPlan:
    """The plan that a working came from, from the working alone. Raises `KeyError` for a figure that is missing."""
    demand, lead, order = working["demand"], working["lead_time"], working["order_quantity"]
    months = len(demand["months"])
    installed, position = working["installed"], working["position"]
    kept = working["kept_reorder_point"]

    def one(value: Any, kind: type = np.float64) -> Any:
        return np.array([value], kind)

    figures = SiteFigures(
        demand=np.array([float(amount) for amount in demand["months"]]).reshape(months, 1),
        planned=np.array([float(amount) for amount in demand["planned_months"]]).reshape(months, 1),
        first=one(0, np.int64),
        lead_time_days=one(float(lead["days"])),
        lead_time_sd_days=one(float(lead["sd_days"])),
        minimum=one(int(order["minimum"]), np.int64),
        multiple=one(int(order["multiple"]), np.int64),
        price=one(float(order["price"])),
        order_cost=one(float(order["order_cost"])),
        fill_rate=one(float(working["target"]["fill_rate"])),
        by_cycle=one(working["target"]["measure"] == "cycle", bool),
        keeps_years=one(math.inf if order["keeps_years"] is None else order["keeps_years"]),
        kept_level=one(NEVER_KEPT if kept is None else kept, np.int64),
        installed=without_installed(1)
        if installed is None
        else Installed(
            one(float(installed["mean"])),
            one(float(installed["variance"])),
            one(float(installed["weight_of_history"])),
            one(float(installed["walk_in_mean_a_month"])),
            one(float(installed["walk_in_variance_a_month"])),
        ),
        group=one(0, np.int64),
        jobs=_jobs_again(working.get("job_sizes")),
        **{
            name: one(thousandths(Decimal(position[name])), np.int64)
            for name in ("usable", "dying", "on_order", "held_for_jobs", "claimed")
        },
    )
    plan = plan_site(figures, pooled_variance_to_mean=float(demand["variance_to_mean_of_all"]))
    return plan_of(plan, 0, as_of=datetime.date.fromisoformat(working["as_of"]))


def _jobs_again(sizes: Mapping[str, int] | None) -> Jobs:
    """Workings of before jobs were looked at name none."""
    if not sizes:
        return without_jobs(1)
    return jobs_of_sizes([{int(size) * THOUSANDTHS: count for size, count in sizes.items()}])


def _decimal(value: Any) -> Decimal:
    return Decimal(round(float(value) * THOUSANDTHS)) / THOUSANDTHS


def _short(value: Any) -> str:
    return plain(Decimal(repr(float(value))))


def _rounded(value: float) -> str:
    return f"{value:.6f}"
