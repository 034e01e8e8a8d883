"""An expectation of overhauls in sentences."""

from collections.abc import Mapping, Sequence
from typing import Any

from jobs.calculations.life_families import FamilyFit

BASES = {
    "own": "from its own overhauls",
    "shape-pooled": "the scale from its own overhauls, the shape from {pool}, since it has fewer than five",
    "pooled": "from {pool}, since none of its own came up",
}


def fit_shown(name: str, fit: FamilyFit) -> dict[str, Any]:
    """A family's fit in numbers and a sentence."""
    basis = BASES[fit.basis].format(pool=fit.pool)
    sentence = (
        f"{name}: {fit.failures} overhaul{'' if fit.failures == 1 else 's'} that nobody had planned and "
        f"{fit.censored} {'life' if fit.censored == 1 else 'lives'} longer than told; "
        f"shape {fit.fit.shape:.2f}, scale {fit.fit.scale:.0f} h, mean life {fit.fit.mean:.0f} h, {basis}."
    )
    return {
        "family": name,
        "shape": round(fit.fit.shape, 6),
        "scale_hours": round(fit.fit.scale, 3),
        "mean_life_hours": round(fit.fit.mean, 3),
        "failures": fit.failures,
        "censored": fit.censored,
        "basis": fit.basis,
        "pool": fit.pool,
        "words": sentence,
    }


def words_of_month(
    figures: Mapping[str, Any], planned: Sequence[Mapping[str, Any]], wear: Sequence[Mapping[str, Any]] = ()
) -> str:
    """One month of one item. ``wear``: pumps that wear brings forward."""
    jobs = ", ".join(f"{one['job']} on {one['day']}" for one in planned)
    pumps, history = figures["pumps"], 100 * figures["weight_of_history"]
    sentences = [
        f"Planned: {jobs}." if planned else "Nothing is planned.",
        f"Of {pumps} pumps {figures['mean']:.2f} more overhauls are expected to need it;",
        f"none with a chance of {100 * figures['no_overhaul']:.0f} %.",
        f"With what is planned, at most {figures['q95']} in 19 of 20 such months.",
        (
            f"History alone says {figures['history_mean']:.2f} and counts {history:.0f} %, the pumps "
            f"{100 - history:.0f} %;"
        ),
        f"with {figures['walk_in_mean']:.2f} that no job asks for, {figures['blended_mean']:.2f} in all beside what",
        "is planned.",
    ]
    if wear:
        sooner = ", ".join(f"{one['pump']} ({one['name']}, {_on(one['expected_on'])})" for one in wear)
        sentences.append(f"Wear brings forward: {sooner}.")
    return " ".join(sentences)


def _on(day: str | None) -> str:
    return f"expected on {day}" if day else "expected later than a hundred years on"


def words_of_pump(row: Mapping[str, Any]) -> str:
    """The outlook of one pump."""
    if row["fit"] is None:
        return "Nothing tells how long such pumps run: no overhaul of any pump is recorded."
    age = row["age_hours"]
    begun = "since its last overhaul" if row["overhauled_on"] else "since it was new"
    first = (
        "Nothing tells when it was new or overhauled, so the mean of any age is taken."
        if age is None
        else f"It has run {age:.0f} h {begun}, {row['hours_a_day']:.1f} h a day."
    )
    if row["hours_a_day"] == 0:
        first += " It is not in service, so no hours come on."
    if row["planned_on"]:
        first += f" An overhaul is planned on {row['planned_on']} (job {row['planned_job']})."
    chances = ", ".join(f"{100 * one['chance']:.0f} % within {one['months']} months" for one in row["chances"])
    wear = row.get("wear")
    if wear:
        first += f" {wear['name']} is expected at its limit on {wear['expected_on']}."
    return f"{first} Chance that it has to be overhauled, were nothing planned: {chances}. {row['fit']['words']}"
