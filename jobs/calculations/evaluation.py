"""Readings, set-up and instruments to a value with its uncertainty budget.

What each rule does with readings that are alike stands in `readings`; what others ask for in `evaluation_rules`. The
sensitivities are those of the formula: a difference of two readings of one instrument counts each of them once, so its
calibration and its step weigh √2; half of a difference weighs 1/√2; a mean weighs them once, since they do not become
better by repetition, while its scatter does.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from assets.calculations.units import UnitMismatch, UnknownUnit, convert
from assets.calculations.written_numbers import plain
from jobs.calculations.alignment_evaluation import reverse_indicator_values, rim_and_face_values, turns
from jobs.calculations.evaluation_rules import (
    SetUpUnusable,
    arranged,
    check_set_up,
    completed,
    reads_with_two,
    result_unit,
    rule_named,
)
from jobs.calculations.printed_quantities import unit_name
from jobs.calculations.readings import RULES, mean, value_of
from jobs.calculations.reference_temperature import EXPANSION_PER_K, Warmth, at_reference, temperature_contributions
from jobs.calculations.uncertainty import Budget, Contribution, budget, repeatability
from jobs.calculations.values_found import Found, Result, ToolFigures
from jobs.calculations.written_limits import legible

ROOT_2 = Decimal(2).sqrt()
# Sensitivity of the value to one instrument's error: one reading, or two taken from each other.
_SENSITIVITY = {
    "single": Decimal(1),
    "mean": Decimal(1),
    "max": Decimal(1),
    "min": Decimal(1),
    "range": ROOT_2,
    "ovality": ROOT_2,
    "total-indicator-reading": ROOT_2,
    "eccentricity": ROOT_2 / 2,
}


class ToolUnfit(ValueError):
    """The instrument measures something else, or a reading lies outside its range. ``place`` names the reading."""

    def __init__(self, sentence: str, place: str | None = None) -> None:
        super().__init__(sentence)
        self.place = place


@dataclass(frozen=True)
class Tool:
    """An instrument with its figures in its own unit; the expanded uncertainty is its certificate's, for k = 2."""

    number: str
    unit: str
    range_from: Decimal
    range_to: Decimal
    resolution: Decimal
    expanded_uncertainty: Decimal


@dataclass(frozen=True)
class Evaluated:
    """The value in the characteristic's unit, its budget in that unit, and what else the readings tell."""

    value: Decimal
    budget: Budget
    results: tuple[Result, ...]
    groups: Mapping[str, tuple[Decimal, ...]]
    given: Mapping[str, Decimal | str]


@dataclass(frozen=True)
class Inputs:
    """Readings by group and instruments' figures in the unit that a rule works in, and what is known besides."""

    rule: str
    groups: Mapping[str, tuple[Decimal, ...]]
    known: Mapping[str, Decimal | str]
    tools: Mapping[str, ToolFigures]
    unit: str


def evaluate(
    *,
    rule: str,
    count: int,
    set_up: Mapping[str, Any],
    given: Mapping[str, Any],
    readings: Any,
    unit: str,
    value_unit: str,
    tools: Sequence[Tool],
) -> Evaluated:
    """The value that readings in ``unit`` stand for, in ``value_unit``, with its uncertainty.

    ``tools``: the instrument, and a second one where the rule reads with two; one does for both. ``given``: what the
    set-up leaves open. Raises `ReadingsUnusable`, `SetUpUnusable`, `ToolUnfit`, `UnknownUnit`, `UnitMismatch`.
    """
    groups = arranged(rule, count, set_up, readings)
    known = completed(rule, set_up, given)
    takes = rule_named(rule).takes
    band = Decimal(known["wavelength_um"]) / 2 if takes == "count" else Decimal(1)
    working = {"length": "mm", "count": "piece"}.get(takes, value_unit)
    in_working = {name: tuple(convert(one, unit, working) * band for one in rows) for name, rows in groups.items()}
    working = "um" if takes == "count" else working
    figures = {}
    for group in rule_named(rule).groups:
        tool = tools[min(group.instrument, len(tools)) - 1]
        figures[group.name] = _figures(tool, working, band if takes == "count" else None)
        _check_range(rule, tool, group.name, groups[group.name], unit, band if takes == "count" else None)
    found = _RULES[rule](Inputs(rule, in_working, known, figures, working))
    inside = result_unit(rule, set_up) or value_unit
    factor = width(Decimal(1), inside, value_unit)
    return Evaluated(
        value=convert(found.value, inside, value_unit),
        budget=budget([one.scaled(factor) for one in found.lines]),
        results=tuple(found.results),
        groups=groups,
        given=known,
    )


