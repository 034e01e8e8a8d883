"""Chances of overhauls, and how many there will be of several pumps.

Pumps are told apart by their age: each is a trial of its own, and their number is Poisson-binomial. Its variance is
below its mean, so less safety stock is needed than for Poisson demand (Le Cam 1960, Pacific J. Math. 10:1181-1197, for
how far the two are apart).
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betainc, gammaincc

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]

# Of two moments so near, the number is as good as Poisson.
AS_GOOD_AS_POISSON = 1e-9


def chance_of_overhaul(age: ArrayLike, ahead: ArrayLike, shape: ArrayLike, scale: ArrayLike) -> Floats:
    """P(overhaul within the next ``ahead`` | alive at ``age``) = 1 - exp((t/e)**b - ((t+h)/e)**b), element by element.

    All four broadcast; ages, ``ahead`` and scales in one unit. Not by dividing two survivals: both underflow.
    """
    now, wide = np.asarray(age, dtype=np.float64), np.asarray(scale, dtype=np.float64)
    bent = np.asarray(shape, dtype=np.float64)
    since, until = now / wide, (now + np.asarray(ahead, dtype=np.float64)) / wide
    return np.asarray(-np.expm1(since**bent - until**bent))


def chances_by_period(age: Floats, ends: Floats, shape: ArrayLike, scale: ArrayLike) -> tuple[Floats, Floats]:
    """([pumps x periods], [pumps x periods]): the chance of the next overhaul in each period, and until its end.

    ``age`` [pumps]; ``ends`` [pumps x periods] running time from now to the end of each period, never falling; shape
    and scale one for all or [pumps].
    """
    bent = np.broadcast_to(np.asarray(shape, dtype=np.float64), age.shape)[:, None]
    wide = np.broadcast_to(np.asarray(scale, dtype=np.float64), age.shape)[:, None]
    now = (age[:, None] / wide) ** bent
    hazard = ((age[:, None] + ends) / wide) ** bent - now
    until = -np.expm1(-hazard)
    before = np.concatenate([np.zeros((len(age), 1)), hazard[:, :-1]], axis=1)
    within = np.exp(-before) * -np.expm1(before - hazard)
    return within, until


def poisson_binomial(chances: ArrayLike, most: int | None = None) -> Floats:
    """[overhauls + 1, ...] the probabilities of 0, 1, 2 ... overhauls of pumps with these chances [pumps, ...], by
    convolution: f <- f (1-p) + shift(f) p. Above ``most`` nothing is worked out."""
    trials = np.asarray(chances, dtype=np.float64)
    top = len(trials) if most is None else min(len(trials), most)
    found = np.zeros((top + 1, *trials.shape[1:]))
    found[0] = 1.0
    for place, chance in enumerate(trials):
        reach = min(place + 1, top)
        found[1 : reach + 1] = found[1 : reach + 1] * (1 - chance) + found[:reach] * chance
        found[0] *= 1 - chance
    return found


def quantile(probabilities: ArrayLike, level: float = 0.95) -> int:
    """The smallest number that is not exceeded with at least this probability."""
    reached = np.cumsum(np.asarray(probabilities, dtype=np.float64))
    return min(int(np.searchsorted(reached, level - 1e-12)), len(reached) - 1)


def quantiles_of_draws(means: Floats, variances: Floats, pumps: Counts, level: float = 0.95) -> Counts:
    """[numbers] the same where mean and variance are only known as draws [draws x numbers]: of their mixtures.

    Each draw is a binomial number with these two moments, which a Poisson-binomial one is close to (Ehm 1991, Statist.
    Probab. Lett. 11:7-16), with trials that need not be whole. ``pumps`` [numbers]: there cannot be more.
    """
    widest = (means + 8 * np.sqrt(variances) + 8).max(axis=0, initial=0)
    low, high = np.zeros(len(pumps), dtype=np.int64), np.minimum(pumps, widest.astype(np.int64))
    while (low < high).any():
        middle = (low + high) // 2
        reached = _at_most(middle[None, :].astype(np.float64), means, variances).mean(axis=0) >= level - 1e-12
        low, high = np.where(reached, low, np.minimum(middle + 1, high)), np.where(reached, middle, high)
    return high


def _at_most(count: Floats, mean: Floats, variance: Floats) -> Floats:
    """P(number <= count) of a binomial number by two moments: 1 where no trial is left that could exceed it."""
    chance = np.where(mean > 0, 1 - variance / np.where(mean > 0, mean, 1), 0)
    poisson = chance <= AS_GOOD_AS_POISSON
    chance = np.clip(chance, AS_GOOD_AS_POISSON, 1)
    left = mean / chance - count
    binomial = betainc(np.where(left > 0, left, 1), count + 1, 1 - chance)
    return np.where(poisson, gammaincc(count + 1, mean), np.where(left > 0, binomial, 1.0))
