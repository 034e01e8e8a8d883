"""Vibration, balance and alignment as they are offered."""

from decimal import Decimal

from jobs.calculations.alignment_tolerances import (
    SOFT_FOOT_MM,
    TABLE,
    AlignmentUnknown,
    alignment_tolerance,
    finding,
)
from jobs.calculations.offered.declared import (
    LOCAL_RULES,
    MEMORY,
    PHYSICS,
    PRACTICE,
    RULE_OF_THE_SHOP,
    Calculation,
    InputWrong,
    Outcome,
    Output,
    Source,
    blames,
    choice,
    of,
    quantity,
)
from jobs.calculations.unbalance import GRADES, UnbalanceUnknown, mass_at, residual_unbalance
from jobs.calculations.vibration import CATEGORIES, OutsideScope, displacement, warnings, zone_end, zone_of
from jobs.calculations.written_limits import legible

FAMILY = "running"
_ZONES = {
    "A": "as of a newly commissioned pump",
    "B": "long-term running without restriction",
    "C": "limited running until it can be mended",
    "D": "damage must be expected",
}


def _zone(*, velocity: Decimal, power: Decimal, category: str) -> Outcome:
    with blames("power", OutsideScope):
        zone, levels = zone_of(velocity, category, power), warnings(category, power)
        ends = {f"end_of_{one.lower()}": zone_end(one, category, power) for one in "ABC"}
    words = f"Zone {zone}: {_ZONES[zone]}."
    if velocity >= levels.trip:
        words += f" At or above the trip value of {levels.trip} mm/s: stop the pump."
    elif velocity >= levels.alarm:
        words += f" At or above the alarm value of {levels.alarm} mm/s."
    return Outcome({"zone": zone, "alarm": levels.alarm, "trip": levels.trip, **ends}, words)


def _displacement(*, velocity: Decimal, speed: Decimal) -> Outcome:
    found = displacement(velocity, speed)
    return Outcome({"peak_to_peak": found}, f"{found:.1f} µm peak to peak, were all of it at once per turn.")


def _unbalance(
    *,
    grade: str,
    mass: Decimal,
    speed: Decimal,
    a: Decimal | None,
    b: Decimal | None,
    radius: Decimal | None,
) -> Outcome:
    if (a is None) != (b is None):
        raise InputWrong("a" if a is None else "b", "The split needs both distances.", "Give both, or neither.")
    with blames("speed" if a is None else "a", UnbalanceUnknown):
        found = residual_unbalance(grade=grade, mass_kg=mass, speed_rpm=speed, a_mm=a, b_mm=b)
    grams = None if radius is None else mass_at(found.plane_a_g_mm, radius)
    words = (
        f"G {grade}: {found.total_g_mm:.1f} g·mm in all, {found.plane_a_g_mm:.1f} in plane A and "
        f"{found.plane_b_g_mm:.1f} in plane B."
    )
    if grams is not None and radius is not None:
        words += f" In plane A that is {grams:.2f} g at {legible(radius)} mm."
    return Outcome(
        {
            "eccentricity": found.eccentricity_um,
            "total": found.total_g_mm,
            "plane_a": found.plane_a_g_mm,
            "plane_b": found.plane_b_g_mm,
            "mass_in_plane_a": grams,
            "api_610_plane_a": found.api_610_plane_a_g_mm,
            "api_610_plane_b": found.api_610_plane_b_g_mm,
        },
        words,
    )


