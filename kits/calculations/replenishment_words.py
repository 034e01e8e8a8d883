"""A proposal's working as sentences, and what to be careful about, for the person who decides."""

from decimal import Decimal

from assets.calculations.written_numbers import plain
from kits.calculations.replenishment_working import ReplenishmentPlan
from kits.calculations.sourcing import Sourcing

FEWEST_MONTHS = 12
FAR_APART = 2.0


def words_of(plan: ReplenishmentPlan, source: Sourcing | None = None, quantity: int | None = None) -> list[str]:
    """The working as sentences. ``quantity`` where another one than the plan's is proposed."""
    asked = plan.quantity if quantity is None else quantity
    figures, place, demand = plan.site.figures, plan.place, plan.point.demand
    days = float(figures.lead_time_days[place])
    sentences = [
        _reason(plan),
        *_history(plan),
        (
            f"From order to shelf it takes {days:g} days, give or take {float(figures.lead_time_sd_days[place]):g}; "
            f"about {demand.mean:.2f} will be needed meanwhile beside what jobs have asked for."
        ),
        *_pumps(plan),
        *_jobs(plan),
        (f"{_goal(plan)}, more is ordered when the position is {plan.point.level} or below."),
        _position(plan),
        (
            f"Without an order, more is needed than there is with a chance of {_percent(plan.chance_short())} before "
            f"one could be here; with {asked} more, {_percent(plan.chance_short(asked))}."
        ),
    ]
    if not plan.quantity:
        sentences.append(f"{asked} would be due soon.")
    elif source is not None and source.kind == "transfer":
        sentences.append(f"{asked} lifts it above that.")
    else:
        sentences.append(
            f"{asked} lifts it above that; the supplier takes at least {int(figures.minimum[place])}, in steps of "
            f"{int(figures.multiple[place])}."
        )
        if plan.usual.minimum_exceeds_cap:
            sentences.append("The supplier's minimum is more than will be used before it is out of date: please judge.")
        elif plan.usual.capped_by_shelf_life:
            sentences.append("More at once would be cheaper, but would be out of date before it is used.")
    if source is not None and source.words:
        sentences.append(source.words)
    return sentences


def warnings_of(plan: ReplenishmentPlan, source: Sourcing | None = None) -> list[dict[str, str]]:
    """What a person should look at before approving, as code and words: then nothing approves it by itself."""
    found = []
    if plan.usual.minimum_exceeds_cap:
        found.append(_warning("minimum-exceeds-shelf-life", "The supplier's minimum is more than is used in date."))
    if plan.forecast.months < FEWEST_MONTHS:
        words = f"Its history is short: {plan.forecast.months} whole months."
        found.append(_warning("short-history", words))
    if not float(plan.site.figures.lead_time_sd_days[plan.place]):
        found.append(_warning("lead-time-spread-unknown", "Nobody said how far lead times spread."))
    if source is not None and source.lender is None and plan.lacking > 0 and source.words:
        found.append(_warning("could-be-borrowed", source.words))
    known = plan.installed
    if known is not None:
        told, by_pumps = float(plan.site.history_mean[plan.place]), known["mean"]
        if max(told, by_pumps) > FAR_APART * min(told, by_pumps) and max(told, by_pumps) >= 1:
            words = f"Installed pumps say {by_pumps:.2f}, history says {told:.2f}."
            found.append(_warning("pumps-and-history-differ", words))
    return found


def _warning(code: str, words: str) -> dict[str, str]:
    return {"code": code, "words": words}


def _reason(plan: ReplenishmentPlan) -> str:
    position, level = plain(plan.position.total), plan.point.level
    if not plan.quantity:
        return f"It joins an order that goes out anyway: the position is {position}, near the reorder point {level}."
    if plan.firm_shortage:
        return f"Jobs ask for {plain(-plan.position.total)} more than is here and comes in time."
    return f"The position is {position}, at or below the reorder point {level}."


def _history(plan: ReplenishmentPlan) -> list[str]:
    unbooked = " without having been booked in time"
    used, planned = sum(plan.history.amounts, Decimal(0)), sum(plan.planned, Decimal(0))
    months = len(plan.history.amounts)
    sentences = [
        (
            f"{plain(used)} {'was' if used == 1 else 'were'} used in the last {months} whole months"
            f"{unbooked if planned else ''}, in {plan.history.months_with_demand} of them; "
            f"expected {plan.forecast.mean:.2f} a month ({_METHODS[plan.forecast.method]})."
        )
    ]
    if planned:
        sentences.append(
            f"{plain(planned)} more were booked early enough to be ordered for; such needs count once they are booked."
        )
    return sentences


def _pumps(plan: ReplenishmentPlan) -> list[str]:
    known = plan.installed
    if known is None:
        return []
    place = plan.place
    return [
        (
            f"In these {int(plan.site.figures.horizon_days[place])} days the installed pumps are expected to need "
            f"{known['mean']:.2f} that nobody has planned, where history says "
            f"{float(plan.site.history_mean[place]):.2f}; history counts {known['weight_of_history']:.0%}, the pumps "
            f"{1 - known['weight_of_history']:.0%}."
        )
    ]


def _jobs(plan: ReplenishmentPlan) -> list[str]:
    sizes = plan.job_sizes
    if sizes is None:
        return []
    mean = sum(size * count for size, count in sizes.items()) / sum(sizes.values())
    return [f"Jobs take {mean:.2f} at once on average, {max(sizes)} at most; what the shelf has of that counts as met."]


def _position(plan: ReplenishmentPlan) -> str:
    position = plan.position
    return (
        f"The position is {plain(position.total)}: {plain(position.usable)} usable"
        + (f", less {plain(position.dying)} that will be out of date" if position.dying else "")
        + (f", plus {plain(position.on_order)} on order" if position.on_order else "")
        + (f", less {plain(position.held_for_jobs)} reserved" if position.held_for_jobs else "")
        + (f", less {plain(position.claimed)} asked for by jobs" if position.claimed else "")
        + "."
    )


def _goal(plan: ReplenishmentPlan) -> str:
    figures, place = plan.site.figures, plan.place
    share = f"{float(figures.fill_rate[place]) * 100:g} %"
    if figures.by_cycle[place]:
        return f"So that nothing runs short with a chance of {share} until an order is there"
    return f"To meet {share} of needs from the shelf"


def _percent(chance: float) -> str:
    return "under 1 %" if 0 < chance < 0.01 else f"{chance * 100:.0f} %"


_METHODS = {
    "tsb": "smoothed: chance and size apart",
    "gamma-poisson": "few needs so far, so a cautious rate",
    "ses": "smoothed as one figure, which came closer in past months",
    "croston": "size over interval, which came closer in past months",
    "sba": "size over interval less its known excess, which came closer in past months",
    "none": "not kept here for a whole month yet",
}
