"""A plan of stock over many sites, as sentences for the person who decides."""

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class ToldPlan:
    """Figures of a plan as they are told. ``wanted`` is the availability asked for, None where it was a budget."""

    currency: str
    cost: Decimal
    kits: int
    items: int
    central: str
    at_central: int
    others: int
    waiting: float
    least: float
    cost_now: Decimal
    kits_now: int
    waiting_now: float
    budget: Decimal | None = None
    wanted: float | None = None
    reached: float | None = None
    reached_now: float | None = None
    pumps: int | None = None


def plan_words(plan: ToldPlan) -> list[str]:
    """What is bought, what it does, how it compares with today, how good it is, and what was not counted."""
    money = f"{plan.currency} {plan.cost:.2f}"
    pumps = f"{plan.pumps} {'pump' if plan.pumps == 1 else 'pumps'}"
    what = f"{plan.kits} of {plan.items} {'item' if plan.items == 1 else 'items'}"
    if plan.others:
        elsewhere = f" and {plan.kits - plan.at_central} at {plan.others} other {_sites(plan.others)}"
    else:
        elsewhere = ""
    split = f"{plan.at_central} at {plan.central}{elsewhere}"
    if plan.budget is not None:
        sentences = [f"{plan.currency} {plan.budget:.2f} buys {what} for {money}: {split}."]
    else:
        sentences = [f"For {float(plan.wanted or 0):.2%} of {pumps} keep {what}, worth {money}: {split}."]
    sentences.append(
        f"Then {_waiting(plan.waiting)} at any moment. What is there and on its way today is {plan.kits_now}, worth "
        f"{plan.currency} {plan.cost_now:.2f}; with it {_waiting(plan.waiting_now)}."
    )
    if plan.reached is not None and plan.reached_now is not None:
        sentences.append(
            f"Of {pumps} {plan.reached:.2%} wait for nothing, if each holds one of every item; with the stock of "
            f"today {plan.reached_now:.2%}."
        )
    sentences.append(_how_good(plan))
    sentences.append(
        "Each site orders one for one from the central store and waits where it has none. Not counted: moves between "
        "other sites, orders of more than one, kits that go out of date, lead times that vary, and demand that comes "
        "in bursts."
    )
    return sentences


def _how_good(plan: ToldPlan) -> str:
    if plan.budget is None:
        return (
            "This is the first plan along the best steps that reaches it. Between two steps a cheaper one may do: it "
            "is near the best, not surely the best."
        )
    if plan.waiting - plan.least < 0.0005:
        return "No other plan for this budget leaves fewer waiting."
    return (
        f"No plan for this budget leaves fewer than {plan.least:.3f} waiting, so this one is at most "
        f"{plan.waiting - plan.least:.3f} from the best."
    )


def _sites(count: int) -> str:
    return "site" if count == 1 else "sites"


def _waiting(number: float) -> str:
    return f"{number:.3f} needs wait on average"