def _alignment(
    *,
    speed: Decimal,
    offset: Decimal | None,
    gap: Decimal | None,
    diameter: Decimal | None,
    spacer: Decimal | None,
    soft_foot: Decimal | None,
) -> Outcome:
    with blames("speed", AlignmentUnknown):
        tolerance = alignment_tolerance(speed)
    if gap is not None and diameter is None:
        raise InputWrong("diameter", "A gap counts by the diameter it was measured on.", "Give that diameter.")
    gap_of_100 = None if gap is None or diameter is None else gap * 100 / diameter
    found = {
        "offset_finding": None if offset is None else finding(offset, tolerance.offset_mm),
        "gap_finding": None if gap_of_100 is None else finding(gap_of_100, tolerance.gap_mm),
    }
    offset_words = f"an offset of {tolerance.offset_mm[0]} mm is acceptable, {tolerance.offset_mm[1]} mm excellent"
    gap_words = f"a gap of {tolerance.gap_mm[0]} and {tolerance.gap_mm[1]} mm for each 100 mm of diameter"
    words = [f"Up to {tolerance.up_to_rpm} rpm {offset_words}; {gap_words}."]
    words += [f"Offset {found['offset_finding']}."] if found["offset_finding"] else []
    words += [f"Gap {found['gap_finding']}."] if found["gap_finding"] else []
    lifted = None if soft_foot is None else abs(soft_foot) <= SOFT_FOOT_MM
    if lifted is not None:
        words.append("The feet stand." if lifted else "Soft foot: shim before aligning.")
    between = None if spacer is None else tuple(one * spacer / 100 for one in tolerance.spacer_mm)
    return Outcome(
        {
            "offset_acceptable": tolerance.offset_mm[0],
            "offset_excellent": tolerance.offset_mm[1],
            "gap_acceptable": tolerance.gap_mm[0],
            "gap_excellent": tolerance.gap_mm[1],
            "spacer_acceptable": between[0] if between else None,
            "spacer_excellent": between[1] if between else None,
            "soft_foot": SOFT_FOOT_MM,
            "soft_foot_within": lifted,
            **found,
        },
        " ".join(words),
    )


_SPEED = quantity("speed", "rpm", "1", "100000", "Speed.")

