"""What shaft and chamber must be before a seal goes in."""

from decimal import Decimal

import pytest

from jobs.calculations.seal_installation import CHECKS, SIZED_BY, SealCheckUnknown, light_bands, seal_check


@pytest.mark.parametrize(("bands", "height"), [(1, "0.29"), (2, "0.59"), (3, "0.88"), (5, "1.47")])
def test_a_light_band_is_half_a_wavelength_of_helium(bands: int, height: str) -> None:
    # NIST Atomic Spectra Database, He I line at 587.562 nm; bands on an optical flat stand half a wavelength apart.
    assert round(light_bands(bands), 2) == Decimal(height)


@pytest.mark.parametrize(("shaft", "limit"), [("35", "0.035"), ("50", "0.050"), ("125", "0.125"), ("200", "0.125")])
def test_concentricity_grows_with_the_shaft_up_to_an_eighth_of_a_millimetre(shaft: str, limit: str) -> None:
    # Common practice, no source: 0.025 mm for each 25 mm of shaft, at most 0.125 mm.
    assert seal_check("chamber-concentricity", Decimal(shaft)).upper == Decimal(limit)


def test_the_face_of_a_chamber_of_110_mm_may_swing_by_0_055_mm() -> None:
    # Common practice, no source: 0.5 um for each mm of bore.
    assert seal_check("chamber-face-run-out", Decimal(110)).upper == Decimal("0.055")


def test_a_shaft_may_run_out_by_0_05_mm() -> None:
    # Common practice, no source; API 610 asks for half of it (value from memory).
    assert seal_check("shaft-run-out").upper == Decimal("0.05")
    assert seal_check("shaft-run-out-api-610").upper == Decimal("0.025")


@pytest.mark.parametrize(
    ("check", "limit", "unit"),
    [
        # Common practice, no source; two figures are in use for end play.
        ("shaft-end-play", "0.10", "mm"),
        ("shaft-end-play-large", "0.25", "mm"),
        ("shaft-radial-play", "0.10", "mm"),
        ("shaft-undersize", "0.05", "mm"),
        ("shaft-finish", "0.8", "um"),
        ("chamber-face-finish", "1.6", "um"),
        ("chamber-bore-finish", "3.2", "um"),
        # API 610 (value from memory).
        ("shaft-deflection", "0.05", "mm"),
    ],
)
def test_plays_and_finishes_have_their_limits(check: str, limit: str, unit: str) -> None:
    found = seal_check(check)
    assert (found.upper, found.unit) == (Decimal(limit), unit)


def test_a_shaft_above_its_nominal_diameter_is_no_better_than_one_too_far_below() -> None:
    # Common practice, no source: shaft or sleeve +0/-0.05 mm under the seal; every other check has an upper limit only.
    found = seal_check("shaft-undersize")
    assert (found.lower, found.upper) == (0, Decimal("0.05"))
    assert found.sentence() == "Shaft or sleeve below its nominal diameter: 0 to 0.05 mm."
    others = [seal_check(one, Decimal(50) if SIZED_BY[one] else None) for one in CHECKS if one != "shaft-undersize"]
    assert all(one.lower is None for one in others)


@pytest.mark.parametrize("check", CHECKS)
def test_every_check_says_where_its_limit_comes_from(check: str) -> None:
    found = seal_check(check, Decimal(50) if SIZED_BY[check] else None)
    assert found.upper > 0
    assert "no source" in found.source or "from memory" in found.source


@pytest.mark.parametrize(
    ("check", "size"),
    [("shine", None), ("chamber-concentricity", None), ("chamber-face-run-out", "0"), ("chamber-face-run-out", "NaN")],
)
def test_a_check_without_its_size_is_refused(check: str, size: str | None) -> None:
    with pytest.raises(SealCheckUnknown):
        seal_check(check, None if size is None else Decimal(size))
