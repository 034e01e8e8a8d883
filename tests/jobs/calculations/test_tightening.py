"""Tightening torques and the order of the screws."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.calculations.fasteners import COARSE
from assets.calculations.units import convert
from jobs.calculations.tightening import (
    PASSES,
    THREADS,
    TighteningUnknown,
    cross_pattern,
    pitch_diameter,
    proof_load,
    share_of_proof_reached,
    tightening,
    torque_for,
    torque_with_friction,
)


@pytest.mark.parametrize(
    ("thread", "proof_8_8", "proof_10_9"),
    [
        # ISO 898-1:2013, table 5, proof loads of coarse threads in kN, to three figures.
        ("M6", 11.6, 16.7),
        ("M8", 21.2, 30.4),
        ("M10", 33.7, 48.1),
        ("M12", 48.9, 70.0),
        ("M16", 91.0, 130),
        ("M20", 147, 203),
        ("M24", 212, 293),
    ],
)
def test_proof_loads_are_those_of_the_standard(thread: str, proof_8_8: float, proof_10_9: float) -> None:
    assert float(proof_load(thread, "8.8")) == pytest.approx(proof_8_8, rel=0.006)
    assert float(proof_load(thread, "10.9")) == pytest.approx(proof_10_9, rel=0.006)


@pytest.mark.parametrize(
    ("thread", "pitch"),
    [("M6", 1.0), ("M8", 1.25), ("M10", 1.5), ("M12", 1.75), ("M16", 2.0), ("M20", 2.5), ("M24", 3.0)],
)
def test_stress_areas_follow_from_the_thread(thread: str, pitch: float) -> None:
    # ISO 898-1:2013, 9.1.6: A = pi/4 (d - 0.9382 P)^2; pitches of ISO 261. 10.9 has 830 MPa for every size.
    area = math.pi / 4 * (int(thread[1:]) - 0.9382 * pitch) ** 2
    assert float(proof_load(thread, "10.9")) == pytest.approx(area * 0.830, rel=0.003)


@pytest.mark.parametrize(
    ("thread", "torque_8_8", "torque_10_9", "torque_a2_70"),
    [
        # T = K d F at 0.75 of stress area x strength (ISO 898-1:2013; A2-70 450 MPa after ISO 3506-1, value from
        # memory): 8.8 and 10.9 with K 0.20, A2-70 with K 0.15.
        ("M6", 10.5, 15.0, 6.1),
        ("M8", 25.5, 36.5, 14.8),
        ("M10", 50.5, 72.2, 29.4),
        ("M12", 88.0, 125.9, 51.2),
        ("M16", 218.5, 312.7, 127.2),
        ("M20", 441, 610, 248),
        ("M24", 763, 1055, 429),
    ],
)
def test_torques_of_the_usual_screws(thread: str, torque_8_8: float, torque_10_9: float, torque_a2_70: float) -> None:
    for property_class, nut_factor, torque in (
        ("8.8", "0.20", torque_8_8),
        ("10.9", "0.20", torque_10_9),
        ("A2-70", "0.15", torque_a2_70),
    ):
        found = tightening(
            thread=thread,
            property_class=property_class,
            nut_factor=Decimal(nut_factor),
            share_of_proof=Decimal("0.75"),
        )
        assert float(found.torque_nm) == pytest.approx(torque, abs=0.5 if torque > 240 else 0.06)


@pytest.mark.parametrize("thread", THREADS)
def test_every_stress_area_follows_from_its_thread(thread: str) -> None:
    # ISO 898-1:2013, 9.1.6: A = pi/4 (d - 0.9382 P)^2, pitches of ISO 261. 12.9 has 970 MPa for every size.
    size = Decimal(thread[1:])
    area = math.pi / 4 * float(size - Decimal("0.9382") * COARSE[size]) ** 2
    assert float(proof_load(thread, "12.9")) == pytest.approx(area * 0.970, rel=0.004)


def test_stress_areas_by_formula() -> None:
    # ISO 898-1:2013, 9.1.6: M16 x 2 156.7 mm2, M24 x 3 352.5 mm2, which its table rounds to 157 and 353.
    assert float(proof_load("M16", "10.9")) / 0.830 == pytest.approx(156.7, abs=0.31)
    assert float(proof_load("M24", "10.9")) / 0.830 == pytest.approx(352.5, abs=0.51)


def test_friction_in_thread_and_under_the_head_makes_the_torque() -> None:
    # ISO 16047 form (value from memory): M12, d2 10.863 mm (ISO 724), D_Km 15.3 mm, 0.12 both, 36.67 kN: 71.4 N m.
    assert round(pitch_diameter("M12"), 3) == Decimal("10.863")
    torque = torque_with_friction(
        thread="M12",
        preload_kn=Decimal("36.67"),
        friction_in_thread=Decimal("0.12"),
        friction_under_head=Decimal("0.12"),
        bearing_diameter_mm=Decimal("15.3"),
    )
    assert round(torque, 1) == Decimal("71.4")
    # As a nut factor 0.162.
    assert float(torque / (12 * Decimal("36.67"))) == pytest.approx(0.162, abs=0.0005)


def test_a_class_that_ends_with_m16_has_no_proof_load_above() -> None:
    # ISO 898-1:2013, tables 3 and 5: class 9.8 up to M16 (value from memory), 650 MPa x 157 mm2 = 102 kN.
    assert float(proof_load("M16", "9.8")) == pytest.approx(102, rel=0.003)
    with pytest.raises(TighteningUnknown, match=r"class 9\.8 up to M16, not for M20"):
        proof_load("M20", "9.8")


def test_torque_of_a_textbook_bolt() -> None:
    # Budynas and Nisbett, Shigley's Mechanical Engineering Design, 9th ed., example 8-4 (value from memory): 3/4 in
    # bolt, 25 kip, K = 0.2 gives 3750 lbf in.
    pound_force = Decimal("4.4482216152605")
    diameter = convert(Decimal("0.75"), "in", "mm")
    torque = torque_for(25 * pound_force, Decimal("0.2"), diameter)
    assert float(torque) == pytest.approx(float(3750 * pound_force * Decimal("0.0254")), rel=1e-12)


def test_a_screw_m12_of_8_8_dry() -> None:
    # ISO 898-1:2013 proof load 48.9 kN, 75 % of it, T = 0.20 x 12 mm x 36.67 kN.
    found = tightening(thread="M12", property_class="8.8", nut_factor=Decimal("0.20"), share_of_proof=Decimal("0.75"))
    assert (found.preload_kn, found.torque_nm) == (Decimal("36.7"), Decimal("88.0"))
    assert found.passes_nm == (Decimal("26.4"), Decimal("52.8"), Decimal("88.0"))


def test_grease_under_a_dry_torque_overstretches_the_screw() -> None:
    # The same 88.0 N m with K 0.12 instead of 0.20: 0.75 x 0.20 / 0.12 = 1.25 of the proof load.
    reached = share_of_proof_reached(
        torque_nm=Decimal("88.0"), thread="M12", property_class="8.8", nut_factor=Decimal("0.12")
    )
    assert float(reached) == pytest.approx(1.25, abs=0.001)


def test_the_passes_are_those_of_crosswise_tightening() -> None:
    # ASME PCC-1, crosswise passes at 20 to 30 %, 50 to 70 % and 100 % (value from memory).
    assert Decimal("0.2") <= PASSES[0] <= Decimal("0.3")
    assert Decimal("0.5") <= PASSES[1] <= Decimal("0.7")
    assert PASSES[2] == 1


@pytest.mark.parametrize(
    ("screws", "order"),
    [
        # ASME PCC-1, sequences for 4 to 24 bolts numbered round the flange (value from memory).
        (4, (1, 3, 2, 4)),
        (8, (1, 5, 3, 7, 2, 6, 4, 8)),
        (12, (1, 7, 4, 10, 2, 8, 5, 11, 3, 9, 6, 12)),
        (20, (1, 11, 6, 16, 3, 13, 8, 18, 5, 15, 10, 20, 2, 12, 7, 17, 4, 14, 9, 19)),
        (24, (1, 13, 7, 19, 4, 16, 10, 22, 2, 14, 8, 20, 5, 17, 11, 23, 3, 15, 9, 21, 6, 18, 12, 24)),
        (16, (1, 9, 5, 13, 3, 11, 7, 15, 2, 10, 6, 14, 4, 12, 8, 16)),
        # Common practice, no source.
        (6, (1, 4, 2, 5, 3, 6)),
        (5, (1, 3, 5, 2, 4)),
        (3, (1, 2, 3)),
    ],
)
def test_screws_are_tightened_crosswise(screws: int, order: tuple[int, ...]) -> None:
    assert cross_pattern(screws) == order


@given(st.integers(3, 64))
def test_every_screw_has_its_turn_once(screws: int) -> None:
    order = cross_pattern(screws)
    assert sorted(order) == list(range(1, screws + 1))
    if screws % 2 == 0:
        assert all(abs(one - other) == screws // 2 for one, other in zip(order[::2], order[1::2], strict=True))


@pytest.mark.parametrize(
    "changes",
    [
        {"thread": "M9"},
        {"property_class": "13.9"},
        {"nut_factor": Decimal(2)},
        {"share_of_proof": Decimal("1.1")},
        {"share_of_proof": Decimal(0)},
    ],
)
def test_what_is_not_in_the_tables_is_refused(changes: dict[str, object]) -> None:
    sound: dict[str, object] = {
        "thread": "M12",
        "property_class": "8.8",
        "nut_factor": Decimal("0.2"),
        "share_of_proof": Decimal("0.75"),
    }
    with pytest.raises(TighteningUnknown):
        tightening(**{**sound, **changes})  # type: ignore[arg-type]


def test_two_screws_are_no_cover() -> None:
    with pytest.raises(TighteningUnknown):
        cross_pattern(2)
