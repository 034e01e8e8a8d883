"""How limits are shown on pages."""

from decimal import Decimal
from typing import Any

from django import template

from jobs.calculations import written_limits

register = template.Library()


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
