"""What a shaft and a seal chamber must be before a mechanical seal goes in.

Values the trade works by; each says so. The seal's maker has the last word. Sizes and limits in millimetres, the
flatness of a face in micrometres.
"""

from dataclasses import dataclass
from decimal import Decimal

PRACTICE = "common practice, no source"
API_610 = "API 610 (value from memory)"
# Wavelength of the helium line in micrometres (He I, 587.562 nm); a light band is half of it.
HELIUM_WAVELENGTH_UM = Decimal("0.587562")
FACE_BANDS_ALLOWED = 3


class SealCheckUnknown(ValueError):
    """The check is not known, or needs a size that is not given."""


@dataclass(frozen=True)
class SealCheck:
    """The largest value allowed, its unit, what it is in words, and where it comes from."""

    upper: Decimal
    unit: str
    words: str
    source: str


# What each check is of: None where the limit holds for every size.
SIZED_BY = {
    "shaft-run-out": None,
    "shaft-run-out-api-610": None,
    "shaft-end-play": None,
    "chamber-face-run-out": "the bore of the chamber",
    "chamber-concentricity": "the diameter of the shaft",
    "face-flatness": None,
}
CHECKS = tuple(SIZED_BY)
_FIXED = {
    "shaft-run-out": (Decimal("0.05"), "run-out of shaft or sleeve at the seal, full indicator swing", PRACTICE),
    "shaft-run-out-api-610": (Decimal("0.025"), "run-out of the shaft at the seal, full indicator swing", API_610),
    "shaft-end-play": (Decimal("0.10"), "end play of the shaft on rolling bearings", PRACTICE),
}
_FACE_PER_MM = Decimal("0.0005")
_CONCENTRICITY_PER_MM, _CONCENTRICITY_AT_MOST = Decimal("0.001"), Decimal("0.125")


def seal_check(check: str, size_mm: Decimal | None = None) -> SealCheck:
    """The limit of a check; ``size_mm`` is what `SIZED_BY` names for it. Raises `SealCheckUnknown`."""
    if check not in SIZED_BY:
        raise SealCheckUnknown(f"{check!r} is no check known here; known: {', '.join(CHECKS)}.")
    if check in _FIXED:
        upper, words, source = _FIXED[check]
        return SealCheck(upper, "mm", words, source)
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
