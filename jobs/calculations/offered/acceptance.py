"""The check after an overhaul and the acceptance test as they are offered."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from jobs.calculations.hydraulic_acceptance import (
    GRADES,
    CurveUnusable,
    Judged,
    judge_against_new,
    judge_guarantee,
)
from jobs.calculations.hydraulics import Duty, HydraulicsUnknown, at_speed, efficiency
from jobs.calculations.offered.declared import (
    MEMORY,
    PHYSICS,
    Calculation,
    InputWrong,
    Outcome,
    Output,
    Source,
    blames,
    choice,
    of,
    quantity,
    rows,
)
from jobs.calculations.offered.hydraulic import DENSITY, READINGS, TEMPERATURE, density_of

FAMILY = "hydraulics"
_USUAL_GRADE = "2B"
_UNCERTAIN = (
    "Readings on site are coarser than on a test stand: a deviation within their uncertainty proves nothing either way."
)
_SMALL = (
    "For pumps up to 10 kW at the shaft the standard allows more where the contract says nothing else: flow 10 %, head "
    "8 %, efficiency 10 (1 - P/10) + 7 % less, P in kW (value from memory)."
)
_FLOW = quantity("flow", "m3/h", "0", "1000000", "Flow.")
_HEAD = quantity("head", "m", "0.01", "10000", "Head.")
_POWER = quantity(
    "power", "kW", "0.001", "100000", "Power at the shaft; of all points of a curve or none.", optional=True
)
_GRADE = choice("grade", tuple(GRADES), "Grade whose tolerances hold.", usual=_USUAL_GRADE)
_OUTPUTS = (
    Output("within", "Whether all that was measured lies within the grade."),
    Output("head_deviation", "Head at the same flow.", "%", 2),
    Output("flow_deviation", "Flow at the same head.", "%", 2),
    Output("power_deviation", "Power at the shaft.", "%", 2),
    Output("efficiency_deviation", "Of the efficiency itself, not points.", "%", 2),
)
_SOURCES = (
    Source("ISO 9906", "2012", "4.4 and table 8", MEMORY),
    Source("Fritsch and Carlson", "1980", "interpolation between the points, without overshoot", PHYSICS),
)


def _points(rows_given: Sequence[dict[str, Any]]) -> list[Duty]:
    return [Duty(row["flow"], row["head"], row["power"]) for row in rows_given]


def _whole_powers(points: Sequence[Duty], name: str) -> None:
    known = [one for one in points if one.power_kw is not None]
    if known and len(known) != len(points):
        raise InputWrong(name, "Some points have a power and some have none.", "Give it for all of them, or for none.")


def _outcome(found: Judged, values: dict[str, Any]) -> Outcome:
    off = found.deviations
    return Outcome(
        {
            "within": found.within,
            "head_deviation": off.head,
            "flow_deviation": off.flow,
            "power_deviation": off.power,
            "efficiency_deviation": off.efficiency,
            **values,
        },
        " ".join(found.reasons),
    )


def _check(
    *,
    as_new: list[dict[str, Any]],
    as_new_speed: Decimal,
    as_new_density: Decimal,
    flow: Decimal,
    head: Decimal,
    power: Decimal | None,
    speed: Decimal,
    temperature: Decimal,
    density: Decimal | None,
    grade: str,
) -> Outcome:
    curve, taken = _points(as_new), density_of(density, temperature)
    _whole_powers(curve, "as_new")
    at_new = at_speed(Duty(flow, head, power), speed, as_new_speed)
    if at_new.power_kw is not None:
        at_new = Duty(at_new.flow_m3h, at_new.head_m, at_new.power_kw * as_new_density / taken)
    try:
        found = judge_against_new(as_new=curve, measured=at_new, density=as_new_density, grade=grade)
    except CurveUnusable as error:
        raise InputWrong(error.which, str(error)) from error
    share = None
    if at_new.power_kw is not None and at_new.flow_m3h > 0:
        with blames("power", HydraulicsUnknown):
            share = 100 * efficiency(at_new, as_new_density)
    return _outcome(
        found,
        {
            "flow_at_speed": at_new.flow_m3h,
            "head_at_speed": at_new.head_m,
            "power_at_speed": at_new.power_kw,
            "efficiency": share,
        },
    )


def _acceptance(
    *,
    measured: list[dict[str, Any]],
    measured_speed: Decimal,
    speed: Decimal,
    flow: Decimal,
    head: Decimal,
    power: Decimal | None,
    efficiency_percent: Decimal | None,
    temperature: Decimal,
    density: Decimal | None,
    grade: str,
) -> Outcome:
    points = [at_speed(one, measured_speed, speed) for one in _points(measured)]
    _whole_powers(points, "measured")
    if flow <= 0:
        raise InputWrong("flow", "A guarantee has a flow above 0.")
    try:
        found = judge_guarantee(
            measured=points,
            guaranteed=Duty(flow, head, power),
            guaranteed_efficiency=None if efficiency_percent is None else efficiency_percent / 100,
            density=density_of(density, temperature),
            grade=grade,
        )
    except CurveUnusable as error:
        raise InputWrong(error.which, str(error)) from error
    return _outcome(found, {})


def _curve(*points: tuple[str, str, str]) -> list[dict[str, Any]]:
    return [{"flow": of(q, "m3/h"), "head": of(h, "m"), "power": of(p, "kW")} for q, h, p in points]


_EXAMPLE = _curve(
    ("0", "40", "5.0"), ("30", "39.3", "6.8"), ("60", "37.1", "8.6"), ("90", "33.5", "10.4"), ("120", "28.5", "12.2")
)

CALCULATIONS = (
    Calculation(
        name="check-after-overhaul",
        title="A pump after its overhaul against its curve as new",
        family=FAMILY,
        formula="readings to the speed of the curve (Q with n, H with n^2, P with n^3 and the density); deviation of "
        "head at the same flow, flow at the same head, power and efficiency at the same flow",
        inputs=(
            rows("as_new", (_FLOW, _HEAD, _POWER), 2, 60, "The pump's own curve as new, point by point."),
            quantity("as_new_speed", "rpm", "1", "100000", "Speed of that curve."),
            quantity("as_new_density", "kg/m3", "100", "3000", "Density of that curve's powers.", usual="998.2"),
            _FLOW,
            _HEAD,
            _POWER,
            quantity("speed", "rpm", "1", "100000", "Speed of the readings."),
            TEMPERATURE,
            DENSITY,
            _GRADE,
        ),
        outputs=(
            *_OUTPUTS,
            Output("flow_at_speed", "Measured flow at the speed of the curve.", "m3/h", 2),
            Output("head_at_speed", "Measured head at the speed of the curve.", "m", 2),
            Output("power_at_speed", "Measured power at the speed and density of the curve.", "kW", 3),
            Output("efficiency", "As measured.", "%", 1),
        ),
        sources=_SOURCES,
        cautions=(
            READINGS,
            _UNCERTAIN,
            _SMALL,
            "Watch the rotation, vents and open valves before a low head is called wear.",
        ),
        example={
            "as_new": _EXAMPLE,
            "as_new_speed": of("2900", "rpm"),
            "flow": of("88", "m3/h"),
            "head": of("32.4", "m"),
            "power": of("10.6", "kW"),
            "speed": of("2890", "rpm"),
            "grade": "2B",
        },
        perform=_check,
    ),
    Calculation(
        name="hydraulic-acceptance",
        title="Measured points against a guaranteed duty",
        family=FAMILY,
        formula="readings to the guaranteed speed; the measured curve must cross the cross of tolerances at the "
        "guaranteed point; power and efficiency where the line through that point meets the curve",
        inputs=(
            rows("measured", (_FLOW, _HEAD, _POWER), 2, 60, "Measured points round the guaranteed one."),
            quantity("measured_speed", "rpm", "1", "100000", "Speed of the readings."),
            quantity("speed", "rpm", "1", "100000", "Guaranteed speed."),
            _FLOW,
            _HEAD,
            _POWER,
            quantity("efficiency_percent", "%", "1", "100", "Guaranteed efficiency.", optional=True),
            TEMPERATURE,
            DENSITY,
            _GRADE,
        ),
        outputs=_OUTPUTS,
        sources=_SOURCES,
        cautions=(
            READINGS,
            _UNCERTAIN,
            _SMALL,
            "The contract names the grade and the edition; where it is silent, ask.",
        ),
        example={
            "measured": _EXAMPLE,
            "measured_speed": of("2900", "rpm"),
            "speed": of("2900", "rpm"),
            "flow": of("90", "m3/h"),
            "head": of("34", "m"),
            "grade": "2B",
        },
        perform=_acceptance,
    ),
)
