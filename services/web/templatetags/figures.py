"""How figures are shown on pages."""

from decimal import Decimal
from typing import Any

from django import template

register = template.Library()


@register.filter
def figure(value: Any) -> str:
    """A quantity without trailing zeros and without an exponent."""
    return f"{Decimal(value).normalize():f}" if value is not None else "–"


@register.filter
def money(value: Any) -> str:
    """An amount with at least its two decimals."""
    amount = Decimal(value).normalize()
    return f"{amount:.2f}" if amount == round(amount, 2) else f"{amount:f}"


@register.filter
def words(value: Any) -> str:
    """A code of ours as words: part-received becomes part received."""
    return str(value).replace("-", " ")
