"""Residual unbalance that a rigid rotor may keep, after ISO 21940-11:2016 (formulas and grades value from memory).

A balance grade G is e_per times the angular speed in mm/s: a property of the rotor, not the vibration of the pump.
"""

from dataclasses import dataclass
from decimal import Decimal

PI = Decimal("3.14159265358979323846")
GRADES = ("0.4", "1", "2.5", "6.3", "16", "40")
_MOST_OF_ONE_PLANE, _LEAST_OF_ONE_PLANE = Decimal("0.7"), Decimal("0.3")
# U = 6350 W / n in g mm for each plane, W the mass that rests on its bearing (API 610, value from memory): both planes
# together G 0.66 of the whole rotor.
_API_610 = Decimal(6350)


class UnbalanceUnknown(ValueError):
    """The speed, mass or planes are not those of a rigid rotor between its bearings."""


@dataclass(frozen=True)
class Unbalance:
    """Permissible eccentricity in um, residual unbalance in g mm in all and for planes A and B; those of API 610."""

    eccentricity_um: Decimal
    total_g_mm: Decimal
    plane_a_g_mm: Decimal
    plane_b_g_mm: Decimal
    api_610_plane_a_g_mm: Decimal
    api_610_plane_b_g_mm: Decimal


def residual_unbalance(
    *,
    grade: str,
    mass_kg: Decimal,
    speed_rpm: Decimal,
    a_mm: Decimal | None = None,
    b_mm: Decimal | None = None,
) -> Unbalance:
    """e_per = 1000 G / (2 pi n / 60), U_per = e_per m, split between two planes near the bearings.

    ``a_mm`` and ``b_mm`` are the distances of planes A and B from the centre of mass: U_A = U b/(a + b), held between
    0.3 and 0.7 of the whole (ISO 21940-11:2016 clause 7, value from memory); half each where they are not given. The
    rotor's weight is taken to rest on the two planes as b and a have it, for API 610 without those ends.
    Raises `UnbalanceUnknown`.
    """
    if grade not in GRADES:
        raise UnbalanceUnknown(f"G {grade} is no balance grade known here; known: {', '.join(GRADES)}.")
    if speed_rpm <= 0 or mass_kg <= 0:
        raise UnbalanceUnknown("The rotor needs a mass and a speed above 0.")
    eccentricity = 1000 * Decimal(grade) / (2 * PI * speed_rpm / 60)
    total = eccentricity * mass_kg
    resting = Decimal("0.5")
    if a_mm is not None and b_mm is not None:
        if a_mm + b_mm <= 0:
            raise UnbalanceUnknown("The two planes must lie apart, with the centre of mass between them.")
        resting = b_mm / (a_mm + b_mm)
    share = min(max(resting, _LEAST_OF_ONE_PLANE), _MOST_OF_ONE_PLANE)
    api_610 = _API_610 * mass_kg / speed_rpm
    return Unbalance(
        eccentricity, total, share * total, (1 - share) * total, resting * api_610, (1 - resting) * api_610
    )


def mass_at(unbalance_g_mm: Decimal, radius_mm: Decimal) -> Decimal:
    """Grams at a radius that make an unbalance. Raises `UnbalanceUnknown` at the radius 0."""
    if radius_mm <= 0:
        raise UnbalanceUnknown("A mass at the radius 0 makes no unbalance.")
    return unbalance_g_mm / radius_mm
