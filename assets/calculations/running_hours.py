"""Readings of hour meters: a meter never runs backwards; a new meter begins anew."""

from decimal import Decimal


class HoursRefused(ValueError):
    """A reading that cannot be right."""


def check_reading(*, hours: Decimal, meter_change: bool, before: Decimal | None, after: Decimal | None) -> None:
    """Raise `HoursRefused` where a reading is lower than the one before it or higher than the one after it on the
    same meter. ``after`` is the next reading in time, None where that one begins a new meter."""
    if hours < 0:
        raise HoursRefused("Hours cannot be below zero.")
    if not meter_change and before is not None and hours < before:
        raise HoursRefused(f"The reading before was {before} h; a lower one needs meter_change.")
    if after is not None and hours > after:
        raise HoursRefused(f"The next reading in time is {after} h, lower than this one.")
