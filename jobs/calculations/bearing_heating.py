"""How far to heat a bearing so that it slides onto its shaft, and when not to heat it at all.

Linear expansion: the bore must grow by the interference and by a clearance to slide with, so
``rise = (interference + clearance) / (alpha * bore)`` above the temperature of the shaft (the joining temperature of
the outer part in DIN 7190-1:2017, value from memory). The bearing's maker has the last word on its highest temperature.
"""

from dataclasses import dataclass
from decimal import Decimal

from assets.calculations.written_numbers import plain
from jobs.calculations.limits_and_fits import ISO_492, MICROMETRES_PER_MM, bearing_bore

# Mean coefficient of linear expansion of through-hardened bearing steel, 1/K (value from memory; 11.5 to 12.5 quoted).
EXPANSION_PER_K = Decimal("0.000012")
# Common practice, no source: 110 degC is the usual working limit, 120 degC the end for steel of ordinary stabilisation;
# the grease and the seals of a bearing closed for life bear about 80 degC.
WARN_ABOVE_C, CEILING_C, SEALED_CEILING_C = Decimal(110), Decimal(120), Decimal(80)
# How far above the bare minimum it is usual to go, so that the ring does not grip on the way (common practice).
USUAL_MARGIN_K = Decimal(20)
FORMULA = "rise = (shaft - smallest bore + clearance) / (alpha x bore), alpha = 12e-6 per K"
_SHOWN, _MICROMETRE = Decimal("0.1"), Decimal("0.001")
SOURCE = f"Linear thermal expansion; bore tolerance after {ISO_492}"

CAUTIONS = (
    "Hot parts burn and do not look hot: wear gloves rated for the temperature.",
    "Never use a naked flame. Heat evenly and measure the temperature at the inner ring.",
    "An induction heater can leave the outer ring far cooler than the inner one: heat slowly, and demagnetise after.",
    "Push the bearing home in one go and hold it against the shoulder until it grips; do not strike it.",
    "Let it cool by itself, then check again that it sits against the shoulder.",
    "The maker's instructions, the site's rules and local codes come before this figure.",
)
NO_OIL_BATH = "A sealed or greased bearing must not go into an oil bath."


@dataclass(frozen=True)
class HeatingAdvice:
    """Interference in mm (negative: clearance), rise in K above the shaft, temperatures in degrees Celsius."""

    interference_mm: Decimal
    temperature_rise_k: Decimal
    target_c: Decimal
    warn_above_c: Decimal
    ceiling_c: Decimal
    within_ceiling: bool
    sentence: str
    cautions: tuple[str, ...]
    formula: str = FORMULA
    source: str = SOURCE


def heating_advice(
    *,
    bore_mm: Decimal,
    shaft_diameter_mm: Decimal,
    room_temperature_c: Decimal,
    extra_clearance_mm: Decimal,
    sealed: bool,
) -> HeatingAdvice:
    """Temperature for mounting a radial bearing of normal class on a shaft as measured.

    1. The interference is the shaft as measured less the smallest bore that the bearing's tolerance allows. 2. The bore
    must grow by that and by ``extra_clearance_mm``; the rise counts from the room's temperature, which the shaft is
    taken to have. 3. Where only the clearance would take it above the ceiling, the clearance gives way down to the
    usual working limit, and the advice says how much is left. 4. Where the interference itself asks for more than the
    ceiling (120 degC, 80 degC where sealed or greased for life), the advice is to measure the seat again, not to heat.
    5. Without interference there is nothing to heat for. Shown to 0.1 K and 1 um.

    Raises `SizeOutsideTable` for a bore that no table holds.
    """
    smallest_bore = bore_mm + bearing_bore(bore_mm).lower_um / MICROMETRES_PER_MM
    interference = shaft_diameter_mm - smallest_bore
    ceiling = SEALED_CEILING_C if sealed else CEILING_C
    warn_above = min(WARN_ABOVE_C, ceiling)
    room = room_temperature_c.quantize(_SHOWN)
    least = (room + temperature_rise(interference, bore_mm)).quantize(_SHOWN)
    growth = interference + max(extra_clearance_mm, Decimal(0))
    wanted = (room + temperature_rise(growth, bore_mm)).quantize(_SHOWN)
    if interference <= 0:
        target = room
        sentence = _loose(-interference)
    elif least > ceiling:
        target = wanted
        sentence = _too_hot(target, ceiling, sealed)
    else:
        target = wanted if wanted <= ceiling else max(least, warn_above)
        sentence = _heat(interference, target, room, ceiling)
        if target < wanted:
            reached = (target - room) * EXPANSION_PER_K * bore_mm
            sentence += _clearance_left(reached - interference, target - least)
        elif growth == interference:
            sentence += _bare_least(ceiling - target)
        if target > warn_above:
            sentence += f" This is above the usual {plain(warn_above)} °C: check the size of the shaft first."
    return HeatingAdvice(
        interference_mm=interference.quantize(_MICROMETRE),
        temperature_rise_k=target - room,
        target_c=target,
        warn_above_c=warn_above,
        ceiling_c=ceiling,
        within_ceiling=target <= ceiling,
        sentence=sentence,
        cautions=(*CAUTIONS, NO_OIL_BATH) if sealed else CAUTIONS,
    )


def temperature_rise(growth_mm: Decimal, bore_mm: Decimal) -> Decimal:
    """Rise in K by which a bore of bearing steel grows by ``growth_mm``; 0 where it need not grow."""
    return max(growth_mm, Decimal(0)) / (EXPANSION_PER_K * bore_mm)


def _heat(interference: Decimal, target: Decimal, room: Decimal, ceiling: Decimal) -> str:
    return (
        f"Heat the bearing to about {target} °C, {target - room} K above the shaft, for an interference of up "
        f"to {interference * MICROMETRES_PER_MM:.0f} µm. Never above {plain(ceiling)} °C."
    )


def _bare_least(margin_k: Decimal) -> str:
    """Where nothing was asked to slide with (common practice, no source)."""
    if margin_k < USUAL_MARGIN_K:
        return " At that it only just slides and grips on the way: mount swiftly, or use a press."
    return " At that it only just slides: 20 to 30 K more, below that ceiling, keep it from gripping."


def _clearance_left(clearance: Decimal, margin_k: Decimal) -> str:
    words = f" At this temperature {clearance * MICROMETRES_PER_MM:.1f} µm are left to slide with, less than asked for."
    if margin_k < USUAL_MARGIN_K:
        words += " That is little: have everything at hand and mount swiftly, or use a press."
    return words


def _too_hot(target: Decimal, ceiling: Decimal, sealed: bool) -> str:
    kind = "a sealed or greased bearing" if sealed else "this bearing"
    return (
        f"Do not heat: this seat would need {target} °C, and {kind} bears {plain(ceiling)} °C. Measure the shaft "
        "again; if its size is right, ask before mounting."
    )


def _loose(gap: Decimal) -> str:
    return (
        f"The shaft is {gap * MICROMETRES_PER_MM:.0f} µm smaller than the smallest bore, so that a turning inner ring "
        "would creep. Measure the shaft again before mounting; heating does not mend a loose seat."
    )
