"""Lengths as they would be at 20 degC, the reference temperature of ISO 1.

Both the part and the instrument grow with the temperature. An instrument that is right at 20 degC and a part of the
same material at the same temperature need no correction; any other pair does.
"""

from dataclasses import dataclass
from decimal import Decimal

from jobs.calculations.uncertainty import Contribution, rectangular

REFERENCE_C = Decimal(20)
ISO_1 = "ISO 1 (reference temperature 20 °C)"
# Mean coefficients of linear expansion near 20 degC in 1/K. Steel as in JCGM 100:2008, H.1; the others are values from
# memory and spread by 1e-6 and more within each material: the part's own data come first.
EXPANSION_PER_K = {
    "steel": Decimal("0.0000115"),
    "chrome-steel": Decimal("0.0000105"),
    "stainless-steel": Decimal("0.0000160"),
    "cast-iron": Decimal("0.0000105"),
    "bronze": Decimal("0.0000175"),
    "brass": Decimal("0.0000190"),
    "aluminium": Decimal("0.0000238"),
}
# Half widths, rectangular. The coefficient as in JCGM 100:2008, H.1.3.5; the temperatures are common practice for a
# part and an instrument that lay beside each other in a workshop.
EXPANSION_HALF_WIDTH_PER_K = Decimal("0.000001")
TEMPERATURE_HALF_WIDTH_K = Decimal(1)
DIFFERENCE_HALF_WIDTH_K = Decimal(1)
FORMULA = "L20 = L × (1 + αg × (tg − 20 °C) − αw × (tw − 20 °C)); w the part, g the instrument"


@dataclass(frozen=True)
class Warmth:
    """Temperatures in degrees Celsius, coefficients in 1/K, half widths of what is not known better."""

    part_c: Decimal
    instrument_c: Decimal
    part_per_k: Decimal
    instrument_per_k: Decimal = EXPANSION_PER_K["steel"]
    temperature_half_width_k: Decimal = TEMPERATURE_HALF_WIDTH_K
    difference_half_width_k: Decimal = DIFFERENCE_HALF_WIDTH_K
    expansion_half_width_per_k: Decimal = EXPANSION_HALF_WIDTH_PER_K


def at_reference(length: Decimal, warmth: Warmth) -> Decimal:
    """A length as read, at 20 degC, in the unit it came in. Source: ISO 1; JCGM 100:2008, H.1.1 to the first order."""
    instrument = warmth.instrument_per_k * (warmth.instrument_c - REFERENCE_C)
    part = warmth.part_per_k * (warmth.part_c - REFERENCE_C)
    return length * (1 + instrument - part)


def temperature_contributions(length: Decimal, warmth: Warmth, unit: str, *, of: str = "") -> list[Contribution]:
    """What temperatures and coefficients add to the uncertainty of a length at 20 degC, in the length's unit.

    The variables of JCGM 100:2008, H.1.2: the part's temperature, how far the instrument's differs, the difference of
    the coefficients and the instrument's own. ``L20 = L (1 - (aw - ag)(tw - 20) - ag (tw - tg))``.
    """
    warm = warmth.part_c - REFERENCE_C
    return [
        rectangular(
            "temperature-difference",
            warmth.difference_half_width_k,
            "K",
            -length * warmth.instrument_per_k,
            of=of,
            words="between part and instrument; half width / √3, rectangular",
        ),
        rectangular(
            "temperature",
            warmth.temperature_half_width_k,
            "K",
            -length * (warmth.part_per_k - warmth.instrument_per_k),
            of=of,
            words="of the part, where its material grows unlike the instrument's; half width / √3, rectangular",
        ),
        rectangular(
            "expansion-difference",
            warmth.expansion_half_width_per_k,
            "1/K",
            -length * warm,
            of=of,
            words="of the coefficients of part and instrument; half width / √3, rectangular",
        ),
        rectangular(
            "instrument-expansion",
            warmth.expansion_half_width_per_k,
            "1/K",
            -length * (warmth.part_c - warmth.instrument_c),
            of=of,
            words="where the instrument is not as warm as the part; half width / √3, rectangular",
        ),
    ]
