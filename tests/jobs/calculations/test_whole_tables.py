"""Tables of the trade from the first row to the last, and formulas against the definitions that they come from."""

import math
from decimal import Decimal

import pytest

from jobs.calculations.alignment_tolerances import alignment_tolerance
from jobs.calculations.hydraulics import hydraulic_power, specific_speed
from jobs.calculations.limits_and_fits import bearing_bore, bearing_outside
from jobs.calculations.o_ring_gland import gland
from jobs.calculations.tightening import tightening
from jobs.calculations.vibration import warnings, zone_end
from jobs.calculations.wear_rings import least_clearance

A_LITTLE = Decimal("0.001")


@pytest.mark.parametrize(
    ("over", "up_to", "lower"),
    [
        ("2.5", "10", -8), ("10", "18", -8), ("18", "30", -10), ("30", "50", -12), ("50", "80", -15),
        ("80", "120", -20), ("120", "180", -25), ("180", "250", -30),
    ],
)  # fmt: skip
def test_bores_of_bearings(over: str, up_to: str, lower: int) -> None:
    # ISO 492, normal class, mean bore in one plane, um: over the one end, up to and including the other.
    for bore in (Decimal(over) + A_LITTLE, Decimal(up_to)):
        assert (bearing_bore(bore).upper_um, bearing_bore(bore).lower_um) == (0, lower)


@pytest.mark.parametrize(
    ("over", "up_to", "lower"),
    [
        ("18", "30", -9), ("30", "50", -11), ("50", "80", -13), ("80", "120", -15), ("120", "150", -18),
        ("150", "180", -25), ("180", "250", -30), ("250", "315", -35),
    ],
)  # fmt: skip
def test_outsides_of_bearings(over: str, up_to: str, lower: int) -> None:
    # ISO 492, normal class, mean outside diameter in one plane, um (value from memory).
    for outside in (Decimal(over) + A_LITTLE, Decimal(up_to)):
        assert (bearing_outside(outside).upper_um, bearing_outside(outside).lower_um) == (0, lower)


@pytest.mark.parametrize(
    ("first", "last", "clearance"),
    [
        ("50", "64.99", "0.28"), ("65", "79.99", "0.30"), ("80", "89.99", "0.33"), ("90", "99.99", "0.35"),
        ("100", "114.99", "0.38"), ("115", "124.99", "0.40"), ("125", "149.99", "0.43"), ("150", "174.99", "0.45"),
        ("175", "199.99", "0.48"), ("200", "224.99", "0.50"), ("225", "249.99", "0.53"), ("250", "274.99", "0.55"),
        ("275", "299.99", "0.58"), ("300", "324.99", "0.60"), ("325", "349.99", "0.63"), ("350", "374.99", "0.65"),
        ("375", "399.99", "0.68"), ("400", "424.99", "0.70"), ("500", "524.99", "0.80"), ("600", "624.99", "0.90"),
        ("625", "649.99", "0.95"),
    ],
)  # fmt: skip
def test_new_wear_rings(first: str, last: str, clearance: str) -> None:
    # API 610 / ISO 13709, least diametral clearance in mm, the column in mm.
    assert [least_clearance(Decimal(one)) for one in (first, last)] == [Decimal(clearance)] * 2


@pytest.mark.parametrize(
    ("thread", "torques"),
    [
        # N m at 0.75 of stress area x strength, ISO 898-1:2013 (A2-70 450 MPa after ISO 3506-1, value from memory):
        # 8.8 with K 0.15, 10.9 with K 0.15, A2-70 with K 0.12.
        ("M6", (7.9, 11.3, 4.9)), ("M8", (19.1, 27.3, 11.9)), ("M10", (37.8, 54.2, 23.5)), ("M12", (66.0, 94.5, 41.0)),
        ("M16", (163.9, 234.6, 101.7)), ("M20", (331, 457, 198)), ("M24", (572, 791, 343)),
    ],
)  # fmt: skip
def test_torques_of_lubricated_screws(thread: str, torques: tuple[float, float, float]) -> None:
    for (name, nut_factor), torque in zip((("8.8", "0.15"), ("10.9", "0.15"), ("A2-70", "0.12")), torques, strict=True):
        found = tightening(
            thread=thread, property_class=name, nut_factor=Decimal(nut_factor), share_of_proof=Decimal("0.75")
        )
        assert float(found.torque_nm) == pytest.approx(torque, abs=0.5 if thread in {"M20", "M24"} else 0.06)


