"""Whether a pump delivers what it should, after the tolerances of ISO 9906."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.hydraulic_acceptance import (
    GRADES,
    Curve,
    CurveUnusable,
    Deviations,
    judge_against_new,
    judge_guarantee,
    judged,
)
from jobs.calculations.hydraulics import Duty, efficiency

DENSITY = Decimal("998.2")


def duty(flow: float, head: float, power: float | None = None) -> Duty:
    return Duty(Decimal(str(flow)), Decimal(str(head)), None if power is None else Decimal(str(power)))


# An invented pump: H = 40 - 0.0008 Q^2, P = 5 + 0.06 Q.
AS_NEW = [duty(flow, 40 - 0.0008 * flow**2, 5 + 0.06 * flow) for flow in (0, 30, 60, 90, 120, 140)]


@pytest.mark.parametrize(
    ("grade", "flow", "head", "power", "efficiency"),
    [
        # ISO 9906:2012 table 8 (value from memory; 2B as guides quote it).
        ("1B", (-5, 5), (-3, 3), 4, -3),
        ("1E", (-5, 5), (-3, 3), 4, 0),
        ("1U", (0, 10), (0, 6), 10, 0),
        ("2B", (-8, 8), (-5, 5), 8, -5),
        ("2U", (0, 16), (0, 10), 16, -5),
        ("3B", (-9, 9), (-7, 7), 9, -7),
    ],
)
def test_a_grade_allows_so_much(
    grade: str, flow: tuple[int, int], head: tuple[int, int], power: int, efficiency: int
) -> None:
    found = GRADES[grade]
    assert (found.flow, found.head, found.power, found.efficiency) == (flow, head, power, efficiency)


def test_the_curve_passes_through_its_points_and_never_rises_between_them() -> None:
    # Fritsch and Carlson (1980): the interpolant keeps the points' monotony; the parabola lies within 1 %.
    curve = Curve(AS_NEW)
    for one in AS_NEW:
        found = curve.at_flow(one.flow_m3h)
        assert found is not None
        assert float(found.head_m) == pytest.approx(float(one.head_m))
    between = curve.at_flow(Decimal(75))
    assert between is not None
    assert float(between.head_m) == pytest.approx(40 - 0.0008 * 75**2, rel=0.01)


def test_a_pump_as_good_as_new_is_within_every_grade_that_allows_both_sides() -> None:
    for grade in ("1B", "2B", "3B"):
        found = judge_against_new(as_new=AS_NEW, measured=duty(90, 33.52, 10.4), density=DENSITY, grade=grade)
        assert found.within, grade
        assert abs(found.deviations.head or Decimal(0)) < Decimal("0.001")


def test_a_tenth_less_head_is_outside_grade_3b_and_the_reasons_say_by_how_much() -> None:
    # 33.52 m as new at 90 m3/h; the measured 30.17 m are 10 % less, grade 3B allows 7 % (value from memory).
    found = judge_against_new(as_new=AS_NEW, measured=duty(90, 30.168, 10.4), density=DENSITY, grade="3B")
    assert not found.within
    assert float(found.deviations.head or 0) == pytest.approx(-10, abs=0.01)
    # The curve as new has 30.168 m at sqrt(9.832/0.0008) = 110.9 m3/h: 90 are 18.8 % less.
    assert float(found.deviations.flow or 0) == pytest.approx(-18.8, abs=0.3)
    assert found.reasons[0].startswith("Outside 3B. Flow and head: head at the same flow -10.0 %")


def test_flow_and_head_are_met_where_one_arm_of_the_cross_is_met() -> None:
    # ISO 9906:2012, 4.4.3: the curve must cross or touch the cross. Head 6 % low is outside 2B, flow 7 % low within.
    assert judged(Deviations(Decimal(-6), Decimal(-7), None, None), "2B").within
    assert not judged(Deviations(Decimal(-6), Decimal(-9), None, None), "2B").within
    assert judged(Deviations(Decimal(-5), None, None, None), "2B").within


def test_power_and_efficiency_must_each_be_met() -> None:
    # ISO 9906:2012 table 8, 2B: power at most 8 % more, efficiency at most 5 % less.
    assert not judged(Deviations(Decimal(0), Decimal(0), Decimal("8.1"), None), "2B").within
    assert not judged(Deviations(Decimal(0), Decimal(0), None, Decimal("-5.1")), "2B").within
    assert judged(Deviations(Decimal(0), Decimal(0), Decimal(8), Decimal(-5)), "2B").within


def test_a_guarantee_is_judged_on_the_line_through_it() -> None:
    # ISO 9906:2012, 4.4.3: power and efficiency where the line through the guaranteed point and no flow meets the
    # curve. Of H = 40 - 0.0008 Q^2 and 90 m3/h at 33.52 m that is the point itself.
    found = judge_guarantee(
        measured=AS_NEW, guaranteed=duty(90, 33.52, 10.4), guaranteed_efficiency=None, density=DENSITY, grade="1U"
    )
    assert found.within
    assert abs(found.deviations.power or Decimal(0)) < Decimal("0.1")


@pytest.mark.parametrize("grade", ["1E", "1U", "2U"])
@pytest.mark.parametrize("place", range(1, 6))
def test_what_is_guaranteed_and_measured_to_the_last_figure_is_met(grade: str, place: int) -> None:
    # ISO 9906:2012, 4.4.3: the curve must cross or touch the cross; table 8, 1E and 1U: efficiency no less than
    # guaranteed. Also where it is the last point that was measured.
    point = AS_NEW[place]
    found = judge_guarantee(
        measured=AS_NEW,
        guaranteed=point,
        guaranteed_efficiency=efficiency(point, DENSITY),
        density=DENSITY,
        grade=grade,
    )
    assert found.within, found.reasons
    assert judge_against_new(as_new=AS_NEW, measured=point, density=DENSITY, grade=grade).within


def test_a_ten_thousandth_less_than_guaranteed_is_less() -> None:
    # ISO 9906:2012 table 8, 1E: nothing below the guaranteed efficiency.
    point = AS_NEW[3]
    found = judge_guarantee(
        measured=AS_NEW,
        guaranteed=point,
        guaranteed_efficiency=efficiency(point, DENSITY) * Decimal("1.0001"),
        density=DENSITY,
        grade="1E",
    )
    assert not found.within


def test_points_beside_both_arms_of_the_cross_tell_nothing() -> None:
    # ISO 9906:2012, 4.4.3: the cross stands at the guaranteed flow and head; 60 m lie above, 90 m3/h beside the points.
    with pytest.raises(CurveUnusable, match="measure round both"):
        judge_guarantee(
            measured=AS_NEW[:3], guaranteed=duty(90, 60), guaranteed_efficiency=None, density=DENSITY, grade="2B"
        )


def test_a_grade_for_more_than_guaranteed_takes_nothing_less() -> None:
    # ISO 9906:2012 table 8, 1U: nothing below the guarantee.
    short = judge_guarantee(
        measured=AS_NEW, guaranteed=duty(92, 34), guaranteed_efficiency=None, density=DENSITY, grade="1U"
    )
    assert not short.within


def test_points_that_do_not_reach_are_not_stretched() -> None:
    with pytest.raises(CurveUnusable, match="reaches from 0 to 140"):
        judge_against_new(as_new=AS_NEW, measured=duty(150, 20), density=DENSITY, grade="2B")
    with pytest.raises(CurveUnusable):
        judge_guarantee(
            measured=AS_NEW, guaranteed=duty(300, 1), guaranteed_efficiency=None, density=DENSITY, grade="2B"
        )


@pytest.mark.parametrize("points", [[duty(10, 30)], [duty(10, 30), duty(10, 31)]])
def test_one_flow_makes_no_curve(points: list[Duty]) -> None:
    with pytest.raises(CurveUnusable):
        Curve(points)


def test_a_pump_cannot_give_more_than_it_takes() -> None:
    with pytest.raises(CurveUnusable, match="More comes out"):
        judge_against_new(as_new=AS_NEW, measured=duty(90, 33.5, 5), density=DENSITY, grade="2B")


@given(st.decimals("0.8", "1.2", places=3))
def test_a_wider_grade_never_refuses_what_a_narrower_takes(share: Decimal) -> None:
    found = [
        judge_against_new(
            as_new=AS_NEW, measured=Duty(Decimal(90), Decimal("33.52") * share), density=DENSITY, grade=grade
        ).within
        for grade in ("1B", "2B", "3B")
    ]
    assert found == sorted(found)
