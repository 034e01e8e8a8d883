"""The judged result of a coupling's alignment, what it is uncertain by, and what to do under the feet.

The offset judged without naming a plane is that of both planes together, root of the sum of squares: never less than
either (common practice, no source); the same for the angularity. A plane by itself keeps its sign.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from jobs.calculations.readings import ReadingsUnusable
from jobs.calculations.shaft_alignment import Alignment, Axis, Turn, reverse_indicator, rim_and_face, shim_change
from jobs.calculations.uncertainty import Contribution, combine, rectangular
from jobs.calculations.values_found import Found, Result, ToolFigures

SLOPE_UNIT = "mm/100mm"
ZERO, ONE, HALF, HUNDRED = Decimal(0), Decimal(1), Decimal("0.5"), Decimal(100)
Known = Mapping[str, Decimal | str]


@dataclass(frozen=True)
class _Dial:
    """One dial with the sensitivity of offset and slope in a plane to one of its readings.

    ``sag_counts`` is the sign with which its bracket's sag enters the vertical plane, 0 where it does not.
    """

    name: str
    turn: Turn
    offset: Decimal
    slope: Decimal
    sag_counts: int = 0


def turns(groups: Mapping[str, tuple[Decimal, ...]], given: Known) -> dict[str, Turn]:
    """Readings as turns of the dial that close. Raises `ReadingsUnusable` where one does not."""
    found = {name: Turn(*rows) for name, rows in groups.items()}
    within = Decimal(given["closure_tolerance_mm"])
    for name, turn in found.items():
        if abs(turn.closure) > within:
            raise ReadingsUnusable(
                f"Top + bottom is {_plain(turn.top + turn.bottom)} mm and left + right "
                f"{_plain(turn.left + turn.right)} mm: they lie {_plain(abs(turn.closure))} mm apart, more than "
                f"{_plain(within)} mm. Bracket or plunger slipped, or a reading was misread: take the turn again.",
                f"/{name}",
            )
    return found


def reverse_indicator_values(found: Mapping[str, Turn], given: Known, tools: Mapping[str, ToolFigures]) -> Found:
    """Of a dial on each hub."""
    distance, sag = Decimal(given["plane_distance_mm"]), Decimal(given["sag_mm"])
    centre = Decimal(given.get("coupling_centre_mm", distance / 2))
    alignment = reverse_indicator(
        stationary=found["stationary_hub"],
        movable=found["movable_hub"],
        plane_distance_mm=distance,
        sag_stationary=sag,
        sag_movable=Decimal(given.get("movable_hub_sag_mm", sag)),
    )
    share = centre / distance
    dials = [
        _Dial("stationary_hub", found["stationary_hub"], HALF * (ONE - share), -HALF / distance, -1),
        _Dial("movable_hub", found["movable_hub"], HALF * share, HALF / distance, 1),
    ]
    planes = [("stationary-plane", ZERO), ("movable-plane", distance)]
    # Both planes lie that far off: a slope m over x gives an error of m x / A for one of the distance A.
    return _found(alignment, centre, dials, planes, given, tools, distance)


def rim_and_face_values(found: Mapping[str, Turn], given: Known, tools: Mapping[str, ToolFigures]) -> Found:
    """Of a dial on a rim and one on a face."""
    diameter, centre = Decimal(given["face_diameter_mm"]), Decimal(given["coupling_centre_mm"])
    alignment = rim_and_face(
        rim=found["rim"],
        face=found["face"],
        face_diameter_mm=diameter,
        sag=Decimal(given["sag_mm"]),
        face_sag=Decimal(given["face_sag_mm"]),
        dial_on=str(given["dial_on"]),
    )
    dials = [
        _Dial("rim", found["rim"], HALF, ZERO, 1),
        _Dial("face", found["face"], centre / diameter, ONE / diameter),
    ]
    return _found(alignment, centre, dials, [("rim-plane", ZERO)], given, tools, diameter)


def _found(
    alignment: Alignment,
    centre: Decimal,
    dials: list[_Dial],
    planes: list[tuple[str, Decimal]],
    given: Known,
    tools: Mapping[str, ToolFigures],
    base: Decimal,
) -> Found:
    judged = str(given["judged"])
    sloping = judged.endswith("angularity")
    vertical, horizontal = (
        (one.slope * HUNDRED if sloping else one.at(centre)) for one in (alignment.vertical, alignment.horizontal)
    )
    value, weights = _together(judged, vertical, horizontal)
    geometry = [
        -(one.slope / base) * (HUNDRED if sloping else centre) for one in (alignment.vertical, alignment.horizontal)
    ]
    lines: list[Contribution] = []
    sags: dict[str, Decimal] = {}
    for dial in dials:
        each = dial.slope * HUNDRED if sloping else dial.offset
        lines += _dial_lines(dial, each, weights, tools[dial.name])
        sags[dial.name] = dial.sag_counts * each * weights[0]
    lines += _sag_lines(sags, one_bracket="movable_hub_sag_mm" not in given, half_width=given["sag_half_width_mm"])
    lines.append(
        rectangular(
            "geometry",
            Decimal(given["geometry_half_width_mm"]),
            "mm",
            weights[0] * geometry[0] + weights[1] * geometry[1],
            words="of the distance or the diameter swept; half width / √3, rectangular",
        )
    )
    return Found(value, lines, _results(alignment, centre, planes, given))


def _together(judged: str, vertical: Decimal, horizontal: Decimal) -> tuple[Decimal, tuple[Decimal, Decimal]]:
    """The judged value and how much each plane weighs in it."""
    if judged.startswith("vertical"):
        return vertical, (ONE, ZERO)
    if judged.startswith("horizontal"):
        return horizontal, (ZERO, ONE)
    value = combine([vertical, horizontal])
    # At nothing the direction is open; the vertical plane counts, which has the sag besides.
    return value, (vertical / value, horizontal / value) if value else (ONE, ZERO)


def _dial_lines(dial: _Dial, each: Decimal, weights: tuple[Decimal, Decimal], tool: ToolFigures) -> list[Contribution]:
    """Two readings a plane, taken from each other; the planes do not share a reading."""
    both = abs(each) * combine(weights)
    lines = tool.lines("mm", both * Decimal(2).sqrt(), dial.name)
    lines.append(
        rectangular(
            "closure",
            abs(dial.turn.closure),
            "mm",
            both,
            of=dial.name,
            words="what the turn lacks to close, as the bound of one reading's error; half width / √3, rectangular",
        )
    )
    return lines


def _sag_lines(sags: Mapping[str, Decimal], *, one_bracket: bool, half_width: Decimal | str) -> list[Contribution]:
    """One bracket sags alike at both hubs, so that what it is off by adds or cancels; two have nothing in common."""
    entering = {"": sum(sags.values(), ZERO)} if one_bracket else sags
    return [
        rectangular(
            "sag",
            Decimal(half_width),
            "mm",
            sensitivity,
            of=name,
            words="of the bracket, at the bottom; half width / √3, rectangular",
        )
        for name, sensitivity in entering.items()
    ]


def _results(alignment: Alignment, centre: Decimal, planes: list[tuple[str, Decimal]], given: Known) -> list[Result]:
    sides = (("vertical", alignment.vertical), ("horizontal", alignment.horizontal))
    results = [
        Result("offset", combine([one.at(centre) for _, one in sides]), "mm", "both planes together, at the coupling"),
        Result("angularity", combine([one.slope * HUNDRED for _, one in sides]), SLOPE_UNIT, "both planes together"),
    ]
    for side, axis in sides:
        results.append(Result(f"{side}-offset", axis.at(centre), "mm", _where(side, axis.at(centre))))
        results.append(Result(f"{side}-angularity", axis.slope * HUNDRED, SLOPE_UNIT, "above zero: more so far away"))
        results += [Result(f"{side}-offset-{name}", axis.at(x), "mm", _where(side, axis.at(x))) for name, x in planes]
    for foot in ("front", "rear"):
        if f"{foot}_foot_mm" in given:
            results += _foot(foot, alignment.vertical, alignment.horizontal, Decimal(given[f"{foot}_foot_mm"]))
    return results


def _foot(foot: str, vertical: Axis, horizontal: Axis, x: Decimal) -> list[Result]:
    up, right = shim_change(vertical, x), shim_change(horizontal, x)
    return [
        Result(
            f"{foot}-shims", up, "mm", f"{'add' if up >= 0 else 'take away'} {_short(abs(up))} mm under the {foot} feet"
        ),
        Result(
            f"{foot}-move",
            right,
            "mm",
            f"move the {foot} feet {_short(abs(right))} mm to the {'right' if right >= 0 else 'left'}",
        ),
    ]


def _where(side: str, value: Decimal) -> str:
    if value == 0:
        return "neither way"
    high, low = ("high", "low") if side == "vertical" else ("to the right", "to the left")
    return f"the movable shaft is {high if value > 0 else low}"


def _short(value: Decimal) -> str:
    return f"{value.quantize(Decimal('0.001')).normalize():f}"


def _plain(value: Decimal) -> str:
    return f"{value.normalize():f}"
