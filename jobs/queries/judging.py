"""Readings judged: the calculations' errors become refusals that name the field. Nothing is written here."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Context, Decimal
from typing import Any

from assets.calculations.units import UnitMismatch, UnknownUnit, alike_units, si_value
from assets.calculations.written_units import unit_written
from jobs.calculations.doubtful_readings import Doubt, doubts, likely_units, spoken
from jobs.calculations.evaluation import Evaluated, Tool, ToolUnfit, evaluate
from jobs.calculations.evaluation_rules import SetUpUnusable, arranged, completed, places_of, reading_unit, rule_named
from jobs.calculations.given_values import in_their_units
from jobs.calculations.readings import ReadingsUnusable
from jobs.calculations.verdict import Verdict, judge
from jobs.models import Instrument, JobCharacteristic
from jobs.refusals import InstrumentUnfit, ReadingUnusable

MICRO, NANO, PICO = Decimal("0.000001"), Decimal("1e-9"), Decimal("1e-12")
TOO_LARGE = Decimal(10) ** 12
# Wide enough to write whatever a line of a budget may come to.
_WIDE = Context(prec=80)


@dataclass(frozen=True)
class Asked:
    """What is judged: the rule with its set-up, and limits in ``unit``."""

    name: str
    rule: str
    readings: int
    set_up: Mapping[str, Any]
    unit: str
    lower: Decimal | None
    upper: Decimal | None
    decision_rule: str

    @classmethod
    def of(cls, asked: JobCharacteristic) -> "Asked":
        """As it stands in a job."""
        one = asked.characteristic
        return cls(
            one.name, one.rule, one.readings, one.set_up, asked.unit, asked.lower, asked.upper, one.decision_rule
        )


@dataclass(frozen=True)
class Judged:
    """A judgement, and the questions that the readings raise."""

    evaluated: Evaluated
    verdict: Verdict
    columns: dict[str, Any]
    doubts: list[Doubt]


def tool_of(instrument: Instrument) -> Tool:
    """An instrument's figures."""
    return Tool(
        number=instrument.number,
        unit=instrument.unit,
        range_from=instrument.range_from,
        range_to=instrument.range_to,
        resolution=instrument.resolution,
        expanded_uncertainty=instrument.expanded_uncertainty,
    )


def judge_readings(
    asked: Asked,
    *,
    tools: Sequence[Tool],
    overdue: Sequence[str],
    readings: Any,
    unit: str,
    given: Mapping[str, Any],
) -> Judged:
    """The verdict on readings in ``unit``; ``overdue`` names instruments that were overdue for calibration.

    ``columns`` are what a measurement keeps of it. Raises `ReadingUnusable`, `InstrumentUnfit`.
    """
    try:
        return _judged(asked, tools, overdue, readings, unit, given)
    except ArithmeticError as error:
        raise _too_large() from error


def _judged(
    asked: Asked, tools: Sequence[Tool], overdue: Sequence[str], readings: Any, unit: str, given: Mapping[str, Any]
) -> Judged:
    unit = unit_as_kept(unit)
    evaluated = _evaluated(asked, tools, readings, unit, given)
    value, budget = evaluated.value.quantize(MICRO), evaluated.budget
    expanded = budget.expanded.quantize(MICRO)
    value_si = si_value(value, asked.unit)
    if max(abs(value), abs(value_si), expanded) >= TOO_LARGE:
        raise _too_large()
    verdict = judge(
        value=value,
        expanded_uncertainty=expanded,
        lower=asked.lower,
        upper=asked.upper,
        decision_rule=asked.decision_rule,
        instrument_overdue=bool(overdue),
        unit=asked.unit,
    )
    late = f"{' and '.join(overdue)}: " if overdue else ""
    reasons = [
        {"code": one.code, "sentence": late + one.sentence if one.code == "calibration-overdue" else one.sentence}
        for one in verdict.reasons
    ]
    columns = {
        "readings": readings_kept(asked.rule, asked.set_up, evaluated.groups),
        "rule": asked.rule,
        "given": _texts(evaluated.given),
        "results": [
            {"name": one.name, "value": _plain(one.value, MICRO), "unit": one.unit, "words": one.words}
            for one in evaluated.results
        ],
        "unit": unit,
        "value": value,
        "value_si": value_si.quantize(PICO),
        "expanded_uncertainty": expanded,
        "coverage_factor": budget.coverage_factor,
        "degrees_of_freedom": None
        if budget.degrees_of_freedom is None
        else budget.degrees_of_freedom.quantize(Decimal("0.1")),
        "decision_rule": asked.decision_rule,
        "lower": asked.lower,
        "upper": asked.upper,
        "limits_unit": asked.unit,
        "verdict": verdict.result,
        "room_left": None if verdict.room_left is None else verdict.room_left.quantize(MICRO),
        "room_to_limit": None if verdict.room_to_limit is None else verdict.room_to_limit.quantize(MICRO),
        "reasons": reasons,
        "budget": _lines(evaluated, asked.unit),
    }
    questions = doubts(
        rule=asked.rule,
        groups=evaluated.groups,
        unit=unit,
        value=value,
        value_unit=asked.unit,
        lower=asked.lower,
        upper=asked.upper,
        given=evaluated.given,
    )
    return Judged(evaluated, verdict, columns, questions)


