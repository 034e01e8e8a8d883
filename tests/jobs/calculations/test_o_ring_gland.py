"""O-rings in their grooves."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.calculations.o_ring_sizes import BY_CODE
from jobs.calculations.o_ring_gland import GlandUnusable, gland, section_loss


def of_code(code: str, *, groove: str | None, depth: str, width: str, service: str):
    """A ring of ISO 3601-1:2012 by its size code."""
    ring = BY_CODE[code]
    return gland(
        section_mm=ring.section_mm,
        depth_mm=Decimal(depth),
        width_mm=Decimal(width),
        service=service,
        inside_mm=ring.inside_mm,
        groove_diameter_mm=None if groove is None else Decimal(groove),
    )


@pytest.mark.parametrize(("stretched", "loss"), [("1", "0.97"), ("2", "1.73"), ("3", "2.29"), ("5", "3.40")])
def test_a_stretched_ring_is_thinner(stretched: str, loss: str) -> None:
    # ISO 3601-2 / SAE AS4716, loss of section by stretch (value from memory).
    assert abs(section_loss(Decimal(stretched)) - Decimal(loss)) < Decimal("0.01")


def test_the_two_formulas_of_thinning_join() -> None:
    # Both branches at 3 %: 2.2900 and 2.2886 % (ISO 3601-2, value from memory).
    assert abs(section_loss(Decimal(3)) - section_loss(Decimal("3.0001"))) < Decimal("0.002")


@given(st.decimals("0.5", "25", places=2))
def test_a_ring_keeps_its_volume(stretched: Decimal) -> None:
    # Rubber keeps its volume: the section goes with 1/sqrt(1 + X). The standard's fit lies within 2 points of that.
    volume = 100 * (1 - 1 / math.sqrt(1 + float(stretched) / 100))
    assert float(section_loss(stretched)) == pytest.approx(volume, abs=2.0)


def test_ring_210_on_a_piston_of_19_mm() -> None:
    # Geometry of a ring 18.64 x 3.53 (ISO 3601-1:2012 size 210) in a bore of 24.80 mm, groove 19.00 x 4.80.
    found = of_code("210", groove="19.00", depth="2.90", width="4.80", service="static-radial")
    assert found.stretch_percent is not None
    assert round(found.stretch_percent, 2) == Decimal("1.93")
    assert round(found.section_loss_percent, 2) == Decimal("1.68")
    assert round(found.stretched_section_mm, 3) == Decimal("3.471")
    assert round(found.squeeze_percent, 1) == Decimal("16.4")
    assert round(found.fill_percent, 1) == Decimal("70.3")
    assert found.finding == "good"


def test_ring_222_under_a_cover() -> None:
    # Geometry of a section of 3.53 mm (ISO 3601-1:2012 size 222), groove 2.70 x 4.80.
    found = of_code("222", groove=None, depth="2.70", width="4.80", service="static-face")
    assert (round(found.squeeze_percent, 1), round(found.fill_percent, 1)) == (Decimal("23.5"), Decimal("75.5"))
    assert (found.finding, found.stretch_percent) == ("good", None)


def test_a_ring_stretched_by_six_per_cent_is_warned_of() -> None:
    # Ring 9.25 x 1.78 (ISO 3601-1:2012 size 012) on 9.80 mm; more than 5 % (common practice, no source).
    found = of_code("012", groove="9.80", depth="1.30", width="2.40", service="static-radial")
    assert found.stretch_percent is not None
    assert round(found.stretch_percent, 2) == Decimal("5.95")
    assert (round(found.squeeze_percent, 1), round(found.fill_percent, 1)) == (Decimal("24.0"), Decimal("79.8"))
    assert found.finding == "watch"
    assert "Stretched by 5.9 %" in found.reasons[0]


def test_an_overfilled_groove_stops_the_work() -> None:
    # Ring 37.47 x 5.33 (ISO 3601-1:2012 size 325), groove 4.10 x 5.80; above 90 % (common practice, no source).
    found = of_code("325", groove="38.0", depth="4.10", width="5.80", service="static-radial")
    assert round(found.fill_percent, 1) == Decimal("93.8")
    assert found.finding == "stop"
    assert "overfilled" in found.reasons[0]


@pytest.mark.parametrize(("service", "finding"), [("static-radial", "watch"), ("reciprocating", "good")])
def test_a_ring_that_moves_may_have_more_room_than_one_that_lies_still(service: str, finding: str) -> None:
    # Common practice, no source: 65 to 85 % full where it lies still, up to 85 % where it moves. Ring 214, 3.53 mm
    # (ISO 3601-1:2012), in a groove of 2.95 x 5.50 mm: 9.787 / 16.225 = 60.3 %.
    found = of_code("214", groove="25.5", depth="2.95", width="5.50", service=service)
    assert round(found.fill_percent, 1) == Decimal("60.3")
    assert found.finding == finding


def test_a_ring_round_a_turning_shaft_is_not_stretched() -> None:
    # Common practice, no source: a stretched ring shortens when it warms up and grips the shaft.
    assert of_code("214", groove="25.5", depth="3.40", width="4.5", service="rotary").finding == "stop"


@pytest.mark.parametrize(("groove", "depth"), [("30", "2.9"), ("19", "0")])
def test_a_groove_that_the_ring_could_not_lie_in_is_refused(groove: str, depth: str) -> None:
    with pytest.raises(GlandUnusable):
        of_code("210", groove=groove, depth=depth, width="4.8", service="static-radial")
