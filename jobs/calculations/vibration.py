"""Vibration of pumps judged by zones: velocity r.m.s. on the bearing housing, ISO 10816-7:2009 (value from memory).

Zone A: as of a newly commissioned pump; B: long-term operation without restriction; C: limited operation until it can
be mended; D: damage must be expected. Category I: high demands on reliability, availability or safety; II: general use.
For rotodynamic pumps above 1 kW with at least three impeller vanes.
"""

from dataclasses import dataclass
from decimal import Decimal

SOURCE = "ISO 10816-7:2009 (value from memory)"
UNIT = "mm/s"
PI = Decimal("3.14159265358979323846")
CATEGORIES = ("I", "II")
ZONES = ("A", "B", "C", "D")

_SMALLEST_KW, _LARGE_ABOVE_KW = Decimal(1), Decimal(200)
# Upper ends of zones A, B and C in mm/s r.m.s., by category and whether the pump takes more than 200 kW.
_ENDS = {
    ("I", False): (Decimal("2.5"), Decimal("4.0"), Decimal("6.6")),
    ("I", True): (Decimal("3.5"), Decimal("5.0"), Decimal("7.6")),
    ("II", False): (Decimal("3.2"), Decimal("5.1"), Decimal("8.5")),
    ("II", True): (Decimal("4.2"), Decimal("6.1"), Decimal("9.5")),
}
# Alarm and trip as the standard rounds them, about 1.25 times the ends of zones B and C.
_WARNINGS = {
    ("I", False): (Decimal("5.0"), Decimal("8.3")),
    ("I", True): (Decimal("6.3"), Decimal("9.5")),
    ("II", False): (Decimal("6.4"), Decimal("10.6")),
    ("II", True): (Decimal("7.6"), Decimal("11.9")),
}


class OutsideScope(ValueError):
    """The standard does not speak of this pump, category or zone."""


@dataclass(frozen=True)
class Warnings:
    """Velocities r.m.s. in mm/s at which to give alarm and to stop the pump."""

    alarm: Decimal
    trip: Decimal


def zone_end(zone: str, category: str, power_kw: Decimal) -> Decimal:
    """The largest velocity r.m.s. in mm/s that still belongs to zone A, B or C. Raises `OutsideScope`."""
    if zone not in ZONES[:3]:
        raise OutsideScope(f"Zone {zone!r} has no upper end; write A, B or C.")
    return _ENDS[_row(category, power_kw)][ZONES.index(zone)]


def zone_of(velocity: Decimal, category: str, power_kw: Decimal) -> str:
    """The zone of a velocity r.m.s. in mm/s. A value on the end of a zone belongs to it (common practice, no source).

    Raises `OutsideScope`.
    """
    if velocity < 0:
        raise OutsideScope("A velocity r.m.s. cannot be negative.")
    ends = _ENDS[_row(category, power_kw)]
    return next((zone for zone, end in zip(ZONES, ends, strict=False) if velocity <= end), "D")


def warnings(category: str, power_kw: Decimal) -> Warnings:
    """Alarm and trip values for a pump in service. Raises `OutsideScope`."""
    return Warnings(*_WARNINGS[_row(category, power_kw)])


def displacement(velocity: Decimal, speed_rpm: Decimal) -> Decimal:
    """Peak-to-peak displacement in um of a velocity r.m.s. in mm/s that is all at the frequency of rotation.

    s = 2 sqrt(2) v / (2 pi n / 60). Raises `OutsideScope`.
    """
    if velocity < 0 or speed_rpm <= 0:
        raise OutsideScope("The velocity is 0 or more, the speed above 0.")
    return 2 * Decimal(2).sqrt() * velocity / (2 * PI * speed_rpm / 60) * 1000


def _row(category: str, power_kw: Decimal) -> tuple[str, bool]:
    if category not in CATEGORIES:
        raise OutsideScope(f"Category {category!r} is none; write I (high demands) or II (general use).")
    if not power_kw.is_finite() or power_kw <= _SMALLEST_KW:
        raise OutsideScope(f"The zones are for pumps above 1 kW; this one is rated {power_kw} kW.")
    return category, power_kw > _LARGE_ABOVE_KW