CALCULATIONS = (
    Calculation(
        name="vibration-zone",
        title="Vibration zone of a pump",
        family=FAMILY,
        formula="looked up by category and power; a value on the end of a zone belongs to it",
        inputs=(
            quantity("velocity", "mm/s", "0", "1000", "Velocity r.m.s. on the bearing housing, 10 to 1000 Hz."),
            quantity("power", "kW", "1", "100000", "Rated power at the shaft, above 1 kW."),
            choice("category", CATEGORIES, "I: high demands on reliability or safety; II: general use."),
        ),
        outputs=(
            Output("zone", "A, B, C or D."),
            Output("end_of_a", "Largest velocity of zone A.", "mm/s", 1),
            Output("end_of_b", "Largest velocity of zone B.", "mm/s", 1),
            Output("end_of_c", "Largest velocity of zone C.", "mm/s", 1),
            Output("alarm", "Give alarm at this velocity.", "mm/s", 1),
            Output("trip", "Stop at this velocity.", "mm/s", 1),
        ),
        sources=(
            Source("ISO 10816-7", "2009", "table 1 and operational limits", MEMORY),
            Source("which zone a boundary belongs to", "", "", PRACTICE),
        ),
        cautions=(
            "For pumps above 1 kW with at least three vanes. A zone is no diagnosis: look for what changed.",
            "Measure at a steady flow that the pump is built for: far from its best one a sound pump vibrates more.",
            "Never reach over a running shaft to measure; guards stay on.",
            LOCAL_RULES,
        ),
        example={"velocity": of("3.6", "mm/s"), "power": of("15", "kW"), "category": "I"},
        perform=_zone,
    ),
    Calculation(
        name="vibration-displacement",
        title="Displacement of a vibration once per turn",
        family=FAMILY,
        formula="s = 2 sqrt(2) v / (2 pi n / 60), peak to peak",
        inputs=(quantity("velocity", "mm/s", "0", "1000", "Velocity r.m.s., all at the speed of rotation."), _SPEED),
        outputs=(Output("peak_to_peak", "Displacement peak to peak.", "um", 1),),
        sources=(Source("harmonic motion", "", "", PHYSICS),),
        cautions=("Holds only where the whole vibration is at the frequency of rotation.",),
        example={"velocity": of("4.0", "mm/s"), "speed": of("2900", "rpm")},
        perform=_displacement,
    ),
    Calculation(
        name="residual-unbalance",
        title="Residual unbalance that a rotor may keep",
        family=FAMILY,
        formula="e_per = 1000 G / (2 pi n / 60); U_per = e_per m; U_A = U b/(a + b), 0.3 to 0.7 of U, else half",
        inputs=(
            choice("grade", GRADES, "Balance grade G; 6.3 is usual for pumps, 2.5 for fast or multistage ones."),
            quantity("mass", "kg", "0.001", "100000", "Mass of the rotor."),
            _SPEED,
            quantity("a", "mm", "0", "10000", "Plane A to the centre of mass, between the planes.", optional=True),
            quantity("b", "mm", "0", "10000", "Plane B to the centre of mass.", optional=True),
            quantity("radius", "mm", "1", "2000", "Radius at which mass is taken off or added.", optional=True),
        ),
        outputs=(
            Output("eccentricity", "Permissible specific unbalance e_per.", "um", 2),
            Output("total", "Permissible residual unbalance U_per.", "g*mm", 1),
            Output("plane_a", "For plane A.", "g*mm", 1),
            Output("plane_b", "For plane B.", "g*mm", 1),
            Output("mass_in_plane_a", "Grams at the radius that make as much in plane A.", "g", 2),
            Output(
                "api_610_plane_a", "The other rule in use, for plane A: 6350 W/n, W the mass resting there.", "g*mm", 1
            ),
            Output("api_610_plane_b", "The same for plane B.", "g*mm", 1),
        ),
        sources=(
            Source("ISO 21940-11", "2016", "5.2, 5.3, clause 7 and table 1", MEMORY),
            Source("API 610", "", "6350 W/n for each plane, W the mass that rests on its bearing", MEMORY),
        ),
        cautions=(
            "For rigid rotors with the centre of mass between the planes; overhung rotors are split by another rule.",
            "A grade is of the rotor, not of the vibration of the pump.",
        ),
        example={
            "grade": "6.3",
            "mass": of("8", "kg"),
            "speed": of("2900", "rpm"),
            "radius": of("90", "mm"),
        },
        perform=_unbalance,
    ),
    Calculation(
        name="alignment-tolerance",
        title="Alignment tolerance of a flexible coupling",
        family=FAMILY,
        formula=f"looked up by speed ({TABLE}); between two rows the stricter counts; a spacer by its length / 100 mm",
        inputs=(
            quantity("speed", "rpm", "1", "6000", "Speed of the shaft."),
            quantity("offset", "mm", "-10", "10", "Offset between the axes as measured.", optional=True),
            quantity("gap", "mm", "-10", "10", "Difference of the gap across the hub as measured.", optional=True),
            quantity("diameter", "mm", "20", "2000", "Diameter on which the gap was measured.", optional=True),
            quantity("spacer", "mm", "20", "5000", "Length of the spacer where there is one.", optional=True),
            quantity("soft_foot", "mm", "-10", "10", "Lift of a foot when its screw is loosened.", optional=True),
        ),
        outputs=(
            Output("offset_acceptable", "Offset that is acceptable.", "mm", 3),
            Output("offset_excellent", "Offset that is excellent.", "mm", 3),
            Output("gap_acceptable", "Gap for each 100 mm of diameter, acceptable.", "mm", 3),
            Output("gap_excellent", "Gap for each 100 mm of diameter, excellent.", "mm", 3),
            Output("spacer_acceptable", "Over this spacer, acceptable.", "mm", 3),
            Output("spacer_excellent", "Over this spacer, excellent.", "mm", 3),
            Output("soft_foot", "Lift that is allowed.", "mm", 3),
            Output("soft_foot_within", "Whether the foot stands."),
            Output("offset_finding", "excellent, acceptable or not acceptable."),
            Output("gap_finding", "excellent, acceptable or not acceptable."),
        ),
        sources=(RULE_OF_THE_SHOP,),
        cautions=(
            "Tables in use differ by a third and more; keep with a verdict which one it was made by.",
            "Isolate, lock and tag the drive before a guard comes off; refit the guard before power returns.",
            "Aligned cold, a hot pump grows: aim for the offsets that the maker states.",
            LOCAL_RULES,
        ),
        example={
            "speed": of("3000", "rpm"),
            "offset": of("0.05", "mm"),
            "gap": of("0.03", "mm"),
            "diameter": of("100", "mm"),
        },
        perform=_alignment,
    ),
)
