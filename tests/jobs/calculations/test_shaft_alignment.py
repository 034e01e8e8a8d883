"""Alignment of a coupling by indicators: worked examples, and turns made from a shaft whose place is known."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.shaft_alignment import Axis, Turn, reverse_indicator, rim_and_face, shim_change

ZERO = Decimal(0)


def turn(top: str, right: str, bottom: str, left: str) -> Turn:
    return Turn(Decimal(top), Decimal(right), Decimal(bottom), Decimal(left))


def reversed_dials(stationary_bottom: str, movable_bottom: str, sag: str):
    return reverse_indicator(
        stationary=turn("0", "0", stationary_bottom, stationary_bottom),
        movable=turn("0", "0", movable_bottom, movable_bottom),
        plane_distance_mm=Decimal(120),
        sag_stationary=Decimal(sag),
        sag_movable=Decimal(sag),
    )


def test_a_high_motor_is_lowered_by_0_24_and_0_44_mm() -> None:
    # Geometry by hand: planes at 0 and 120 mm, feet at 300 and 700 mm; +0.18 on the stationary and -0.30 on the movable
    # hub give 0.09 and 0.15 mm, a slope of 0.0005, 0.24 and 0.44 mm at the feet.
    found = reversed_dials("0.18", "-0.30", "0").vertical
    assert (found.at(ZERO), found.at(Decimal(120)), found.slope) == (
        Decimal("0.09"),
        Decimal("0.15"),
        Decimal("0.0005"),
    )
    assert shim_change(found, Decimal(300)) == Decimal("-0.24")
    assert shim_change(found, Decimal(700)) == Decimal("-0.44")


def test_the_sag_of_the_bracket_is_taken_off_both_dials() -> None:
    # Common practice, no source: observed -0.34 and +0.14 with a sag of -0.04 are -0.30 and +0.18.
    assert reversed_dials("0.14", "-0.34", "-0.04").vertical == reversed_dials("0.18", "-0.30", "0").vertical


def test_a_turn_closes_where_top_and_bottom_equal_left_and_right() -> None:
    # Common practice, no source: T + B = L + R; 0.06 mm apart is a turn to take again.
    assert turn("0", "-0.11", "-0.30", "-0.19").closure == 0
    assert abs(turn("0", "-0.05", "-0.30", "-0.19").closure) == Decimal("0.06")


def test_a_gap_that_is_narrow_at_the_top_lifts_the_far_end() -> None:
    # Geometry by hand: 0.05 mm over 100 mm of face is 0.0005 a mm; with the rim 0.10 mm high.
    found = rim_and_face(
        rim=turn("0", "-0.10", "-0.20", "-0.10"),
        face=turn("0.05", "0.025", "0", "0.025"),
        face_diameter_mm=Decimal(100),
        sag=ZERO,
        face_sag=ZERO,
        dial_on="movable",
    )
    assert found.vertical == Axis(Decimal("0.10"), Decimal("0.0005"))
    assert found.horizontal == Axis(ZERO, ZERO)


lengths = st.decimals(min_value=-1, max_value=1, places=3)
slopes = st.decimals(min_value="-0.005", max_value="0.005", places=5)
sags = st.decimals(min_value="-0.2", max_value=0, places=3)
distances = st.decimals(min_value=50, max_value=900, places=0)


def swept(vertical: Decimal, horizontal: Decimal, sag: Decimal, side: int) -> Turn:
    """What a dial zeroed at the top reads on a rim that lies ``vertical`` high and ``horizontal`` to the right."""
    # Plunger in is positive: a rim that is high pushes at the top, one to the right at the right.
    read = {"top": side * vertical, "right": side * horizontal, "bottom": -side * vertical, "left": -side * horizontal}
    drop = {"top": ZERO, "right": sag / 2, "bottom": sag, "left": sag / 2}
    return Turn(**{place: read[place] - read["top"] + drop[place] for place in read})


@given(lengths, lengths, slopes, slopes, sags, sags, distances)
def test_reverse_indicators_find_the_shaft_wherever_it_lies_and_however_the_brackets_sag(
    up: Decimal, right: Decimal, climb: Decimal, drift: Decimal, sag: Decimal, other: Decimal, distance: Decimal
) -> None:
    vertical, horizontal = Axis(up, climb), Axis(right, drift)
    found = reverse_indicator(
        stationary=swept(up, right, sag, -1),
        movable=swept(vertical.at(distance), horizontal.at(distance), other, 1),
        plane_distance_mm=distance,
        sag_stationary=sag,
        sag_movable=other,
    )
    for known, one in ((vertical, found.vertical), (horizontal, found.horizontal)):
        assert abs(one.offset - known.offset) < Decimal("1e-12")
        assert abs(one.slope - known.slope) < Decimal("1e-12")


@given(lengths, lengths, slopes, slopes, sags, distances, st.sampled_from(["movable", "stationary"]))
def test_rim_and_face_find_the_same_shaft(
    up: Decimal, right: Decimal, climb: Decimal, drift: Decimal, sag: Decimal, diameter: Decimal, dial_on: str
) -> None:
    side = 1 if dial_on == "movable" else -1
    found = rim_and_face(
        rim=swept(up, right, sag, side),
        face=swept(climb * diameter / 2, drift * diameter / 2, ZERO, 1),
        face_diameter_mm=diameter,
        sag=sag,
        face_sag=ZERO,
        dial_on=dial_on,
    )
    for known, one in ((Axis(up, climb), found.vertical), (Axis(right, drift), found.horizontal)):
        assert abs(one.offset - known.offset) < Decimal("1e-12")
        assert abs(one.slope - known.slope) < Decimal("1e-12")


@given(lengths, lengths, sags, st.sampled_from([1, -1]))
def test_a_turn_on_a_true_rim_closes_however_the_bracket_sags(
    up: Decimal, right: Decimal, sag: Decimal, side: int
) -> None:
    assert swept(up, right, sag, side).closure == 0
