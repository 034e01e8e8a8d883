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


@register.filter
def signed(value: Any) -> str:
    """A difference with its sign; a true minus, so that it is read as one."""
    return ("+" if Decimal(value) > 0 else "") + figure(value).replace("-", "\N{MINUS SIGN}")


@register.filter
def signed_money(value: Any) -> str:
    """An amount that was gained or lost."""
    return ("+" if Decimal(value) > 0 else "") + money(value).replace("-", "\N{MINUS SIGN}")


@register.filter
def unlocalised(value: Any) -> str:
    """A coordinate of a picture: always with a point, whatever the language."""
    return f"{float(value):g}"


@register.filter
def rounded(value: Any, places: int) -> str:
    """An estimate with so many decimals."""
    return f"{Decimal(value):.{places}f}"


@register.filter
def money_shown(value: Any) -> str:
    """An amount that was worked out, to two decimals."""
    return f"{Decimal(value):.2f}"


@register.filter
def percent(value: Any) -> str:
    """A share of one in percent; never rounded up to all of it."""
    hundred = Decimal(value) * 100
    return "over 99.99 %" if Decimal("99.995") <= hundred < 100 else f"{hundred:.2f} %"


@register.filter
def as_text(value: Any) -> str:
    """Whatever a document holds, as one line: lists by commas, names with their values."""
    if isinstance(value, dict):
        return "; ".join(f"{as_text(name)}: {as_text(one)}" for name, one in value.items())
    if isinstance(value, list | tuple):
        return ", ".join(as_text(one) for one in value)
    if value is None or value == "":
        return "nothing"
    return str(value).replace("_", " ")
