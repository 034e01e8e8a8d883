"""Readings that look like another unit's: a question to whoever read them, never a verdict.

A micrometer in inches read as millimetres is 25.4 times too small, a dial in micrometres a thousand times too large.
Measured temperatures are left out: Celsius and Fahrenheit lie too close for a question worth asking; but a size is
measured in a workshop, and a part or an instrument there is rarely as warm as 68 °C. Asked where the value lies far
outside its limits and in another unit would lie within them, where one of several sizes stands out from its fellows by
such a factor, where a bore and a shaft that belong together do not, and where the temperature at which a size was
measured would be a workshop's on another scale. The thresholds are common practice, no source.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from assets.calculations.units import UnitMismatch, UnknownUnit, convert
from assets.calculations.written_numbers import plain
from jobs.calculations.evaluation_rules import rule_named
from jobs.calculations.printed_quantities import unit_name

# Units that are mistaken for each other.
_LIKELY = (
    ("mm", "um", "in", "mil"),
    ("bar", "kPa", "MPa"),
    ("mm/s", "m/s"),
    ("mm/100mm", "mm/m", "mil/in"),
)
# How many times beyond a limit counts as far, and how far beyond a limit the other unit's value may lie.
FAR_FROM_ONE_LIMIT, FAR_FROM_A_BAND, NEAR = Decimal(10), Decimal(5), Decimal("0.2")
_SLIPS = {
    Decimal("25.4"): "inches and millimetres",
    Decimal(1000): "micrometres and millimetres, or a slip of three places",
    Decimal("39.3701"): "thousandths of an inch and millimetres",
}
_AS_GOOD_AS = Decimal("0.02")
# No reading stands out by a slip where all lie closer together than this.
_SMALLEST_SLIP = min(_SLIPS) / 2


# How a unit is named in a question.
_SPOKEN = {"in": "inches", "mil": "mils", "um": "µm", "degF": "°F", "K": "kelvin", "mm/100mm": "mm per 100 mm"}
# Temperatures in degrees Celsius at which sizes are measured, and above which one is asked about.
_COLD, _WARM, _ASKED_ABOVE = Decimal(0), Decimal(40), Decimal(45)


@dataclass(frozen=True)
class Doubt:
    """``place`` points into what was sent, into the readings or what was given with them; ``sentence`` asks."""

    place: str
    sentence: str
    of: str = "readings"

    @property
    def pointer(self) -> str:
        """Where in the body."""
        return f"#/{self.of}{self.place}"


def doubts(
    *,
    rule: str,
    groups: Mapping[str, Sequence[Decimal]],
    unit: str,
    value: Decimal,
    value_unit: str,
    lower: Decimal | None,
    upper: Decimal | None,
    given: Mapping[str, Decimal | str] | None = None,
) -> list[Doubt]:
    """Questions about readings in ``unit`` whose value is told in ``value_unit``, with the limits in that unit."""
    found = []
    if rule_named(rule).sizes:
        for name, rows in groups.items():
            found += _outstanding(f"/{name}" if name else "", rows, unit)
    if rule == "diametral-clearance" and not found:
        found += _strangers(groups, unit)
    if not found and rule_named(rule).takes != "count":
        found += _misread(value, value_unit, lower, upper, unit)
    return [*found, *_another_scale(given or {})]


def likely_units(unit: str) -> list[str]:
    """Units that this one is mistaken for."""
    return [other for kind in _LIKELY if unit in kind for other in kind if other != unit]


def spoken(unit: str) -> str:
    """A unit as it is named in a question."""
    return _SPOKEN.get(unit, unit)


def _another_scale(given: Mapping[str, Decimal | str]) -> list[Doubt]:
    """Temperatures of parts and instruments that would be a workshop's in degrees Fahrenheit or in kelvin."""
    found = []
    for name, sent in given.items():
        if not name.endswith("temperature_c") or Decimal(sent) <= _ASKED_ABOVE:
            continue
        for other in ("degF", "K"):
            meant = convert(Decimal(sent), other, "degC")
            if _COLD <= meant <= _WARM:
                what = name.removesuffix("_c").replace("_", " ")
                sentence = (
                    f"{what[0].upper()}{what[1:]} {plain(Decimal(sent))} °C: was it read in {spoken(other)} "
                    f"({plain(meant.quantize(Decimal('0.1')))} °C)?"
                )
                found.append(Doubt(f"/{name}", sentence, "given"))
    return found


