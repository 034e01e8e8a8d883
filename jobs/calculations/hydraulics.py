"""Head, power, suction head and speed of a centrifugal pump.

Flow in m3/h, head in m of the pumped liquid, power in kW, pressure in kPa, speed in rpm, density in kg/m3, bores in mm.
"""

from dataclasses import dataclass
from decimal import Decimal

GRAVITY = Decimal("9.80665")
ATMOSPHERE_KPA = Decimal("101.325")
PI = Decimal("3.14159265358979323846")
_SECONDS, _PASCALS = Decimal(3600), Decimal(1000)
# n q after the metric habit to the number of type of ISO 9906, and to US units (rpm, gal/min, ft).
_TO_TYPE_NUMBER, _TO_US = Decimal("52.9"), Decimal("51.64")
_THREE_QUARTERS = Decimal("0.75")


class HydraulicsUnknown(ValueError):
    """A quantity that must be above 0 is not, or more comes out than goes in."""


@dataclass(frozen=True)
class Duty:
    """Flow in m3/h, head in m, power in kW (None where it was not measured)."""

    flow_m3h: Decimal
    head_m: Decimal
    power_kw: Decimal | None = None


def head_of_pressure(pressure_kpa: Decimal, density_kg_m3: Decimal) -> Decimal:
    """p / (rho g) in m of the liquid."""
    return pressure_kpa * _PASCALS / (density_kg_m3 * GRAVITY)


def velocity(flow_m3h: Decimal, bore_mm: Decimal) -> Decimal:
    """Mean velocity in a pipe in m/s. Raises `HydraulicsUnknown` for a bore of 0."""
    if bore_mm <= 0:
        raise HydraulicsUnknown("A pipe has a bore above 0.")
    return flow_m3h / _SECONDS / (PI / 4 * (bore_mm / 1000) ** 2)


def velocity_head(velocity_m_s: Decimal) -> Decimal:
    """v^2 / 2g in m."""
    return velocity_m_s**2 / (2 * GRAVITY)


def total_head(
    *,
    discharge_kpa: Decimal,
    suction_kpa: Decimal,
    height_difference_m: Decimal,
    flow_m3h: Decimal,
    suction_bore_mm: Decimal,
    discharge_bore_mm: Decimal,
    density_kg_m3: Decimal,
) -> Decimal:
    """H = (p2 - p1)/(rho g) + (z2 - z1) + (v2^2 - v1^2)/2g in m (ISO 9906:2012, 3.2); gauge pressures."""
    lift = head_of_pressure(discharge_kpa - suction_kpa, density_kg_m3) + height_difference_m
    v1, v2 = velocity(flow_m3h, suction_bore_mm), velocity(flow_m3h, discharge_bore_mm)
    return lift + velocity_head(v2) - velocity_head(v1)


def npsh_available(
    *,
    surface_kpa_absolute: Decimal,
    vapour_pressure_kpa: Decimal,
    level_above_datum_m: Decimal,
    losses_m: Decimal,
    density_kg_m3: Decimal,
) -> Decimal:
    """NPSHA = (p - pv)/(rho g) + z - hf in m, from the surface of the liquid; z is negative where it lies below."""
    return head_of_pressure(surface_kpa_absolute - vapour_pressure_kpa, density_kg_m3) + level_above_datum_m - losses_m


def npsh_at_gauge(
    *,
    gauge_kpa: Decimal,
    atmosphere_kpa: Decimal,
    vapour_pressure_kpa: Decimal,
    gauge_above_datum_m: Decimal,
    velocity_m_s: Decimal,
    density_kg_m3: Decimal,
) -> Decimal:
    """NPSHA = (pg + pb - pv)/(rho g) + v^2/2g + z in m, from a gauge at the suction branch."""
    pressure = gauge_kpa + atmosphere_kpa - vapour_pressure_kpa
    return head_of_pressure(pressure, density_kg_m3) + velocity_head(velocity_m_s) + gauge_above_datum_m


def hydraulic_power(flow_m3h: Decimal, head_m: Decimal, density_kg_m3: Decimal) -> Decimal:
    """rho g Q H in kW."""
    return density_kg_m3 * GRAVITY * flow_m3h / _SECONDS * head_m / _PASCALS


def efficiency(duty: Duty, density_kg_m3: Decimal) -> Decimal:
    """Hydraulic power by the power at the shaft, 0 to 1. Raises `HydraulicsUnknown` without power or above 1."""
    if duty.power_kw is None or duty.power_kw <= 0:
        raise HydraulicsUnknown("Without power at the shaft there is no efficiency.")
    found = hydraulic_power(duty.flow_m3h, duty.head_m, density_kg_m3) / duty.power_kw
    if found > 1:
        raise HydraulicsUnknown(
            f"More comes out than goes in: an efficiency of {found:.0%}. Check units, density and the power reading."
        )
    return found


def at_speed(duty: Duty, from_rpm: Decimal, to_rpm: Decimal) -> Duty:
    """Affinity laws: Q goes with n, H with n^2, P with n^3. Raises `HydraulicsUnknown` for a speed of 0."""
    if from_rpm <= 0 or to_rpm <= 0:
        raise HydraulicsUnknown("A speed is above 0.")
    ratio = to_rpm / from_rpm
    power = None if duty.power_kw is None else duty.power_kw * ratio**3
    return Duty(duty.flow_m3h * ratio, duty.head_m * ratio**2, power)


TRIM_LAWS = ("small-trim", "geometric")


def at_diameter(duty: Duty, from_mm: Decimal, to_mm: Decimal, law: str) -> Duty:
    """A trimmed impeller. ``small-trim``: Q, H, P go with D, D^2, D^3; ``geometric``: with D^3, D^2, D^5.

    The first is the habit for a few per cent of the same impeller, the second holds for pumps scaled as a whole.
    """
    ratio = to_mm / from_mm
    of_flow, of_power = (1, 3) if law == TRIM_LAWS[0] else (3, 5)
    power = None if duty.power_kw is None else duty.power_kw * ratio**of_power
    return Duty(duty.flow_m3h * ratio**of_flow, duty.head_m * ratio**2, power)


@dataclass(frozen=True)
class SpecificSpeed:
    """n q in the metric habit (rpm, m3/s, m), in US units, and without dimension (the type number K of ISO 9906)."""

    metric: Decimal
    us: Decimal
    type_number: Decimal


def specific_speed(speed_rpm: Decimal, flow_m3h: Decimal, head_per_stage_m: Decimal) -> SpecificSpeed:
    """nq = n sqrt(Q) / H^0.75 of one stage at best efficiency. Raises `HydraulicsUnknown`."""
    if min(speed_rpm, flow_m3h, head_per_stage_m) <= 0:
        raise HydraulicsUnknown("Speed, flow and head are above 0.")
    metric = speed_rpm * (flow_m3h / _SECONDS).sqrt() / head_per_stage_m**_THREE_QUARTERS
    return SpecificSpeed(metric, metric * _TO_US, metric / _TO_TYPE_NUMBER)
