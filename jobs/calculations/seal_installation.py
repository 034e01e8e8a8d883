"""What a shaft and a seal chamber must be before a mechanical seal goes in.

Values the trade works by; each says so. The seal's maker has the last word. Sizes and limits in millimetres, the
flatness of a face in micrometres.
"""

from dataclasses import dataclass
from decimal import Decimal

from jobs.calculations.written_limits import lower_limit, upper_limit

PRACTICE = "common practice, no source"
API_610 = "API 610 (value from memory)"
# Wavelength of the helium line in micrometres (He I, 587.562 nm); a light band is half of it.
HELIUM_WAVELENGTH_UM = Decimal("0.587562")
FACE_BANDS_ALLOWED = 3


class SealCheckUnknown(ValueError):
    """The check is not known, or needs a size that is not given."""


@dataclass(frozen=True)
class SealCheck:
    """The largest value allowed, its unit, what it is in words, and where it comes from; the smallest value where less
    than that is wrong too."""

    upper: Decimal
    unit: str
    words: str
    source: str
    lower: Decimal | None = None

    def sentence(self) -> str:
        """The limit in words; three light bands as 0.88 µm, not in millionths of a micrometre."""
        most = f"{upper_limit(self.upper, self.unit)} {'µm' if self.unit == 'um' else self.unit}"
        ends = f"at most {most}" if self.lower is None else f"{lower_limit(self.lower, self.unit)} to {most}"
        return f"{self.words[0].upper()}{self.words[1:]}: {ends}."


# What each check is of: None where the limit holds for every size.
SIZED_BY = {
    "shaft-run-out": None,
    "shaft-run-out-api-610": None,
    "shaft-end-play": None,
    "chamber-face-run-out": "the bore of the chamber",
    "chamber-concentricity": "the diameter of the shaft",
    "face-flatness": None,
    "shaft-end-play-large": None,
    "shaft-radial-play": None,
    "shaft-deflection": None,
    "shaft-undersize": None,
    "shaft-finish": None,
    "chamber-face-finish": None,
    "chamber-bore-finish": None,
}
CHECKS = tuple(SIZED_BY)
# Limit, its unit, what it is of, whose figure it is. Two figures are in use for end play: the model's own data decide.
_FIXED = {
    "shaft-run-out": (Decimal("0.05"), "mm", "run-out of shaft or sleeve at the seal, full indicator swing", PRACTICE),
    "shaft-run-out-api-610": (
        Decimal("0.025"), "mm", "run-out of the shaft at the seal, full indicator swing", API_610,
    ),
    "shaft-end-play": (Decimal("0.10"), "mm", "end play of the shaft on rolling bearings", PRACTICE),
    "shaft-end-play-large": (
        Decimal("0.25"), "mm", "end play of the shaft where the seal's maker allows the larger figure", PRACTICE,
    ),
    "shaft-radial-play": (Decimal("0.10"), "mm", "radial play of the shaft on rolling bearings", PRACTICE),
    "shaft-deflection": (Decimal("0.05"), "mm", "deflection of the shaft at the seal faces, worst load", API_610),
    "shaft-undersize": (Decimal("0.05"), "mm", "shaft or sleeve below its nominal diameter", PRACTICE),
    "shaft-finish": (Decimal("0.8"), "um", "roughness Ra of shaft or sleeve under the seal", PRACTICE),
    "chamber-face-finish": (Decimal("1.6"), "um", "roughness Ra of the face of the chamber", PRACTICE),
    "chamber-bore-finish": (Decimal("3.2"), "um", "roughness Ra of the bore of the chamber", PRACTICE),
}  # fmt: skip
# A shaft above its nominal diameter would not take the seal, or stretch its ring.
_AT_LEAST = {"shaft-undersize": Decimal(0)}
_FACE_PER_MM = Decimal("0.0005")
_CONCENTRICITY_PER_MM, _CONCENTRICITY_AT_MOST = Decimal("0.001"), Decimal("0.125")


def seal_check(check: str, size_mm: Decimal | None = None) -> SealCheck:
    """The limit of a check; ``size_mm`` is what `SIZED_BY` names for it. Raises `SealCheckUnknown`."""
    if check not in SIZED_BY:
        raise SealCheckUnknown(f"{check!r} is no check known here; known: {', '.join(CHECKS)}.")
    if check in _FIXED:
        return SealCheck(*_FIXED[check], lower=_AT_LEAST.get(check))
    if check == "face-flatness":
        return SealCheck(
            light_bands(FACE_BANDS_ALLOWED),
            "um",
            f"flatness of a seal face, {FACE_BANDS_ALLOWED} helium light bands",
            PRACTICE,
        )
    if size_mm is None or not size_mm.is_finite() or size_mm <= 0:
        raise SealCheckUnknown(f"{check} depends on {SIZED_BY[check]}: give its size in mm.")
    if check == "chamber-face-run-out":
        words = "chamber face square to the shaft, 0.5 µm of indicator swing for each mm of bore"
        return SealCheck(_FACE_PER_MM * size_mm, "mm", words, PRACTICE)
    upper = min(_CONCENTRICITY_PER_MM * size_mm, _CONCENTRICITY_AT_MOST)
    words = "chamber concentric to the shaft, 0.025 mm for each 25 mm of shaft up to 0.125 mm"
    return SealCheck(upper, "mm", words, PRACTICE)


def light_bands(count: int) -> Decimal:
    """Height in micrometres that ``count`` helium light bands on an optical flat stand for."""
    return count * HELIUM_WAVELENGTH_UM / 2
