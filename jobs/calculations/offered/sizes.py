"""Limits, fits and bearing seats as they are offered."""

from decimal import Decimal

from jobs.calculations.limits_and_fits import (
    MICROMETRES_PER_MM,
    Deviations,
    Fit,
    SizeOutsideTable,
    UnknownToleranceClass,
    bearing_bore,
    bearing_outside,
    confidence,
    deviations,
    fit,
    parse_class,
    standard_tolerance,
)
from jobs.calculations.offered.declared import (
    LOCAL_RULES,
    MEMORY,
    Calculation,
    InputWrong,
    Outcome,
    Output,
    Source,
    blames,
    of,
    quantity,
    text,
)
from jobs.calculations.written_limits import legible

FAMILY = "limits and fits"
# How far a measured size may lie off its nominal one before it is another part's (common practice, no source).
_BELONGS = Decimal("0.05")
ISO_286 = Source("ISO 286-1", "2010", "tables 1 to 5 and 4.3.2", "told with each answer")
ISO_492 = Source("ISO 492", "2014", "normal class, radial bearings except tapered roller bearings", MEMORY)
_SIZE = quantity("nominal", "mm", "3.001", "500", "Nominal size; a size on the end of a band belongs to the band.")
_SHAFT = text("shaft_class", "Tolerance class of the shaft, such as k5.")
_HOLE = text("hole_class", "Tolerance class of the hole, such as H7.")
_DRAWING = "The drawing of the part rules; usual seats are only a habit."
_MEAN = "The tolerance of a bearing holds for the mean of its bore or outside diameter, not for one reading."
_CLASSES = (
    "Letters a to h, j, js, k, m, n, p, r, s, t, u, x, z of shafts and in capitals of holes, IT4 to IT14 where the "
    "standard gives them."
)


def _class(name: str, written: str, size: Decimal, *, hole: bool) -> tuple[Deviations, Source]:
    with blames(name, UnknownToleranceClass):
        letter, _ = parse_class(written)
        sure = confidence(size, written)
    if letter.isupper() != hole:
        raise InputWrong(name, f"{written} is {'a shaft' if hole else 'a hole'}.", "Shafts are small letters.")
    with blames("nominal", SizeOutsideTable), blames(name, UnknownToleranceClass):
        found = deviations(size, written)
    return found, Source("ISO 286-1", "2010", f"{written} at {legible(size)} mm", sure)


def _limits(*, nominal: Decimal, tolerance_class: str) -> Outcome:
    with blames("tolerance_class", UnknownToleranceClass):
        letter, grade = parse_class(tolerance_class)
    found, source = _class("tolerance_class", tolerance_class, nominal, hole=letter.isupper())
    smallest, largest = found.sizes(nominal)
    at = legible(nominal)
    return Outcome(
        {
            "upper_deviation": found.upper_um,
            "lower_deviation": found.lower_um,
            "tolerance": standard_tolerance(nominal, grade),
            "smallest": smallest,
            "largest": largest,
        },
        f"{at} {tolerance_class}: {_to_the_micrometre(smallest)} to {_to_the_micrometre(largest)} mm.",
        (source,),
    )


def _to_the_micrometre(size: Decimal) -> str:
    """A limit of size as drawings write it, 50.000; half micrometres of js and JS are kept."""
    thousandths = size.quantize(Decimal("0.001"))
    return f"{thousandths:f}" if thousandths == size else legible(size)


def _interference(found: Fit) -> dict[str, object]:
    return {
        "kind": found.kind,
        "smallest_interference": found.smallest_interference_um,
        "largest_interference": found.largest_interference_um,
    }


def _fit(*, nominal: Decimal, hole_class: str, shaft_class: str) -> Outcome:
    hole, of_hole = _class("hole_class", hole_class, nominal, hole=True)
    shaft, of_shaft = _class("shaft_class", shaft_class, nominal, hole=False)
    found = fit(hole, shaft)
    words = f"{legible(nominal)} {hole_class}/{shaft_class}. {found.words()}"
    return Outcome(_interference(found), words, (of_hole, of_shaft))


def _on_shaft(
    *, nominal: Decimal, shaft_class: str, measured_shaft: Decimal | None, measured_bore: Decimal | None
) -> Outcome:
    with blames("nominal", SizeOutsideTable):
        ring = bearing_bore(nominal)
    shaft, source = _class("shaft_class", shaft_class, nominal, hole=False)
    found = fit(ring, shaft)
    values, words = _interference(found), f"Bearing of {legible(nominal)} mm on {shaft_class}. {found.words()}"
    for name, measured in (("measured_shaft", measured_shaft), ("measured_bore", measured_bore)):
        if measured is not None and abs(measured - nominal) > _BELONGS * nominal:
            raise InputWrong(name, f"{legible(measured)} mm does not belong to this nominal size.", "Check its unit.")
    if (measured_shaft is None) != (measured_bore is None):
        missing = "measured_shaft" if measured_shaft is None else "measured_bore"
        raise InputWrong(missing, "Two measured diameters make an interference.", "Give both, or neither.")
    if measured_shaft is not None and measured_bore is not None:
        interference = (measured_shaft - measured_bore) * MICROMETRES_PER_MM
        values["measured_interference"] = interference
        words += " " + _measured(interference, found)
    return Outcome(values, words, (source,))


