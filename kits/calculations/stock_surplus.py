"""Stock that will not be used: what lies dead, what is more than enough, and why it is said.

A quiet year proves little: where one is used in a year, twelve months without use come up with 37 % chance. So only two
quiet years with nobody who needs it count as dead, and what a job, an installed pump or a coming need may take is never
called surplus.
"""

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from assets.calculations.written_numbers import plain

# Two years: common practice, no source. After them the yearly rate is below 1.5 with 95 % confidence.
QUIET_MONTHS = 24
CONFIDENCE = 0.95
# What will be used later than that is no reason to keep it now (common practice, no source).
LONGEST_USE_MONTHS = 24
DAYS_OF_YEAR = 365.25
# What nobody sells is taken to be a usual while away, and wanted as well as most things are (both common practice, no
# source).
USUAL_LEAD_TIME_DAYS = Decimal(60)
USUAL_TARGET = Decimal("0.95")
ZERO = Decimal(0)


@dataclass(frozen=True)
class StockAtHand:
    """One item at one site. ``lots`` are free and reserved pieces in date with their last day; ``reserved`` what jobs
    claim, with lots or without; ``monthly_use`` what is expected in a month from history, None where not
    even one whole month is known, ``installed_use`` what
    installed pumps are expected to need over the months looked ahead, unplanned and planned without a claim yet;
    ``level`` what replenishment fills up to; ``pumps_known`` whether the need of installed pumps was worked out."""

    lots: tuple[tuple[datetime.date | None, Decimal], ...]
    reserved: Decimal
    promised_away: Decimal
    kept_since: datetime.date | None
    last_used_on: datetime.date | None
    monthly_use: float | None
    installed_use: float
    needed_by_pumps: bool
    level: int
    pumps_known: bool = True

    @property
    def on_hand(self) -> Decimal:
        """All pieces in date."""
        return sum((pieces for _, pieces in self.lots), ZERO)


@dataclass(frozen=True)
class Surplus:
    """``kind`` is ``dead`` or ``excess``; ``quantity`` is what could go, ``kept`` what stays, and why."""

    kind: str
    quantity: Decimal
    kept: Decimal
    reasons: tuple[str, ...]


def chance_of_no_use(yearly_rate: float, months: float) -> float:
    """Of Poisson demand over so many months: ``exp(-rate t)``."""
    return math.exp(-yearly_rate * months / 12)


def highest_rate(quiet_months: float, confidence: float = CONFIDENCE) -> float:
    """The yearly rate that so many months without use leave possible: ``-ln(1 - confidence) / t``. Raises `ValueError`
    for no time or a confidence outside 0 to 1."""
    if quiet_months <= 0 or not 0 < confidence < 1:
        raise ValueError("a time above 0 and a confidence between 0 and 1")
    return -math.log(1 - confidence) * 12 / quiet_months


def use_until_expiry(
    lots: Sequence[tuple[datetime.date | None, Decimal]], *, daily_use: float, on: datetime.date, days: int
) -> Decimal:
    """Pieces of these lots that mean use takes before they are out of date, at most over so many days; the first to
    expire are taken first."""
    used = 0.0
    for last_day, pieces in sorted(lots, key=lambda one: one[0] or datetime.date.max):
        left = days if last_day is None else min((last_day - on).days + 1, days)
        used += max(min(float(pieces), daily_use * max(left, 0) - used), 0.0)
    return Decimal(used).quantize(Decimal("0.001"))


def judge_stock(stock: StockAtHand, *, on: datetime.date) -> Surplus | None:
    """What of a stock is surplus; None where nothing is, or where an item came so lately that its use is not
    known.

    Dead: not used in 24 months while kept all the time, no claim, and no installed pump that is expected to need it.
    Excess: what is on hand above the higher of the level and the use expected until it is out of date, less claims.
    """
    free = stock.on_hand - stock.reserved - stock.promised_away
    if free <= 0:
        return None
    since = stock.last_used_on or stock.kept_since
    quiet = _months_between(since, on) if since is not None else 0.0
    if quiet >= QUIET_MONTHS and not stock.reserved and not stock.needed_by_pumps:
        return Surplus("dead", free, ZERO, _dead(stock, since, free))
    if stock.monthly_use is None:
        return None
    months = LONGEST_USE_MONTHS
    by_history = stock.monthly_use * months
    expected = max(by_history, stock.installed_use)
    used = use_until_expiry(
        stock.lots, daily_use=expected / (months / 12 * DAYS_OF_YEAR), on=on, days=round(months / 12 * DAYS_OF_YEAR)
    )
    keep = max(Decimal(stock.level), used.to_integral_value(ROUND_CEILING))
    excess = free - keep
    if excess <= 0:
        return None
    return Surplus("excess", excess, keep, _excess(stock, used, keep, excess, by_history >= stock.installed_use))


def _months_between(since: datetime.date, on: datetime.date) -> float:
    whole = (on.year - since.year) * 12 + on.month - since.month
    return whole - (on.day < since.day)


def _dead(stock: StockAtHand, since: datetime.date | None, free: Decimal) -> tuple[str, ...]:
    begin = f"Last used on {since}" if stock.last_used_on else f"Kept since {since} and never used"
    return (
        f"{begin}: {QUIET_MONTHS} months or more without use.",
        "No job claims it and no installed pump is expected to need it."
        if stock.pumps_known
        else "No job claims it; what installed pumps will need has not been worked out here.",
        f"All {plain(free)} could go: to another site first, scrapped last.",
    )


def _excess(stock: StockAtHand, used: Decimal, keep: Decimal, excess: Decimal, from_history: bool) -> tuple[str, ...]:
    source = "past use" if from_history else "the installed pumps"
    claimed = f", of which jobs claim {plain(stock.reserved)}" if stock.reserved else ""
    promised = f"; {plain(stock.promised_away)} are promised to other sites" if stock.promised_away else ""
    return (
        f"{plain(stock.on_hand)} are on hand{claimed}{promised}.",
        (
            f"By {source}, {plain(used.quantize(Decimal('0.1')))} will be used in {LONGEST_USE_MONTHS} months or "
            "before they are out of date."
        ),
        f"Replenishment fills up to {stock.level}.",
        f"Beyond the {plain(keep)} to keep, {plain(excess)} could go: to another site first, scrapped last.",
    )
