"""Whether a pump delivers what it should: measured points against a guarantee, or against its own curve as new.

Readings are first converted to the speed of the guarantee by the affinity laws, then judged by the tolerances of
ISO 9906:2012 table 8 (value from memory but for grade 2B and the efficiency of 1E and 1U).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator

from jobs.calculations.hydraulics import Duty, HydraulicsUnknown, efficiency

EDITION = "ISO 9906:2012"
_HUNDRED = Decimal(100)
# Finer than a curve is read between its points, so that a guarantee met to the last figure is met: a share of the head,
# and per cent.
_NOTHING, _FINEST = 1e-9, Decimal("0.0001")


@dataclass(frozen=True)
class Grade:
    """Tolerances in per cent of the guaranteed value: (least, most) of flow and head, most of power, least of
    efficiency."""

    flow: tuple[Decimal, Decimal]
    head: tuple[Decimal, Decimal]
    power: Decimal
    efficiency: Decimal


def _grade(flow: tuple[int, int], head: tuple[int, int], power: int, least_efficiency: int) -> Grade:
    pairs = [(Decimal(least), Decimal(most)) for least, most in (flow, head)]
    return Grade(pairs[0], pairs[1], Decimal(power), Decimal(least_efficiency))


GRADES = {
    "1B": _grade((-5, 5), (-3, 3), 4, -3),
    "1E": _grade((-5, 5), (-3, 3), 4, 0),
    "1U": _grade((0, 10), (0, 6), 10, 0),
    "2B": _grade((-8, 8), (-5, 5), 8, -5),
    "2U": _grade((0, 16), (0, 10), 16, -5),
    "3B": _grade((-9, 9), (-7, 7), 9, -7),
}


class CurveUnusable(ValueError):
    """The points make no curve, or do not reach where they are asked; ``which`` names the input at fault."""

    def __init__(self, which: str, words: str) -> None:
        super().__init__(words)
        self.which = which


@dataclass(frozen=True)
class Deviations:
    """In per cent of what is guaranteed or was so as new; None where it was not measured or the curve does not reach.

    ``head``: at the same flow; ``flow``: at the same head; ``efficiency`` in per cent of the efficiency, not points.
    """

    head: Decimal | None
    flow: Decimal | None
    power: Decimal | None
    efficiency: Decimal | None


@dataclass(frozen=True)
class Judged:
    """``within``: whether flow and head, power and efficiency all lie in the grade; ``reasons`` names each."""

    within: bool
    deviations: Deviations
    reasons: tuple[str, ...]


class Curve:
    """Head and power over flow through measured points, without overshoot between them."""

    def __init__(self, points: Sequence[Duty], which: str = "points") -> None:
        ordered = sorted(points, key=lambda one: one.flow_m3h)
        flows = [float(one.flow_m3h) for one in ordered]
        if len(ordered) < 2 or any(later - earlier < 1e-9 for earlier, later in pairwise(flows)):
            raise CurveUnusable(which, "A curve needs at least two points, each at another flow.")
        self.which, self.least, self.most = which, ordered[0].flow_m3h, ordered[-1].flow_m3h
        self._head = PchipInterpolator(flows, [float(one.head_m) for one in ordered])
        powers = [one.power_kw for one in ordered]
        known = [float(one) for one in powers if one is not None]
        self._power = PchipInterpolator(flows, known) if len(known) == len(powers) else None

    def at_flow(self, flow_m3h: Decimal) -> Duty | None:
        """Head and power at a flow; None where the points do not reach."""
        if not self.least <= flow_m3h <= self.most:
            return None
        power = None if self._power is None else _decimal(self._power(float(flow_m3h)))
        return Duty(flow_m3h, _decimal(self._head(float(flow_m3h))), power)

    def flow_at_head(self, head_m: Decimal, near_m3h: Decimal) -> Decimal | None:
        """The flow nearest to ``near_m3h`` at which the curve has this head; None where it has it nowhere."""
        return self._nearest(lambda flow: self._head(flow) - float(head_m), near_m3h)

    def on_ray(self, duty: Duty) -> Duty | None:
        """Where the line from no flow and no head through a duty meets the curve (ISO 9906:2012, 4.4.3)."""
        slope = float(duty.head_m / duty.flow_m3h)
        flow = self._nearest(lambda one: self._head(one) - slope * one, duty.flow_m3h)
        return None if flow is None else self.at_flow(min(max(flow, self.least), self.most))

    def _nearest(self, zero_of: Callable[[Any], Any], near: Decimal) -> Decimal | None:
        flows = np.linspace(float(self.least), float(self.most), 4001)
        values = zero_of(flows)
        values = np.where(np.abs(values) <= _NOTHING * np.abs(values).max(), 0.0, values)
        places = np.flatnonzero(values[:-1] * values[1:] <= 0)
        if not places.size:
            return None
        first, second = values[places], values[places + 1]
        span = np.where(first == second, 1.0, first - second)
        found = flows[places] + (flows[places + 1] - flows[places]) * np.clip(first / span, 0, 1)
        return _decimal(found[np.argmin(np.abs(found - float(near)))])


def judge_guarantee(
    *, measured: Sequence[Duty], guaranteed: Duty, guaranteed_efficiency: Decimal | None, density: Decimal, grade: str
) -> Judged:
    """Measured points, already at the speed of the guarantee, against a guaranteed point.

    Flow and head are met where the measured curve crosses the cross that the tolerances make at the guaranteed point;
    power and efficiency are taken where the line through that point meets it. Raises `CurveUnusable`.
    """
    curve = Curve(measured, "measured")
    met = curve.on_ray(guaranteed)
    if met is None:
        raise CurveUnusable("measured", "The measured points do not reach the guaranteed one: measure round it.")
    at_flow = curve.at_flow(guaranteed.flow_m3h)
    at_head = curve.flow_at_head(guaranteed.head_m, guaranteed.flow_m3h)
    if at_flow is None and at_head is None:
        raise CurveUnusable(
            "measured", "The measured points reach neither the guaranteed flow nor its head: measure round both."
        )
    found = Deviations(
        head=None if at_flow is None else _off(at_flow.head_m, guaranteed.head_m),
        flow=None if at_head is None else _off(at_head, guaranteed.flow_m3h),
        power=_off_or_none(met.power_kw, guaranteed.power_kw),
        efficiency=_off_or_none(_efficiency(met, density, "measured"), guaranteed_efficiency),
    )
    return judged(found, grade)


def judge_against_new(*, as_new: Sequence[Duty], measured: Duty, density: Decimal, grade: str) -> Judged:
    """One measured point, already at the speed and density of the curve as new, against that curve.

    The head is compared at the same flow, the flow at the same head; power and efficiency at the same flow. Raises
    `CurveUnusable` where the curve does not reach the measured flow.
    """
    curve = Curve(as_new, "as_new")
    new = curve.at_flow(measured.flow_m3h)
    if new is None:
        raise CurveUnusable(
            "flow",
            f"The curve as new reaches from {curve.least:f} to {curve.most:f} m³/h; at its speed the measured flow is "
            f"{measured.flow_m3h:.1f}.",
        )
    same_head = curve.flow_at_head(measured.head_m, measured.flow_m3h)
    found = Deviations(
        head=_off(measured.head_m, new.head_m),
        flow=None if same_head is None or same_head <= 0 else _off(measured.flow_m3h, same_head),
        power=_off_or_none(measured.power_kw, new.power_kw),
        efficiency=_off_or_none(_efficiency(measured, density, "power"), _efficiency(new, density, "as_new")),
    )
    return judged(found, grade)


def judged(found: Deviations, grade: str) -> Judged:
    """Deviations in per cent against a grade; flow and head are met where either lies in its tolerance."""
    allowed = GRADES[grade]
    results: list[tuple[bool, str]] = []
    met = [
        deviation is not None and least <= deviation <= most
        for deviation, (least, most) in ((found.head, allowed.head), (found.flow, allowed.flow))
    ]
    words = ", ".join(
        f"{name} {_told(deviation, least, most)} % ({_signed(least)} to {_signed(most)} allowed)"
        for name, deviation, (least, most) in (
            ("head at the same flow", found.head, allowed.head),
            ("flow at the same head", found.flow, allowed.flow),
        )
        if deviation is not None
    )
    results.append((any(met), f"Flow and head: {words}."))
    if found.power is not None:
        results.append(
            (
                found.power <= allowed.power,
                f"Power {_told(found.power, allowed.power)} % (at most {_signed(allowed.power)}).",
            )
        )
    if found.efficiency is not None:
        enough = found.efficiency >= allowed.efficiency
        told = _told(found.efficiency, allowed.efficiency)
        results.append((enough, f"Efficiency {told} % (at least {_signed(allowed.efficiency)})."))
    within = all(good for good, _ in results)
    return Judged(within, found, tuple(f"{'Within' if good else 'Outside'} {grade}. {text}" for good, text in results))


def _told(deviation: Decimal, *ends: Decimal) -> str:
    """To a tenth; to a hundredth where a tenth would read as the end of the tolerance that it is not."""
    near = any(deviation != end and round(deviation, 1) == end for end in ends)
    return f"{deviation:+.2f}" if near else f"{deviation:+.1f}"


def _signed(end: Decimal) -> str:
    return f"{end:+f}" if end else "0"


def _efficiency(duty: Duty, density: Decimal, which: str) -> Decimal | None:
    if duty.power_kw is None:
        return None
    try:
        return efficiency(duty, density)
    except HydraulicsUnknown as error:
        raise CurveUnusable(which, str(error)) from error


def _off(value: Decimal, of: Decimal) -> Decimal:
    return (_HUNDRED * (value - of) / of).quantize(_FINEST)


def _off_or_none(value: Decimal | None, of: Decimal | None) -> Decimal | None:
    return None if value is None or of is None or of <= 0 else _off(value, of)


def _decimal(value: Any) -> Decimal:
    return Decimal(repr(round(float(value), 9)))
