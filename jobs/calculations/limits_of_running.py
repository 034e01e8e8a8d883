"""Limits of how a pump runs: residual unbalance, alignment, and what it delivers."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from assets.calculations.written_numbers import plain
from jobs.calculations.alignment_tolerances import PRACTICE, SOFT_FOOT_MM, TABLE, alignment_tolerance
from jobs.calculations.hydraulic_acceptance import EDITION, GRADES
from jobs.calculations.limit_arguments import (
    SPEED,
    LimitUnresolvable,
    ResolvedLimits,
    given,
    known_of_pump,
    one_of,
    positive,
)
from jobs.calculations.unbalance import GRADES as BALANCE_GRADES
from jobs.calculations.unbalance import residual_unbalance as unbalance_of

ISO_21940 = "ISO 21940-11:2016 (value from memory)"
ISO_9906 = f"{EDITION} table 8 (value from memory)"
_QUALITIES = ("acceptable", "excellent")
_UNITS_OF = {"flow": "m3/h", "head": "m", "power": "kW", "efficiency": "%"}


def residual_unbalance(arguments: Mapping[str, Any], data: Mapping[str, Any]) -> ResolvedLimits:
    """The most that is left, in g mm, in one of two planes or in both together. Raises `LimitUnresolvable`."""
    grade = one_of("grade", str(given("residual-unbalance", arguments, "grade")), BALANCE_GRADES)
    mass = positive("mass_kg", given("residual-unbalance", arguments, "mass_kg"))
    planes = one_of("planes", arguments.get("planes", "one"), ("one", "both"))
    speed = known_of_pump(data, SPEED)
    found = unbalance_of(grade=grade, mass_kg=mass, speed_rpm=speed)
    upper = (found.plane_a_g_mm if planes == "one" else found.total_g_mm).quantize(Decimal("0.1"))
    where = "in each of two planes" if planes == "one" else "in both planes together"
    words = f"G {grade}, {plain(mass)} kg, {plain(speed)} rpm: at most {plain(upper)} g·mm {where}."
    return ResolvedLimits(None, upper, "g*mm", words, ISO_21940)


def alignment(arguments: Mapping[str, Any], data: Mapping[str, Any]) -> ResolvedLimits:
    """How far coupled shafts may lie off each other, in mm either way. Raises `LimitUnresolvable`."""
    what = one_of("of", given("alignment", arguments, "of"), ("offset", "gap", "spacer", "soft-foot"))
    needs = {"gap": "diameter", "spacer": "length"}.get(what)
    for name in ("diameter", "length"):
        if name in arguments and name != needs:
            raise LimitUnresolvable(f"{what} does not depend on {name}; leave it out.")
    quality = one_of("quality", arguments.get("quality", "acceptable"), _QUALITIES)
    if what == "soft-foot":
        words = f"Soft foot: a foot lifts by at most {plain(SOFT_FOOT_MM)} mm when its screw is loosened."
        return ResolvedLimits(-SOFT_FOOT_MM, SOFT_FOOT_MM, "mm", words, PRACTICE)
    speed = known_of_pump(data, SPEED)
    found = alignment_tolerance(speed)
    pair = {"offset": found.offset_mm, "gap": found.gap_mm, "spacer": found.spacer_mm}[what]
    upper, over = pair[_QUALITIES.index(quality)], ""
    if needs:
        length = positive(needs, given("alignment", arguments, needs))
        upper = (upper * length / 100).quantize(Decimal("0.001"))
        over = f" over {plain(length)} mm"
    words = f"{what.capitalize()}{over} at {plain(speed)} rpm, {quality}: at most {plain(upper)} mm ({TABLE})."
    return ResolvedLimits(-upper, upper, "mm", words, PRACTICE)


def iso_9906(arguments: Mapping[str, Any], data: Mapping[str, Any]) -> ResolvedLimits:
    """What a grade allows around a guaranteed value: m3/h, m, kW or per cent. Raises `LimitUnresolvable`."""
    grade = one_of("grade", given("iso-9906", arguments, "grade"), GRADES)
    what = one_of("of", given("iso-9906", arguments, "of"), _UNITS_OF)
    guaranteed, allowed = positive("guaranteed", given("iso-9906", arguments, "guaranteed")), GRADES[grade]
    least: Decimal | None
    most: Decimal | None
    least, most = {
        "flow": allowed.flow,
        "head": allowed.head,
        "power": (None, allowed.power),
        "efficiency": (allowed.efficiency, None),
    }[what]
    lower, upper = (None if one is None else guaranteed * (1 + one / 100) for one in (least, most))
    unit = _UNITS_OF[what]
    ends = [f"at least {plain(lower)}"] if lower is not None else []
    ends += [f"at most {plain(upper)}"] if upper is not None else []
    words = f"{what.capitalize()} after grade {grade} of {plain(guaranteed)} {unit}: {' and '.join(ends)} {unit}."
    return ResolvedLimits(lower, upper, unit, words, ISO_9906)
