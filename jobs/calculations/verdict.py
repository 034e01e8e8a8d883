"""Whether a measured value conforms to its limits, its uncertainty counted against whoever must prove it.

Three rules: ``guard-band`` narrows the limits by the expanded uncertainty U for k = 2 (ISO 14253-1);
``guard-band-1.65u`` by 1.65 standard uncertainties, a conformance probability of 95 % at one limit (ISO 14253-1:2017,
factor value from memory), and asks for that probability between two limits that lie close together as well; ``simple``
compares the value alone, which carries up to 50 % risk at the limit (JCGM 106:2012, 8.2).
"""

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from assets.calculations.written_numbers import plain
from jobs.calculations.printed_quantities import unit_name
from jobs.calculations.written_limits import legible, lower_limit, upper_limit

Result = Literal["accept", "reject", "not-proved"]

COVERAGE_FACTOR = Decimal(2)
# Guard band as a multiple of the standard uncertainty.
_GUARD_FACTORS = {"guard-band": COVERAGE_FACTOR, "guard-band-1.65u": Decimal("1.65"), "simple": Decimal(0)}
DECISION_RULES = tuple(_GUARD_FACTORS)
# The conformance probability that a rule promises, where its guard band alone does not between two limits.
_ASSURED = {"guard-band-1.65u": 0.95}


VERDICT_WORDS: dict[str, str] = {"accept": "accepted", "reject": "rejected", "not-proved": "not proved"}


def verdict_words(result: str, lower: Decimal | None, upper: Decimal | None) -> str:
    """The verdict as people read it: what has no limits is recorded, and nothing was accepted."""
    return "recorded" if result == "accept" and lower is None and upper is None else VERDICT_WORDS[result]


class UnknownDecisionRule(ValueError):
    """The decision rule is none of those known here."""


@dataclass(frozen=True)
class Reason:
    """Why, as a code and as a sentence for the fitter."""

    code: str
    sentence: str


@dataclass(frozen=True)
class Verdict:
    """How far the value lies inside its limits: ``room_to_limit`` to the limit itself, ``room_left`` to the limit less
    the guard band. Negative outside; None without limits.
    """

    result: Result
    room_left: Decimal | None
    reasons: tuple[Reason, ...]
    room_to_limit: Decimal | None = None
    guard_band: Decimal = Decimal(0)


def judge(
    *,
    value: Decimal,
    expanded_uncertainty: Decimal,
    lower: Decimal | None,
    upper: Decimal | None,
    decision_rule: str,
    instrument_overdue: bool,
    unit: str = "",
) -> Verdict:
    """Accept, reject or not proved; value, expanded uncertainty (about 95 %, k = 2) and limits in one unit.

    The reasons end with the room that is left, in words; ``unit`` is only named there.

    With the guard band g: inside ``lower + g .. upper - g`` is accepted, outside ``lower - g .. upper + g`` rejected,
    between them neither is proved; nor is, by ``guard-band-1.65u``, what lies between two limits with a conformance
    probability below 95 %, as it can where they are less than five standard uncertainties apart. An instrument overdue
    for calibration proves no conformance: what would be accepted is then not proved; a rejection stands. Without limits
    the value is recorded as it is.

    Raises `UnknownDecisionRule`, and `ValueError` where the uncertainty is below zero or the limits cross.
    Source: ISO 14253-1:2017; JCGM 106:2012, 8.3.
    """
    guard = guard_band(expanded_uncertainty, decision_rule)
    if lower is not None and upper is not None and lower > upper:
        raise ValueError(f"The lower limit {lower} lies above the upper limit {upper}.")
    inside = [value - lower] if lower is not None else []
    inside += [upper - value] if upper is not None else []
    if not inside:
        result: Result = "accept"
        room_left = room_to_limit = None
        reasons = [Reason("no-limits", "No limits are set; the value is recorded as it is.")]
    else:
        room_to_limit = min(inside)
        room_left = room_to_limit - guard
        result, reasons = _weigh(room_to_limit, guard, value, expanded_uncertainty, lower, upper, unit)
        chance = conformance_probability(value, expanded_uncertainty / COVERAGE_FACTOR, lower, upper)
        assured = _ASSURED.get(decision_rule, 0.0)
        if result == "accept" and chance < assured:
            result, reasons = "not-proved", [_between_close_limits(chance, assured)]
    if instrument_overdue:
        if result == "accept":
            result = "not-proved"
        reasons.append(
            Reason(
                "calibration-overdue",
                "The instrument was overdue for calibration on that day: nothing measured with it can be accepted.",
            )
        )
    if room_to_limit is not None:
        nearer = "lower" if lower is not None and value - lower == room_to_limit else "upper"
        reasons.append(Reason("room-left", room_words(room_to_limit, guard, nearer, unit)))
    return Verdict(result, room_left, tuple(reasons), room_to_limit, guard)


