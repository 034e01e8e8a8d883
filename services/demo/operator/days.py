"""Days and times counted from the day of loading, and cure dates as packs carry them."""

import datetime
from dataclasses import dataclass

from kits.calculations.demand_history import months_before
from kits.calculations.storage_life import parse_cure, years_after


@dataclass(frozen=True)
class Days:
    """All dates of the operator, as offsets from ``today``."""

    today: datetime.date

    def off(self, days: int) -> datetime.date:
        """``days`` after today, negative for the past."""
        return self.today + datetime.timedelta(days=days)

    def in_month(self, back: int, day: int) -> datetime.date:
        """A day (at most 28) of the month ``back`` months before this one."""
        return months_before(self.today, back).replace(day=day)

    def cured_to_expire(self, days: int, years: int) -> datetime.date:
        """The cure date of what keeps ``years`` years and is out of date ``days`` days from today."""
        return years_after(self.off(days), -years)


def moment(day: datetime.date, hour: int, minute: int = 0) -> str:
    """A time in UTC as the files write it."""
    return f"{day.isoformat()} {hour:02d}:{minute:02d}"


def as_quarter(cured: datetime.date) -> str:
    """The last whole quarter at or before a cure date, as packs print it: ``3Q2025``."""
    year, quarter = cured.year, (cured.month - 1) // 3 + 1
    text = f"{quarter}Q{year}"
    if parse_cure(text) <= cured:
        return text
    return f"{quarter - 1}Q{year}" if quarter > 1 else f"4Q{year - 1}"
