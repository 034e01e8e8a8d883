"""Suction head as it is offered, from a tank and from a gauge."""

from decimal import Decimal

from jobs.calculations.hydraulics import ATMOSPHERE_KPA, npsh_at_gauge, npsh_available
from jobs.calculations.offered.declared import (
    PRACTICE,
    Calculation,
    InputWrong,
    Outcome,
    Output,
    Source,
    of,
    quantity,
)
from jobs.calculations.offered.hydraulic import DENSITY, FAMILY, IAPWS, ISO_9906, READINGS, TEMPERATURE
from jobs.calculations.water import Water, water

_VAPOUR = quantity("vapour_pressure", "kPa", "0", "5000", "Vapour pressure where it is not water.", optional=True)
_ATMOSPHERE = quantity(
    "atmosphere", "kPa", "30", "120", "Pressure of the air; less at height.", usual=str(ATMOSPHERE_KPA)
)
_NPSHR = quantity("npsh_required", "m", "0", "100", "NPSHR of the pump at this flow, NPSH3.", optional=True)
_MARGIN = quantity("margin", "m", "0", "50", "Margin that is wanted above NPSHR.", usual="0.5")
_NPSH_OUTPUTS = (
    Output("npsh_available", "NPSHA at the datum of the pump.", "m", 2),
    Output("margin", "NPSHA less NPSHR.", "m", 2),
    Output("enough", "Whether the margin is there."),
    Output("density", "Density that was taken.", "kg/m3", 1),
    Output("vapour_pressure", "Vapour pressure that was taken, absolute.", "kPa", 3),
)
_NPSH_CAUTIONS = (
    READINGS,
    "NPSH3 is where the head has already dropped by 3 %; a pump that runs quietly needs more.",
    "Dissolved gas is not counted; hot or volatile liquids need their own vapour pressure.",
)
_NPSH_SOURCES = (ISO_9906, IAPWS, Source("margin of 0.5 to 1 m, or 10 to 35 %", "", "", PRACTICE))

_NPSH_LIQUID = (TEMPERATURE, DENSITY, _VAPOUR, _NPSHR, _MARGIN)


def _liquid(density: Decimal | None, vapour_pressure: Decimal | None, temperature: Decimal) -> Water:
    if (density is None) != (vapour_pressure is None):
        missing = "density" if density is None else "vapour_pressure"
        raise InputWrong(missing, "A liquid that is not water needs both.", "Give density and vapour_pressure.")
    if density is None or vapour_pressure is None:
        return water(temperature)
    return Water(vapour_pressure, density)


def _absolute(name: str, gauge: Decimal, atmosphere: Decimal) -> Decimal:
    """Gauge pressure and that of the air together, which is never below zero."""
    if gauge + atmosphere < 0:
        raise InputWrong(
            name, "With this pressure of the air it is below a vacuum.", "Give both as they are at one place."
        )
    return gauge + atmosphere


def _npsh(found: Decimal, liquid: Water, required: Decimal | None, margin: Decimal) -> Outcome:
    left = None if required is None else found - required
    enough = None if left is None else left >= margin
    words = f"NPSHA {found:.2f} m."
    if left is not None and required is not None:
        state = "that is enough" if enough else "that is too little, expect cavitation, noise and wear"
        side = "above" if left >= 0 else "below"
        words += f" {abs(left):.2f} m {side} the {required:.2f} m of the pump; {margin:.2f} m are wanted: {state}."
    if found <= 0:
        words += " The liquid boils before it reaches the pump."
    return Outcome(
        {
            "npsh_available": found,
            "margin": left,
            "enough": enough,
            "density": liquid.density_kg_m3,
            "vapour_pressure": liquid.vapour_pressure_kpa,
        },
        words,
    )


def _from_tank(
    *,
    surface_pressure: Decimal,
    atmosphere: Decimal,
    level: Decimal,
    losses: Decimal,
    temperature: Decimal,
    density: Decimal | None,
    vapour_pressure: Decimal | None,
    npsh_required: Decimal | None,
    margin: Decimal,
) -> Outcome:
    liquid = _liquid(density, vapour_pressure, temperature)
    found = npsh_available(
        surface_kpa_absolute=_absolute("surface_pressure", surface_pressure, atmosphere),
        vapour_pressure_kpa=liquid.vapour_pressure_kpa,
        level_above_datum_m=level,
        losses_m=losses,
        density_kg_m3=liquid.density_kg_m3,
    )
    return _npsh(found, liquid, npsh_required, margin)


def _from_gauge(
    *,
    gauge: Decimal,
    atmosphere: Decimal,
    gauge_height: Decimal,
    velocity: Decimal,
    temperature: Decimal,
    density: Decimal | None,
    vapour_pressure: Decimal | None,
    npsh_required: Decimal | None,
    margin: Decimal,
) -> Outcome:
    liquid = _liquid(density, vapour_pressure, temperature)
    _absolute("gauge", gauge, atmosphere)
    found = npsh_at_gauge(
        gauge_kpa=gauge,
        atmosphere_kpa=atmosphere,
        vapour_pressure_kpa=liquid.vapour_pressure_kpa,
        gauge_above_datum_m=gauge_height,
        velocity_m_s=velocity,
        density_kg_m3=liquid.density_kg_m3,
    )
    return _npsh(found, liquid, npsh_required, margin)


CALCULATIONS = (
    Calculation(
        name="npsh-available",
        title="Suction head that is available, from a tank",
        family=FAMILY,
        formula="NPSHA = (p - pv)/(rho g) + z - hf",
        inputs=(
            quantity("surface_pressure", "kPa", "-101", "10000", "Gauge pressure on the surface.", usual="0"),
            _ATMOSPHERE,
            quantity("level", "m", "-30", "200", "Surface above the pump's datum; negative where below."),
            quantity("losses", "m", "0", "100", "Losses of the suction pipe at this flow."),
            *_NPSH_LIQUID,
        ),
        outputs=_NPSH_OUTPUTS,
        sources=_NPSH_SOURCES,
        cautions=_NPSH_CAUTIONS,
        example={"level": of("2.0", "m"), "losses": of("0.8", "m"), "temperature": of("20", "degC")},
        perform=_from_tank,
    ),
    Calculation(
        name="npsh-from-suction-gauge",
        title="Suction head that is available, from a gauge",
        family=FAMILY,
        formula="NPSHA = (pg + pb - pv)/(rho g) + v^2/2g + z",
        inputs=(
            quantity("gauge", "kPa", "-101", "10000", "Gauge pressure at the suction."),
            _ATMOSPHERE,
            quantity("gauge_height", "m", "-20", "20", "Gauge above the pump's datum.", usual="0"),
            quantity("velocity", "m/s", "0", "20", "Velocity in the pipe at the gauge."),
            *_NPSH_LIQUID,
        ),
        outputs=_NPSH_OUTPUTS,
        sources=_NPSH_SOURCES,
        cautions=_NPSH_CAUTIONS,
        example={
            "gauge": of("-20", "kPa"),
            "gauge_height": of("0.3", "m"),
            "velocity": of("2.0", "m/s"),
            "temperature": of("20", "degC"),
        },
        perform=_from_gauge,
    ),
)