def room_words(room_to_limit: Decimal, guard: Decimal, nearer: str, unit: str = "") -> str:
    """The room to the nearer limit, and to that limit less the guard band, in words."""
    of = f" {unit_name(unit)}" if unit else ""
    if room_to_limit >= 0:
        words = f"{legible(room_to_limit, unit)}{of} is left to the {nearer} limit"
    else:
        words = f"It lies {legible(-room_to_limit, unit)}{of} beyond the {nearer} limit"
    if not guard:
        return f"{words}; no guard band is kept."
    left, band = room_to_limit - guard, legible(guard, unit)
    if left >= 0:
        return f"{words}, {legible(left, unit)}{of} of it before the guard band of {band}{of} begins."
    return f"{words}; the guarded limit, {band}{of} inside, is passed by {legible(-left, unit)}{of}."


def guard_factor(decision_rule: str) -> Decimal:
    """The guard band as a multiple of half the expanded uncertainty. Raises `UnknownDecisionRule`."""
    if decision_rule not in _GUARD_FACTORS:
        raise UnknownDecisionRule(f"{decision_rule!r} is no decision rule; known: {', '.join(DECISION_RULES)}.")
    return _GUARD_FACTORS[decision_rule]


def guard_band(expanded_uncertainty: Decimal, decision_rule: str) -> Decimal:
    """The width by which each limit is narrowed. Raises `UnknownDecisionRule`, `ValueError`."""
    factor = guard_factor(decision_rule)
    if expanded_uncertainty < 0:
        raise ValueError("An uncertainty below zero makes no sense.")
    return factor * expanded_uncertainty / COVERAGE_FACTOR


def conformance_probability(
    value: Decimal, standard_uncertainty: Decimal, lower: Decimal | None, upper: Decimal | None
) -> float:
    """Chance that the true value lies within the limits, for a normal distribution (JCGM 106:2012, 7.3)."""
    if standard_uncertainty == 0:
        return float((lower is None or value >= lower) and (upper is None or value <= upper))
    below_upper = 1.0 if upper is None else _normal((upper - value) / standard_uncertainty)
    below_lower = 0.0 if lower is None else _normal((lower - value) / standard_uncertainty)
    return below_upper - below_lower


def _normal(z: Decimal) -> float:
    return 0.5 * math.erfc(-float(z) / math.sqrt(2))


def _weigh(
    inside: Decimal,
    guard: Decimal,
    value: Decimal,
    expanded_uncertainty: Decimal,
    lower: Decimal | None,
    upper: Decimal | None,
    unit: str,
) -> tuple[Result, list[Reason]]:
    """Result and reasons from how far inside its limits the value lies (negative: outside)."""
    (limits, written), band = _limits(value, lower, upper, unit), legible(guard, unit)
    if inside >= guard:
        words = f"with the guard band of {band} to spare" if guard else "by the value alone"
        return "accept", [Reason("within-limits", f"{written} lies within its limits ({limits}) {words}.")]
    if inside < -guard:
        words = f" by more than the guard band of {band}" if guard else ""
        return "reject", [Reason("outside-limits", f"{written} lies outside its limits ({limits}){words}.")]
    chance = conformance_probability(value, expanded_uncertainty / COVERAGE_FACTOR, lower, upper)
    reasons = [
        Reason(
            "within-guard-band",
            f"{written} lies closer to a limit ({limits}) than the guard band of {band}: neither conformance "
            f"nor the contrary is proved. The chance that it conforms is about {chance:.0%}.",
        )
    ]
    if lower is not None and upper is not None and upper - lower < 2 * guard:
        reasons.append(
            Reason(
                "uncertainty-too-large",
                f"Between the limits there is room for {legible(upper - lower, unit)}, less than two guard bands: no "
                "reading of this instrument could be accepted. Take one with a smaller uncertainty.",
            )
        )
    return "not-proved", reasons


def _between_close_limits(chance: float, assured: float) -> Reason:
    return Reason(
        "limits-close-together",
        "The guard band is kept at either limit, but the limits lie so close together that the chance that it conforms "
        f"is {chance:.1%}, less than {assured:.0%}. Take an instrument with a smaller uncertainty.",
    )


def _limits(value: Decimal, lower: Decimal | None, upper: Decimal | None, unit: str) -> tuple[str, str]:
    """Limits and value in words. In full where the shortened ones would tell another tale of which is larger."""
    low = None if lower is None else lower_limit(lower, unit)
    high = None if upper is None else upper_limit(upper, unit)
    written = legible(value, unit)
    shown = Decimal(written)
    below = lower is not None and low is not None and (value < lower) != (shown < Decimal(low))
    above = upper is not None and high is not None and (value > upper) != (shown > Decimal(high))
    if below or above:
        low, high = (None if one is None else plain(one) for one in (lower, upper))
        written = plain(value)
    if low is None:
        return f"at most {high}", written
    return (f"at least {low}" if high is None else f"{low} to {high}"), written