def _evaluated(asked: Asked, tools: Sequence[Tool], readings: Any, unit: str, given: Mapping[str, Any]) -> Evaluated:
    try:
        return evaluate(
            rule=asked.rule,
            count=asked.readings,
            set_up=asked.set_up,
            given=in_their_units(given),
            readings=readings,
            unit=unit,
            value_unit=asked.unit,
            tools=tools,
        )
    except ReadingsUnusable as error:
        raise ReadingUnusable(
            f"{asked.name}: {error}", remedy="Send all readings of one measurement, or read again.",
            pointer=f"#/readings{error.place}",
        ) from error  # fmt: skip
    except SetUpUnusable as error:
        raise ReadingUnusable(
            f"{asked.name}: {error}", remedy="Correct the value named, or send it.", pointer=f"#/given/{error.place}"
        ) from error
    except ToolUnfit as error:
        raise InstrumentUnfit(
            str(error),
            remedy=f"Check the reading and its unit{_perhaps(unit)}, or choose an instrument with that range.",
            pointer="#/instrument" if error.place is None else f"#/readings{error.place}",
        ) from error
    except UnknownUnit as error:
        raise ReadingUnusable(
            f"{unit[:20]!r} is no unit known here.", remedy=_would_do(asked), pointer="#/unit"
        ) from error
    except UnitMismatch as error:
        raise ReadingUnusable(str(error), remedy=_would_do(asked), pointer="#/unit") from error


def unit_as_kept(unit: str) -> str:
    """The usual name of a unit as somebody wrote it; one that is not known stays as it came and is refused later."""
    try:
        return unit_written(unit)
    except UnknownUnit:
        return unit


def _would_do(asked: Asked) -> str:
    wanted = reading_unit(asked.rule, asked.unit)
    *others, last = ["", *(one for one in alike_units(wanted) if one != wanted)]
    listed = f": {', '.join(others[1:])} or {last}" if len(others) > 1 else f": {last}" if last else ""
    return f"Send the readings in {wanted} or a unit of the same kind{listed}."


def _too_large() -> ReadingUnusable:
    return ReadingUnusable(
        "The value or its uncertainty is too large to be kept.",
        remedy="Check readings, units and distances.",
        pointer="#/readings",
    )


def _perhaps(unit: str) -> str:
    others = [spoken(one) for one in likely_units(unit)]
    return f" (was it read in {' or '.join(others)}?)" if others else ""


def readings_kept(rule: str, set_up: Mapping[str, Any], groups: Mapping[str, Sequence[Decimal]]) -> Any:
    """Readings as a measurement keeps them: texts in a list, or by the names of groups and places."""
    found: dict[str, Any] = {}
    for group in rule_named(rule).groups:
        texts, places = [f"{one:f}" for one in groups[group.name]], places_of(group, set_up)
        found[group.name] = dict(zip(places, texts, strict=True)) if places else texts
    return found.get("", found)


def same_as_kept(
    asked: Asked, kept: Any, kept_given: Mapping[str, Any], readings: Any, given: Mapping[str, Any]
) -> bool:
    """Whether readings say what a measurement keeps already."""
    try:
        sent = readings_kept(asked.rule, asked.set_up, arranged(asked.rule, asked.readings, asked.set_up, readings))
        known = _texts(completed(asked.rule, asked.set_up, in_their_units(given)))
    except (ReadingsUnusable, SetUpUnusable):
        return False
    return _alike(sent, kept) and _alike(known, dict(kept_given))


def _alike(one: Any, other: Any) -> bool:
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(_alike(one[name], other[name]) for name in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_alike, one, other))
    try:
        return Decimal(str(one)) == Decimal(str(other))
    except ArithmeticError:
        return bool(one == other)


def _lines(evaluated: Evaluated, unit: str) -> list[dict[str, Any]]:
    return [
        {
            "name": one.name,
            "of": one.of,
            "standard_uncertainty": _plain(one.standard, PICO),
            "unit": one.unit,
            "sensitivity": _plain(one.sensitivity, NANO),
            "contribution": _plain(one.amount, NANO),
            "contribution_unit": unit,
            "degrees_of_freedom": None if one.degrees_of_freedom is None else str(one.degrees_of_freedom),
            "words": one.words,
        }
        for one in evaluated.budget.lines
    ]


def _texts(known: Mapping[str, Decimal | str]) -> dict[str, str]:
    return {name: f"{one:f}" if isinstance(one, Decimal) else str(one) for name, one in known.items()}


def _plain(value: Decimal, step: Decimal) -> str:
    return f"{value.quantize(step, context=_WIDE).normalize(_WIDE):f}"