def check_characteristic(rule: str, readings: int, set_up: Mapping[str, Any], unit: str) -> None:
    """Whether a characteristic can be judged by its rule, before anything is measured. Raises `SetUpUnusable`."""
    check_set_up(rule, readings, set_up)
    inside = result_unit(rule, set_up)
    if not inside:
        return
    try:
        convert(Decimal(1), inside, unit)
    except (UnknownUnit, UnitMismatch) as error:
        raise SetUpUnusable(f"The rule {rule} gives {inside}; {unit} does not measure that.", "unit") from error


def problems_of_evaluation(asked: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What is wrong with a characteristic's rule as its author writes it: place under the characteristic, and why.

    ``asked`` has ``rule`` and ``unit``, and may have ``readings``, ``set_up`` and ``second_instrument_type``.
    """
    rule, found = str(asked["rule"]), []
    try:
        check_characteristic(rule, int(asked.get("readings") or 1), asked.get("set_up") or {}, str(asked["unit"]))
    except SetUpUnusable as error:
        of_its_own = error.place in {"rule", "readings", "unit"}
        found.append((error.place if of_its_own else f"set_up/{error.place}", str(error)))
    if rule in RULES and asked.get("second_instrument_type") and not reads_with_two(rule):
        found.append(("second_instrument_type", f"The rule {rule} reads with one instrument."))
    return found


def width(amount: Decimal, from_unit: str, to_unit: str) -> Decimal:
    """A difference in another unit: the offset of temperature scales does not belong to it."""
    return convert(amount, from_unit, to_unit) - convert(Decimal(0), from_unit, to_unit)


def _figures(tool: Tool, working: str, band: Decimal | None) -> ToolFigures:
    try:
        if band is not None and tool.unit == "piece":
            return ToolFigures(tool.resolution * band, tool.expanded_uncertainty * band)
        return ToolFigures(
            width(tool.resolution, tool.unit, working), width(tool.expanded_uncertainty, tool.unit, working)
        )
    except (UnknownUnit, UnitMismatch) as error:
        raise ToolUnfit(f"{tool.number} measures in {tool.unit}, which does not fit {working}.") from error


def _check_range(rule: str, tool: Tool, name: str, rows: Sequence[Decimal], unit: str, band: Decimal | None) -> None:
    """Each reading within the range; of an indicator, whose zero is set anywhere, the travel between readings."""
    if band is None:
        low, high = convert(tool.range_from, tool.unit, unit), convert(tool.range_to, tool.unit, unit)
    else:
        each = Decimal(1) if tool.unit == "piece" else band
        low, high = (
            (one if tool.unit == "piece" else convert(one, tool.unit, "um")) / each
            for one in (tool.range_from, tool.range_to)
        )
    place, told = f"/{name}" if name else "", "bands" if band is not None else unit_name(unit)
    if rule_named(rule).indicator:
        travel = max(rows) - min(rows) if len(rows) > 1 else abs(rows[0])
        if travel > high - low:
            raise ToolUnfit(
                f"The readings span {plain(travel)} {told}, more than the travel of {tool.number}, "
                f"{legible(high - low, unit)} {told}.",
                place,
            )
        return
    for index, one in enumerate(rows):
        if not low <= one <= high:
            raise ToolUnfit(
                f"Reading {plain(one)} {told} is outside the range of {tool.number}, {legible(low, unit)} to "
                f"{legible(high, unit)} {told}.",
                f"{place}/{index}",
            )


def _alike(given: Inputs) -> Found:
    rows, unit = given.groups[""], given.unit
    lines = given.tools[""].lines(unit, _SENSITIVITY[given.rule])
    if given.rule == "mean" and len(rows) > 1:
        lines.append(repeatability(rows, unit))
    results = []
    if given.rule in {"total-indicator-reading", "eccentricity"}:
        swing = value_of(rows, "total-indicator-reading")
        results = [
            Result("total-indicator-reading", swing, unit, "full swing of the indicator"),
            Result("eccentricity", swing / 2, unit, "half of the swing"),
        ]
    return Found(value_of(rows, given.rule), lines, results)


def _light_bands(given: Inputs) -> Found:
    value = value_of(given.groups[""], "max")
    bands = value / (Decimal(given.known["wavelength_um"]) / 2)
    lines = given.tools[""].lines(given.unit, Decimal(1))
    return Found(value, lines, [Result("bands", bands, "piece", "most bands counted")])


def _diameter(given: Inputs) -> Found:
    return Found(*_size_at_reference(given, "", ""))


def _clearance(given: Inputs) -> Found:
    bore, lines, results = _size_at_reference(given, "bore", "bore_")
    shaft, more, others = _size_at_reference(given, "shaft", "shaft_")
    return Found(bore - shaft, [*lines, *(one.scaled(Decimal(-1)) for one in more)], [*results, *others])


def _size_at_reference(given: Inputs, of: str, prefix: str) -> tuple[Decimal, list[Contribution], list[Result]]:
    rows, unit, warmth = given.groups[of], given.unit, _warmth(given.known, prefix)
    as_read = mean(rows)
    value = at_reference(as_read, warmth)
    lines = given.tools[of].lines(unit, Decimal(1), of)
    if len(rows) > 1:
        lines.append(repeatability(rows, unit, of=of))
    lines += temperature_contributions(as_read, warmth, unit, of=of)
    name, what = (f"{of}-", f" of the {of}") if of else ("", "")
    results = [
        Result(f"{name}mean", as_read, unit, f"mean{what} as read"),
        Result(f"{name}correction", value - as_read, unit, f"what 20 °C makes of the mean{what}"),
    ]
    return value, lines, results


def _warmth(given: Mapping[str, Decimal | str], prefix: str) -> Warmth:
    part = Decimal(given[f"{prefix}temperature_c"])
    own = given.get(f"{prefix}expansion_per_k")
    return Warmth(
        part_c=part,
        instrument_c=Decimal(given.get(f"{prefix}instrument_temperature_c", part)),
        part_per_k=EXPANSION_PER_K[str(given[f"{prefix}material"])] if own is None else Decimal(own),
        instrument_per_k=Decimal(given[f"{prefix}instrument_expansion_per_k"]),
        temperature_half_width_k=Decimal(given["temperature_half_width_k"]),
        difference_half_width_k=Decimal(given["temperature_difference_half_width_k"]),
        expansion_half_width_per_k=Decimal(given["expansion_half_width_per_k"]),
    )


def _taper(given: Inputs) -> Found:
    first, second, unit = mean(given.groups["first_end"]), mean(given.groups["second_end"]), given.unit
    lines = given.tools["first_end"].lines(unit, ROOT_2)
    lines += [repeatability(rows, unit, of=name) for name, rows in given.groups.items() if len(rows) > 1]
    results = [
        Result("first-end-mean", first, unit, "mean at one end"),
        Result("second-end-mean", second, unit, "mean at the other end"),
    ]
    return Found(abs(first - second), lines, results)


def _rim_and_face(given: Inputs) -> Found:
    return rim_and_face_values(turns(given.groups, given.known), given.known, given.tools)


def _reverse_indicator(given: Inputs) -> Found:
    return reverse_indicator_values(turns(given.groups, given.known), given.known, given.tools)


_RULES: dict[str, Callable[[Inputs], Found]] = {
    **dict.fromkeys(_SENSITIVITY, _alike),
    "light-bands": _light_bands,
    "diameter": _diameter,
    "diametral-clearance": _clearance,
    "taper": _taper,
    "rim-and-face": _rim_and_face,
    "reverse-indicator": _reverse_indicator,
}
