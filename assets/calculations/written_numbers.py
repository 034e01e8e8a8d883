"""How a quantity or a figure is written for people and in records: as its digits say, without an exponent."""

from decimal import Decimal


def plain(value: Decimal | int) -> str:
    """A number without trailing zeros: 2.500 as 2.5, 1E+2 as 100."""
    return f"{Decimal(value).normalize():f}"


def signed(value: Decimal | int) -> str:
    """A deviation with its sign; none where there is none."""
    return f"{Decimal(value).normalize():+f}" if value else "0"
