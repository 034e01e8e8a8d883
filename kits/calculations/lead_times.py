"""How long a supplier really takes, from what came so far and what was agreed.

A mean of few receipts is drawn towards what is known without them: with n receipts of mean y it is
``(n y + k m) / (n + k)``, the posterior mean of a normal with a conjugate prior of mean m worth k observations, and
Buehlmann's credibility with factor ``n / (n + k)`` (Gelman et al., Bayesian Data Analysis, 3rd ed., sections 2.5 and
3.3; value from memory). An item's prior is what was agreed for it plus the supplier's usual lateness, which is itself
drawn towards nothing; the item's own receipts are part of the supplier's. What was ordered and never came teaches
nothing here. The variance is the scale of the same posterior,
``(k s0^2 + (n - 1) s^2 + k n / (k + n) (y - m)^2) / (k + n)``.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Any, Literal

# So many receipts weigh as much as what is known without them (common practice, no source).
WORTH_OF_PRIOR = 4
# Below this weight nothing of what was agreed is heard any more (common practice, no source).
UNHEARD = 0.10
# The spread where nothing was agreed and too little came to tell: a quarter of the mean (common practice, no source).
SHARE_OF_MEAN = 0.25
Source = Literal["agreed", "observed", "blended"]


@dataclass(frozen=True)
class LeadTime:
    """Days from sending an order to its goods on the shelf, mean and standard deviation.

    ``received`` receipts of the item and ``received_of_supplier`` of all its items were seen. The weights, which sum to
    1, are those of the item's own receipts, the supplier's receipts and the agreed terms.
    """

    mean_days: float
    sd_days: float
    received: int
    received_of_supplier: int
    weight_of_item: float
    weight_of_supplier: float
    weight_of_agreed: float
    source: Source
    observed_mean_days: float | None
    agreed_days: float | None
    agreed_sd_days: float | None


@dataclass(frozen=True)
class Blend:
    """Mean and variance of a few values drawn towards a prior; ``weight`` is that of the values."""

    mean: float
    variance: float
    weight: float


def blend(values: Sequence[float], *, prior_mean: float, prior_variance: float, worth: float = WORTH_OF_PRIOR) -> Blend:
    """Values drawn towards a prior worth so many of them. Raises `ValueError` for a prior worth nothing."""
    if worth <= 0 or prior_variance < 0:
        raise ValueError("a prior is worth something and has a variance")
    count = len(values)
    if count == 0:
        return Blend(prior_mean, prior_variance, 0.0)
    observed = fmean(values)
    weight = count / (count + worth)
    squares = _squares(values, observed)
    drawn = worth * count / (worth + count) * (observed - prior_mean) ** 2
    return Blend(
        prior_mean + weight * (observed - prior_mean),
        (worth * prior_variance + squares + drawn) / (worth + count),
        weight,
    )


def learn_lead_times(
    receipts: Mapping[Any, Sequence[float]],
    agreed: Mapping[Any, tuple[float, float]],
    *,
    worth: float = WORTH_OF_PRIOR,
) -> dict[Any, LeadTime]:
    """Lead times of one supplier's items; under the key None that of the supplier as a whole.

    ``receipts`` holds the days of each receipt by item; ``agreed`` mean and standard deviation of the terms by item.
    An item without terms has the supplier's mean as its prior. Raises `ValueError` for days below zero.
    """
    if any(day < 0 for days in receipts.values() for day in days):
        raise ValueError("goods cannot come before they are ordered")
    late = [day - agreed[key][0] for key, days in receipts.items() if key in agreed for day in days]
    spread = _mean_square(agreed[key][1] for key, days in receipts.items() if key in agreed for _ in days)
    lateness = blend(late, prior_mean=0.0, prior_variance=spread, worth=worth)
    every = [day for days in receipts.values() for day in days]
    whole = Blend(fmean(every), _variance(every), 1.0) if every else Blend(0.0, 0.0, 0.0)
    found: dict[Any, LeadTime] = {
        key: _of_item(receipts.get(key, ()), agreed.get(key), lateness, whole, len(every), worth)
        for key in sorted({*receipts, *agreed}, key=str)
        if agreed.get(key) or receipts.get(key)
    }
    if every or agreed:
        found[None] = _of_supplier(every, agreed, worth)
    return found


def _of_item(
    days: Sequence[float],
    terms: tuple[float, float] | None,
    lateness: Blend,
    whole: Blend,
    of_supplier: int,
    worth: float,
) -> LeadTime:
    if terms is not None:
        mean, spread = terms
        prior_mean = max(mean + lateness.mean, 0.0)
        prior_variance = (1 - lateness.weight) * spread**2 + lateness.weight * lateness.variance
        heard = lateness.weight
    else:
        prior_mean, prior_variance = whole.mean, whole.variance
        heard = 1.0
    result = blend(days, prior_mean=prior_mean, prior_variance=prior_variance, worth=worth)
    return _lead_time(
        result,
        received=len(days),
        of_supplier=of_supplier,
        weights=(result.weight, (1 - result.weight) * heard, (1 - result.weight) * (1 - heard)),
        observed=fmean(days) if days else None,
        terms=terms,
    )


def _of_supplier(every: Sequence[float], agreed: Mapping[Any, tuple[float, float]], worth: float) -> LeadTime:
    """The supplier as a whole: what came, drawn towards the mean of its terms."""
    terms = (fmean(one for one, _ in agreed.values()), _root_mean_square(agreed)) if agreed else None
    if terms is None:
        result = Blend(fmean(every), _variance(every), 1.0)
    else:
        result = blend(every, prior_mean=terms[0], prior_variance=terms[1] ** 2, worth=worth)
    return _lead_time(
        result,
        received=len(every),
        of_supplier=len(every),
        weights=(0.0, result.weight, 1 - result.weight),
        observed=fmean(every) if every else None,
        terms=terms,
    )


def _lead_time(
    result: Blend,
    *,
    received: int,
    of_supplier: int,
    weights: tuple[float, float, float],
    observed: float | None,
    terms: tuple[float, float] | None,
) -> LeadTime:
    source: Source = "blended"
    if of_supplier == 0:
        source = "agreed"
    elif weights[2] < UNHEARD:
        source = "observed"
    return LeadTime(
        mean_days=result.mean,
        sd_days=math.sqrt(result.variance),
        received=received,
        received_of_supplier=of_supplier,
        weight_of_item=weights[0],
        weight_of_supplier=weights[1],
        weight_of_agreed=weights[2],
        source=source,
        observed_mean_days=observed,
        agreed_days=terms[0] if terms else None,
        agreed_sd_days=terms[1] if terms else None,
    )


def _squares(values: Sequence[float], mean: float) -> float:
    return sum((one - mean) ** 2 for one in values)


def _variance(values: Sequence[float]) -> float:
    mean = fmean(values)
    return _squares(values, mean) / (len(values) - 1) if len(values) > 1 else (SHARE_OF_MEAN * mean) ** 2


def _mean_square(values: Iterable[float]) -> float:
    squares = [one**2 for one in values]
    return fmean(squares) if squares else 0.0


def _root_mean_square(agreed: Mapping[Any, tuple[float, float]]) -> float:
    return math.sqrt(_mean_square(spread for _, spread in agreed.values()))


def words_of_lead_time(one: LeadTime) -> str:
    """What was learned, as a sentence for people."""
    agreed = "" if one.agreed_days is None else f"{one.agreed_days:.0f} days were agreed"
    if one.received_of_supplier == 0:
        return f"{agreed}; nothing has come yet to tell otherwise."
    counted = f"{one.mean_days:.0f} days, give or take {one.sd_days:.0f}"
    if one.received == 0:
        seen = f"nothing of this item has come yet, {_receipts(one.received_of_supplier)} of others"
    else:
        seen = f"{_receipts(one.received)} took {one.observed_mean_days:.0f} days on average"
    start = f"{agreed}; {seen}" if agreed else seen[0].upper() + seen[1:]
    return f"{start}. Counted on: {counted}."


def _receipts(count: int) -> str:
    return f"{count} {'receipt' if count == 1 else 'receipts'}"
