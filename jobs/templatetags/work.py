"""How what is recorded of work is shown on pages."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import template

from assets.calculations.position_words import position_words
from jobs.calculations import written_limits
from jobs.calculations.printed_quantities import unit_name
from jobs.calculations.rules_in_words import condition_in_words, limits_in_words
from jobs.calculations.verdict import verdict_words

register = template.Library()
TONES = {"accepted": "good", "recorded": "good", "rejected": "short"}


@register.filter
def position(role: Any) -> str:
    """A position role in words."""
    return position_words(role)


@register.filter
def unit(kept: Any) -> str:
    """A unit as people write it: degC becomes °C."""
    return unit_name(str(kept))


@register.filter
def legible(value: Any, unit: str) -> str:
    """A measured figure in its unit, with the digits that an instrument tells."""
    return written_limits.legible(Decimal(value), unit)


@register.filter
def lower_limit(value: Any, unit: str) -> str:
    """A lower limit in its unit, with the digits that an instrument tells."""
    return written_limits.lower_limit(Decimal(value), unit)


@register.filter
def upper_limit(value: Any, unit: str) -> str:
    """An upper limit in its unit, with the digits that an instrument tells."""
    return written_limits.upper_limit(Decimal(value), unit)


@register.filter
def verdict(measured: Mapping[str, Any]) -> str:
    """The verdict on a measurement in words."""
    return verdict_words(measured["verdict"], measured["lower"], measured["upper"])


@register.filter
def condition(one: Any) -> str:
    """What a step of a procedure depends on, as its author wrote it."""
    return condition_in_words(one)


@register.filter
def limits(rule: Mapping[str, Any]) -> str:
    """Limits as their author wrote them."""
    return limits_in_words(rule)


@register.filter
def sentence(written: str) -> str:
    """What somebody wrote, ended as a sentence."""
    return written if written.rstrip().endswith((".", "!", "?", "…")) else f"{written.rstrip()}."


@register.filter
def tone(measured: Mapping[str, Any]) -> str:
    """The look that goes with a verdict."""
    return TONES.get(verdict(measured), "soon")


@register.filter
def last_value(points: list[Mapping[str, Any]], unit: str) -> str:
    """The value that was measured last, with the digits that an instrument tells."""
    return written_limits.legible(Decimal(str(points[-1]["value"])), unit)


@register.filter
def uncertain(value: Any) -> str:
    """An uncertainty to two significant digits, rounded up (JCGM 100:2008, 7.2.6)."""
    amount = Decimal(value)
    if not amount:
        return "0"
    step = Decimal(1).scaleb(amount.adjusted() - 1)
    return f"{amount.quantize(step, rounding='ROUND_CEILING'):f}"