def _in_housing(*, nominal: Decimal, hole_class: str) -> Outcome:
    with blames("nominal", SizeOutsideTable):
        ring = bearing_outside(nominal)
    housing, source = _class("hole_class", hole_class, nominal, hole=True)
    found = fit(housing, ring)
    words = f"Bearing of {legible(nominal)} mm outside in {hole_class}. {found.words()}"
    return Outcome(_interference(found), words, (source,))


def _measured(interference: Decimal, found: Fit) -> str:
    where = "inside what the class allows"
    if interference > found.largest_interference_um:
        where = "tighter than the class allows"
    elif interference < found.smallest_interference_um:
        where = "looser than the class allows"
    # To a tenth of a micrometre: finer than what a workshop reads.
    return f"As measured {round(interference, 1).normalize():+f} µm, {where}."


_FIT_OUTPUTS = (
    Output("kind", "Clearance, transition or interference fit."),
    Output("smallest_interference", "Where all is at its loosest; negative is clearance.", "um", 1),
    Output("largest_interference", "Where all is at its tightest; negative is clearance.", "um", 1),
)

CALCULATIONS = (
    Calculation(
        name="limits-of-size",
        title="Limits of size of a tolerance class",
        family=FAMILY,
        formula="largest = nominal + upper deviation, smallest = nominal + lower deviation",
        inputs=(_SIZE, text("tolerance_class", f"Tolerance class, a shaft like k5 or a hole like H7. {_CLASSES}")),
        outputs=(
            Output("upper_deviation", "Upper limit deviation.", "um", 1),
            Output("lower_deviation", "Lower limit deviation.", "um", 1),
            Output("tolerance", "Standard tolerance of the grade.", "um", 1),
            Output("smallest", "Smallest size.", "mm", 4),
            Output("largest", "Largest size.", "mm", 4),
        ),
        sources=(ISO_286,),
        cautions=(_DRAWING,),
        example={"nominal": of("50", "mm"), "tolerance_class": "k5"},
        perform=_limits,
    ),
    Calculation(
        name="fit",
        title="Fit of a shaft in a hole",
        family=FAMILY,
        formula="largest interference = es - EI, smallest interference = ei - ES",
        inputs=(_SIZE, _HOLE, _SHAFT),
        outputs=_FIT_OUTPUTS,
        sources=(ISO_286,),
        cautions=(_DRAWING,),
        example={"nominal": of("50", "mm"), "hole_class": "H7", "shaft_class": "k6"},
        perform=_fit,
    ),
    Calculation(
        name="bearing-on-shaft",
        title="Seat of a bearing's inner ring on its shaft",
        family=FAMILY,
        formula="largest interference = es - lower bore deviation, smallest interference = ei - upper bore deviation",
        inputs=(
            _SIZE,
            _SHAFT,
            quantity("measured_shaft", "mm", "1", "600", "Shaft as measured, at 20 °C.", optional=True),
            quantity("measured_bore", "mm", "1", "600", "Mean bore as measured, at 20 °C.", optional=True),
        ),
        outputs=(*_FIT_OUTPUTS, Output("measured_interference", "Measured shaft less measured bore.", "um", 1)),
        sources=(ISO_286, ISO_492),
        cautions=(_DRAWING, _MEAN, LOCAL_RULES),
        example={
            "nominal": of("50", "mm"),
            "shaft_class": "k5",
            "measured_shaft": of("50.011", "mm"),
            "measured_bore": of("49.994", "mm"),
        },
        perform=_on_shaft,
    ),
    Calculation(
        name="bearing-in-housing",
        title="Seat of a bearing's outer ring in its housing",
        family=FAMILY,
        formula="largest interference = upper outside deviation - EI, smallest = lower outside deviation - ES",
        inputs=(_SIZE, _HOLE),
        outputs=_FIT_OUTPUTS,
        sources=(ISO_286, Source("ISO 492", "2014", "normal class, mean outside diameter", MEMORY)),
        cautions=(_DRAWING, _MEAN, LOCAL_RULES),
        example={"nominal": of("90", "mm"), "hole_class": "H7"},
        perform=_in_housing,
    ),
)
