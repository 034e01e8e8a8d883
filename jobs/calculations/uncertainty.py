"""How uncertain a measured value is, after the GUM (JCGM 100:2008).

Everything is in the unit of the readings. Sensitivity coefficients are 1: each part acts on the value as it is.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

COVERAGE_FACTOR = Decimal(2)
SOURCE = "JCGM 100:2008"
_SHOWN = Decimal("1e-9")


@dataclass(frozen=True)
class Part:
    """One part of the budget with its standard uncertainty."""

    name: str
    standard: Decimal


@dataclass(frozen=True)
class Budget:
    """Parts, the combined standard uncertainty, and the expanded uncertainty for k = 2."""

    parts: tuple[Part, ...]
    combined: Decimal
    expanded: Decimal


def instrument_budget(
    *, expanded_uncertainty_certificate: Decimal, resolution: Decimal, readings: Sequence[Decimal]
) -> Budget:
    """The uncertainty of a value read with one instrument.

    1. Calibration: half of the certificate's expanded uncertainty, which is stated for k = 2 (4.3.3). 2. Resolution:
    the reading stands anywhere in one step with equal chance, so step / sqrt(12) (4.3.7, F.2.2.1). 3. Repeatability:
    of two or more readings whose mean is the value, the standard deviation of that mean (4.2.3); without readings, or
    with one, there is no such part. Raises `ValueError` for an uncertainty or a step below zero.
    """
    if expanded_uncertainty_certificate < 0 or resolution < 0:
        raise ValueError("An uncertainty or a resolution below zero makes no sense.")
    standards = [
        ("calibration", expanded_uncertainty_certificate / COVERAGE_FACTOR),
        ("resolution", resolution / Decimal(12).sqrt()),
    ]
    if len(readings) > 1:
        standards.append(("repeatability", standard_deviation_of_mean(readings)))
    combined = combine(standard for _, standard in standards)
    return Budget(
        parts=tuple(Part(name, standard.quantize(_SHOWN)) for name, standard in standards),
        combined=combined,
        expanded=COVERAGE_FACTOR * combined,
    )


def standard_deviation_of_mean(readings: Sequence[Decimal]) -> Decimal:
    """s / sqrt(n) of two or more readings (JCGM 100:2008, 4.2.2 and 4.2.3)."""
    count = len(readings)
    mean = sum(readings, Decimal(0)) / count
    scatter = sum(((one - mean) ** 2 for one in readings), Decimal(0))
    return (scatter / (count - 1) / count).sqrt()


def combine(standards: Iterable[Decimal]) -> Decimal:
    """Root of the sum of squares of uncorrelated parts (JCGM 100:2008, 5.1.2)."""
    return sum((one**2 for one in standards), Decimal(0)).sqrt()
