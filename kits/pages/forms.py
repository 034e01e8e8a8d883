"""Reading what people write into the forms of stores."""

import datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from kits.calculations.storage_life import CureUnreadable, parse_cure
from services.api.refusals import InvalidValue


def decimal_of(text: str, what: str) -> Decimal:
    """A quantity as people write it, with a point or a comma. Raises `InvalidValue` with ``what`` in its sentence."""
    try:
        value = Decimal(text.strip().replace(",", "."))
    except InvalidOperation as error:
        raise InvalidValue(f"{what} is not a number.", remedy="Write a number such as 2.") from error
    if not value.is_finite() or abs(value) >= 10**9 or value != round(value, 3):
        raise InvalidValue(f"{what} is not a number that can be stocked.", remedy="Write a number such as 2.")
    return value


def date_of(text: str, what: str) -> datetime.date | None:
    """A day as a browser sends it; None where nothing is written. Raises `InvalidValue` with ``what`` in its
    sentence."""
    if not text.strip():
        return None
    try:
        return datetime.date.fromisoformat(text.strip())
    except ValueError as error:
        raise InvalidValue(f"{what} cannot be read.", remedy="Write it as 2027-01-31.") from error


def cure_date_of(text: str) -> Any:
    """A cure date as on a pack; None where nothing is written. Raises `InvalidValue`."""
    if not text.strip():
        return None
    try:
        return parse_cure(text)
    except CureUnreadable as error:
        raise InvalidValue(str(error), remedy="Write it as on the pack.") from error