@pytest.mark.parametrize(
    ("category", "power", "ends", "alarm", "trip"),
    [
        # ISO 10816-7:2009, mm/s r.m.s.: ends of zones A, B and C, alarm and trip (value from memory).
        ("I", "200", ("2.5", "4.0", "6.6"), "5.0", "8.3"),
        ("I", "200.1", ("3.5", "5.0", "7.6"), "6.3", "9.5"),
        ("II", "200", ("3.2", "5.1", "8.5"), "6.4", "10.6"),
        ("II", "200.1", ("4.2", "6.1", "9.5"), "7.6", "11.9"),
    ],
)
def test_zones_of_vibration(category: str, power: str, ends: tuple[str, ...], alarm: str, trip: str) -> None:
    found = [zone_end(zone, category, Decimal(power)) for zone in "ABC"]
    levels = warnings(category, Decimal(power))
    assert found == [Decimal(one) for one in ends]
    assert (levels.alarm, levels.trip) == (Decimal(alarm), Decimal(trip))


@pytest.mark.parametrize(
    ("speed", "gap"),
    [(750, ("0.13", "0.09")), (1500, ("0.07", "0.05")), (3000, ("0.04", "0.03")), (6000, ("0.03", "0.02"))],
)
def test_gaps_of_couplings(speed: int, gap: tuple[str, str]) -> None:
    # Common practice, no source: mm for each 100 mm of diameter, acceptable and excellent.
    assert alignment_tolerance(Decimal(speed)).gap_mm == tuple(Decimal(one) for one in gap)


@pytest.mark.parametrize(
    ("section", "radial", "face", "moving"),
    [
        # Common practice, no source: least and greatest depth of grooves in mm for the sections of ISO 3601-1:2012.
        ("1.78", ("1.27", "1.40"), ("1.27", "1.37"), ("1.40", "1.45")),
        ("2.62", ("2.03", "2.18"), ("1.91", "2.06"), ("2.21", "2.29")),
        ("3.53", ("2.79", "2.95"), ("2.54", "2.74"), ("3.02", "3.12")),
        ("5.33", ("4.32", "4.47"), ("3.94", "4.19"), ("4.65", "4.78")),
        ("6.99", ("5.72", "5.97"), ("5.21", "5.46"), ("5.94", "6.10")),
    ],
)
def test_grooves_of_the_usual_depth_never_stop_the_work(
    section: str, radial: tuple[str, str], face: tuple[str, str], moving: tuple[str, str]
) -> None:
    for service, depths in (("static-radial", radial), ("static-face", face), ("reciprocating", moving)):
        for depth in depths:
            width = Decimal(section) ** 2 * Decimal("0.785") / Decimal("0.75") / Decimal(depth)
            found = gland(section_mm=Decimal(section), depth_mm=Decimal(depth), width_mm=width, service=service)
            assert found.finding != "stop", (service, depth, found.reasons)


@pytest.mark.parametrize(("speed", "flow", "head"), [(2900, 100, 32), (1450, 12.5, 8), (2950, 340, 65), (980, 900, 18)])
def test_specific_speed_from_its_definitions(speed: float, flow: float, head: float) -> None:
    # ISO 9906:2012, type number K = 2 pi n sqrt(Q) / (g H)^(3/4) in SI units. In US habit rpm sqrt(gal/min) / ft^(3/4),
    # with 1 US gal = 3.785411784 L and 1 ft = 0.3048 m (NIST SP 811).
    found = specific_speed(Decimal(str(speed)), Decimal(str(flow)), Decimal(str(head)))
    type_number = 2 * math.pi * speed / 60 * math.sqrt(flow / 3600) / (9.80665 * head) ** 0.75
    us = speed * math.sqrt(flow * 1000 / 60 / 3.785411784) / (head / 0.3048) ** 0.75
    assert float(found.type_number) == pytest.approx(type_number, rel=1e-3)
    assert float(found.us) == pytest.approx(us, rel=1e-3)


def test_hydraulic_power_as_handbooks_write_it() -> None:
    # P = rho Q H / 367 with kg/dm3, m3/h and m: 3600 / 9.80665 = 367.1 (standard gravity, ISO 80000-3).
    assert float(hydraulic_power(Decimal(100), Decimal(32), Decimal(1000))) == pytest.approx(100 * 32 / 367.1, rel=1e-4)
