"""Tightening of screwed joints: torque from preload, and the order in which the screws of a cover are tightened.

T = K d F, with the nut factor K taken as it is given: K is an experience value that lubrication changes by a factor of
two, so it is always shown. Where the pump's maker states a torque that one rules; cast iron, bronze and soft gaskets
ask for less than the screw could bear.
"""

import math
from dataclasses import dataclass
from decimal import Decimal

from assets.calculations.fasteners import CARBON, COARSE, STAINLESS

SOURCE = "ISO 898-1:2013 stress areas and proof strengths; ISO 3506-1 for A2 and A4 (value from memory)"
CAUTION = (
    "The maker's torque rules where there is one; iron or bronze threads and soft gaskets take less. "
    "Stainless screws are lubricated, or they gall."
)
# Nominal stress area in mm2 of ISO metric coarse threads (ISO 898-1:2013 table 4; but M6 to M24 of the usual series,
# value from memory).
_STRESS_AREAS = {
    name: Decimal(area)
    for name, area in (
        ("M4", "8.78"), ("M5", "14.2"), ("M6", "20.1"), ("M8", "36.6"), ("M10", "58.0"), ("M12", "84.3"),
        ("M14", "115"), ("M16", "157"), ("M18", "192"), ("M20", "245"), ("M22", "303"), ("M24", "353"),
        ("M27", "459"), ("M30", "561"), ("M33", "694"), ("M36", "817"),
    )
}  # fmt: skip
# Proof strength in MPa up to and above M16 (ISO 898-1:2013); of stainless steels the stress at 0.2 % strain (ISO
# 3506-1:2020, value from memory).
_PROOF: dict[str, tuple[Decimal, Decimal | None]] = {
    **{name: (Decimal(small[1]), Decimal(large[1]) if large else None) for name, (small, large) in CARBON.items()},
    **{
        f"A{kind}-{strength}": (Decimal(STAINLESS[strength][1]),) * 2
        for kind in (2, 4)
        for strength in ("50", "70", "80")
    },
}
_LARGEST_OF_FIRST = Decimal(16)
# Shares of the full torque in three crosswise passes, then once round at the full one (common practice, no source).
PASSES = (Decimal("0.3"), Decimal("0.6"), Decimal(1))
# Which screw begins each round of four, where it is not every other one first (ASME PCC-1, value from memory).
_FIRSTS = {12: (1, 2, 3), 24: (1, 4, 2, 5, 3, 6)}
THREADS, PROPERTY_CLASSES = tuple(_STRESS_AREAS), tuple(_PROOF)


class TighteningUnknown(ValueError):
    """The thread, the property class or a factor is not one that can be used."""


@dataclass(frozen=True)
class Tightening:
    """Preload in kN, full torque and the torques of the crosswise passes in N m."""

    preload_kn: Decimal
    torque_nm: Decimal
    passes_nm: tuple[Decimal, ...]


def tightening(*, thread: str, property_class: str, nut_factor: Decimal, share_of_proof: Decimal) -> Tightening:
    """Torque for a preload of ``share_of_proof`` times the proof load; rounded to 0.1 N m and 0.1 kN.

    Raises `TighteningUnknown` for what is not in the tables, a share over 0.9, a nut factor outside 0.08 to 0.4.
    """
    if not Decimal(0) < share_of_proof <= Decimal("0.9"):
        raise TighteningUnknown(f"A share of {share_of_proof} of the proof load is outside 0 to 0.9; 0.75 is usual.")
    if not Decimal("0.08") <= nut_factor <= Decimal("0.4"):
        raise TighteningUnknown(f"A nut factor of {nut_factor} is outside 0.08 to 0.4; 0.15 oiled, 0.20 dry are usual.")
    preload = share_of_proof * proof_load(thread, property_class)
    torque = torque_for(preload, nut_factor, diameter(thread))
    return Tightening(_tenth(preload), _tenth(torque), tuple(_tenth(share * torque) for share in PASSES))


