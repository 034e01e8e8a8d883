"""Probabilities of whole-number demand, count by count, for many series at once."""

import itertools
from collections.abc import Iterator

import numpy as np
from scipy import special

Floats = np.ndarray

# Above it the chance of none underflows (exp(-700)): logarithms are used.
LARGEST_EXPONENT = 600.0


def pmf_rows(mean: Floats, variance: Floats, highest: int | None = None) -> Iterator[Floats]:
    """P(0), P(1) .. P(highest), without end if none is named, each of the shape of ``mean``: negative binomial where
    the variance is above the mean, else Poisson.

    ``P(k+1) = P(k) (a k + b) / (k + 1)`` (Panjer 1981, ASTIN Bulletin 12:22-26; value from memory).
    """
    wide = variance > mean * (1 + 1e-9)
    ratio = np.divide(mean, variance, out=np.ones_like(mean), where=wide)
    size = np.divide(mean * ratio, 1 - ratio, out=np.zeros_like(mean), where=wide)
    a = np.where(wide, 1 - ratio, 0.0)
    b = np.where(wide, size * (1 - ratio), mean)
    log_first = np.where(wide, size * np.log(ratio), -mean)
    if (log_first < -LARGEST_EXPONENT).any():
        yield from _pmf_by_logarithms(mean, ratio, size, wide, highest)
        return
    row = np.exp(log_first)
    for count in itertools.count() if highest is None else range(highest + 1):
        yield row
        row = row * ((a * count + b) / (count + 1))


def _pmf_by_logarithms(
    mean: Floats, ratio: Floats, size: Floats, wide: Floats, highest: int | None
) -> Iterator[Floats]:
    some_size, some_ratio = np.where(wide, size, 1.0), np.where(wide, ratio, 0.5)
    for count in itertools.count() if highest is None else range(highest + 1):
        poisson = special.xlogy(count, mean) - mean - special.gammaln(count + 1)
        binomial = (
            special.gammaln(count + some_size) - special.gammaln(some_size) - special.gammaln(count + 1)
            + some_size * np.log(some_ratio) + count * np.log1p(-some_ratio)
        )  # fmt: skip
        yield np.exp(np.where(wide, binomial, poisson))