def _outstanding(place: str, rows: Sequence[Decimal], unit: str) -> list[Doubt]:
    """A size that stands out from the others, which agree, by the factor between two units."""
    if len(rows) < 3 or min(rows) <= 0 or max(rows) < min(rows) * _SMALLEST_SLIP:
        return []
    found = []
    for index, one in enumerate(rows):
        others = [*rows[:index], *rows[index + 1 :]]
        if len(others) < 2 or one <= 0 or min(others) <= 0 or max(others) > min(others) * (1 + _AS_GOOD_AS):
            continue
        usual = sum(others, Decimal(0)) / len(others)
        ratio = max(one, usual) / min(one, usual)
        for slip, words in _SLIPS.items():
            if abs(ratio / slip - 1) <= _AS_GOOD_AS:
                found.append(
                    Doubt(
                        f"{place}/{index}",
                        f"{plain(one)} {unit} stands beside {plain(others[0])} {unit}: were {words} mixed up?",
                    )
                )
    return found


def _strangers(groups: Mapping[str, Sequence[Decimal]], unit: str) -> list[Doubt]:
    bore, shaft = (sum(groups[name], Decimal(0)) / len(groups[name]) for name in ("bore", "shaft"))
    if bore <= 0 or shaft <= 0:
        return [Doubt("/bore" if bore <= 0 else "/shaft", "A diameter is above zero: was a dial's swing sent?")]
    if max(bore, shaft) <= 2 * min(bore, shaft):
        return []
    name = "bore" if bore < shaft else "shaft"
    return [
        Doubt(
            f"/{name}",
            f"Bore {plain(groups['bore'][0])} {unit} and shaft {plain(groups['shaft'][0])} {unit} do not belong "
            "together: was one of them read in another unit?",
        )
    ]


def _misread(value: Decimal, value_unit: str, lower: Decimal | None, upper: Decimal | None, unit: str) -> list[Doubt]:
    size = max((abs(one) for one in (lower, upper) if one is not None), default=Decimal(0))
    if not size or not value or not _far(value, lower, upper, size):
        return []
    fitting = []
    for other in likely_units(unit):
        try:
            # The value is told in a unit of its own; the same factor lies between what was read and what was meant.
            meant = value * convert(Decimal(1), other, unit)
        except (UnknownUnit, UnitMismatch):
            continue
        if _near(meant, lower, upper, size):
            fitting.append(f"{spoken(other)} ({plain(meant.quantize(Decimal('1e-6')))} {value_unit})")
    if not fitting:
        return []
    return [
        Doubt(
            "",
            f"{plain(value)} {unit_name(value_unit)} lies far outside the limits. Was it read in "
            f"{' or '.join(fitting)} instead of {unit_name(unit)}?",
        )
    ]


def _far(value: Decimal, lower: Decimal | None, upper: Decimal | None, size: Decimal) -> bool:
    if lower is not None and lower > 0:
        beyond = FAR_FROM_A_BAND if upper is not None else FAR_FROM_ONE_LIMIT
        return value < lower / beyond or (upper is not None and value > upper * beyond)
    return abs(value) > size * FAR_FROM_ONE_LIMIT


def _near(value: Decimal, lower: Decimal | None, upper: Decimal | None, size: Decimal) -> bool:
    slack = size * NEAR
    return (lower is None or value >= lower - slack) and (upper is None or value <= upper + slack)