def proof_load(thread: str, property_class: str) -> Decimal:
    """Proof strength times nominal stress area, in kN. Raises `TighteningUnknown`."""
    if property_class not in _PROOF:
        raise TighteningUnknown(f"Class {property_class!r} is not known here; known: {', '.join(PROPERTY_CLASSES)}.")
    small, large = _PROOF[property_class]
    strength = small if diameter(thread) <= _LARGEST_OF_FIRST else large
    if strength is None:
        raise TighteningUnknown(f"ISO 898-1 has class {property_class} up to M{_LARGEST_OF_FIRST}, not for {thread}.")
    return strength * _STRESS_AREAS[thread] / 1000


def diameter(thread: str) -> Decimal:
    """Nominal diameter in mm. Raises `TighteningUnknown`."""
    if thread not in _STRESS_AREAS:
        raise TighteningUnknown(f"Thread {thread!r} is not known here; known: {', '.join(THREADS)}.")
    return Decimal(thread.removeprefix("M"))


def torque_for(preload_kn: Decimal, nut_factor: Decimal, diameter_mm: Decimal) -> Decimal:
    """T = K d F in N m, of a preload in kN and a diameter in mm."""
    return nut_factor * diameter_mm * preload_kn


def torque_with_friction(
    *,
    thread: str,
    preload_kn: Decimal,
    friction_in_thread: Decimal,
    friction_under_head: Decimal,
    bearing_diameter_mm: Decimal,
) -> Decimal:
    """T = F (0.159 P + 0.577 d2 mu_thread + D_Km/2 mu_head) in N m (the form of ISO 16047, value from memory).

    ``bearing_diameter_mm`` is the mean diameter on which head or nut turns. Raises `TighteningUnknown`.
    """
    pitch = COARSE[diameter(thread)]
    of_pitch, of_thread = Decimal("0.159") * pitch, Decimal("0.577") * pitch_diameter(thread) * friction_in_thread
    return preload_kn * (of_pitch + of_thread + bearing_diameter_mm / 2 * friction_under_head)


def pitch_diameter(thread: str) -> Decimal:
    """d2 = d - 0.75 sqrt(3)/2 P in mm (ISO 724:1993). Raises `TighteningUnknown`."""
    return diameter(thread) - Decimal(repr(0.75 * math.sqrt(3) / 2)) * COARSE[diameter(thread)]


def share_of_proof_reached(*, torque_nm: Decimal, thread: str, property_class: str, nut_factor: Decimal) -> Decimal:
    """The share of the proof load that a torque brings; above 1 the screw stretches for good.

    Raises `TighteningUnknown`.
    """
    return torque_nm / nut_factor / diameter(thread) / proof_load(thread, property_class)


def cross_pattern(screws: int) -> tuple[int, ...]:
    """The order in which screws on a circle, numbered round from 1, are tightened in each crosswise pass.

    Each is followed by the one across; of an even number in quarters where it divides by four, 12 and 24 in the order
    of ASME PCC-1 (value from memory). Three or an odd number go round by the step next to the half, which never takes
    two neighbours in turn from five screws on.
    Raises `TighteningUnknown` below three screws.
    """
    if screws < 3:
        raise TighteningUnknown("A cover has at least three screws.")
    if screws % 2:
        step = screws // 2
        return tuple(index * step % screws + 1 for index in range(screws))
    half = screws // 2
    if screws % 4:
        return tuple(place for first in range(1, half + 1) for place in (first, first + half))
    quarter = screws // 4
    firsts = _FIRSTS.get(screws) or (*range(1, quarter + 1, 2), *range(2, quarter + 1, 2))
    return tuple(first + turn for first in firsts for turn in (0, half, quarter, half + quarter))


def _tenth(value: Decimal) -> Decimal:
    return value.quantize(Decimal("0.1"))
