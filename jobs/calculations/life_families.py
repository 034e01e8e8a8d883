"""Lives of pump families: as told by a family's own overhauls, or by those of pumps like it where it has too few.

A family is a pump model, its class the models of the same configuration. Fewer than five overhauls do not tell how
chances grow with age; then the shape comes from the class, or from all pumps where the class has as few, and only the
scale from the family. With none, both (common practice, no source).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from jobs.calculations.running_lives import Lives
from jobs.calculations.weibull import DRAWS, Floats, WeibullFit, draw, draw_scales, fit_scale, fit_weibull

Basis = Literal["own", "shape-pooled", "pooled"]

FEWEST_FAILURES = 5
SEED = 20_260_101


@dataclass(frozen=True)
class FamilyFit:
    """A family's life. ``pool``: where what is not its own comes from: its class, *all pumps*, or empty.

    ``failures`` and ``censored`` are the family's own; ``draws`` [draws x 2] shapes and scales as they may also be.
    """

    fit: WeibullFit
    failures: int
    censored: int
    basis: Basis
    pool: str
    draws: Floats


def fit_families(
    lives: Lives, family_of: Sequence[str], class_of: Mapping[str, str], *, draws: int = DRAWS
) -> dict[str, FamilyFit]:
    """The fit of each family by its code; empty where no pump at all was ever overhauled. ``family_of`` each pump;
    ``class_of`` each family. The same lives give the same draws."""
    names = sorted(class_of)
    number = {name: place for place, name in enumerate(names)}
    owners = np.array([number[one] for one in family_of], dtype=np.int64)[lives.pump]
    classes = sorted(set(class_of.values()))
    of_class = np.array([classes.index(class_of[name]) for name in names], dtype=np.int64)[owners]
    everything = np.ones(len(owners), dtype=bool)
    fleet = _pooled(lives, everything, draws, [SEED])
    if fleet is None:
        return {}
    pools = {
        name: _pooled(lives, of_class == place, draws, [SEED, 1, place]) if len(classes) > 1 else None
        for place, name in enumerate(classes)
    }
    order = np.argsort(owners, kind="stable")
    bounds = np.searchsorted(owners[order], np.arange(len(names) + 1))
    found = {}
    for place, name in enumerate(names):
        mine = order[bounds[place] : bounds[place + 1]]
        ages, failed = lives.hours[mine], lives.failed[mine]
        failures = int(failed.sum())
        counts = failures, len(mine) - failures
        generator = np.random.default_rng([SEED, 2, place])
        pool, words = pools[class_of[name]], class_of[name]
        if pool is None or pool[0].failures < FEWEST_FAILURES:
            pool, words = fleet, "all pumps"
        if failures >= FEWEST_FAILURES:
            own = fit_weibull(ages, failed)
            found[name] = FamilyFit(own, *counts, "own", "", draw(own, generator, draws))
        elif failures:
            own = fit_scale(ages, failed, pool[0].shape)
            spread = draw_scales(ages, failed, pool[1][:, 0], generator)
            found[name] = FamilyFit(own, *counts, "shape-pooled", words, spread)
        else:
            found[name] = FamilyFit(pool[0], *counts, "pooled", words, pool[1])
    return found


def _pooled(lives: Lives, chosen: np.ndarray, draws: int, seed: Sequence[int]) -> tuple[WeibullFit, Floats] | None:
    """Of many families together; where even they have too few overhauls, with a chance that does not change with age
    (shape 1; common practice, no source). None without any."""
    ages, failed = lives.hours[chosen], lives.failed[chosen]
    failures = int(failed.sum())
    if failures == 0:
        return None
    fit = fit_weibull(ages, failed) if failures >= FEWEST_FAILURES else fit_scale(ages, failed, 1.0)
    return fit, draw(fit, np.random.default_rng(seed), draws)
