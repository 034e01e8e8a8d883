"""From what was read to the value that is judged, where all readings are of one kind; and readings put in order."""

import re
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal, InvalidOperation
from typing import Any

MOST_READINGS = 200
# Up to twelve places before the point and six after it, as measurements keep them.
_WRITTEN = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,2})?", re.ASCII)
_LARGEST, _FINEST, _LONGEST = 11, -6, 40


class ReadingsUnusable(ValueError):
    """These readings give no value by this rule. ``place`` points into them: empty for all, else like ``/rim/top``."""

    def __init__(self, sentence: str, place: str = "") -> None:
        super().__init__(sentence)
        self.place = place


def value_of(readings: Sequence[Decimal], rule: str) -> Decimal:
    """The value that readings of one unit stand for, in that unit.

    ``single`` takes the one reading; ``mean``, ``max`` and ``min`` say themselves; ``range`` and ``ovality`` are the
    largest less the smallest, of anything and of diameters round one section. ``total-indicator-reading`` is the full
    swing of an indicator over one turn (full indicator movement in ISO 1101): of several readings round the turn it is
    their range; one reading alone is the swing as read off the dial, which cannot be negative. ``eccentricity`` is half
    of that swing.

    Raises `ReadingsUnusable`.
    """
    if rule not in SIMPLE:
        raise ReadingsUnusable(f"{rule!r} is no rule for readings alike; known: {', '.join(SIMPLE)}.")
    if not readings:
        raise ReadingsUnusable("There is no reading.")
    for place, one in enumerate(readings):
        if not one.is_finite():
            raise ReadingsUnusable("A reading is not a number.", f"/{place}")
    return SIMPLE[rule](readings)


def _single(readings: Sequence[Decimal]) -> Decimal:
    if len(readings) != 1:
        raise ReadingsUnusable(f"One reading is judged by itself; {len(readings)} came.")
    return readings[0]


def mean(readings: Sequence[Decimal]) -> Decimal:
    """The mean of one or more readings."""
    return sum(readings, Decimal(0)) / len(readings)


def _range(readings: Sequence[Decimal]) -> Decimal:
    if len(readings) == 1:
        raise ReadingsUnusable("A range takes at least two readings.")
    return max(readings) - min(readings)


def _swing(readings: Sequence[Decimal]) -> Decimal:
    if len(readings) > 1:
        return max(readings) - min(readings)
    if readings[0] < 0:
        raise ReadingsUnusable("The full swing of an indicator cannot be negative; read largest less smallest.")
    return readings[0]


def _eccentricity(readings: Sequence[Decimal]) -> Decimal:
    return _swing(readings) / 2


SIMPLE: dict[str, Callable[[Sequence[Decimal]], Decimal]] = {
    "single": _single,
    "mean": mean,
    "max": max,
    "min": min,
    "range": _range,
    "total-indicator-reading": _swing,
    "eccentricity": _eccentricity,
    "ovality": _range,
}
# Rules that ask for more than readings alike: see jobs/calculations/evaluation_rules.
RULES = (*SIMPLE, "light-bands", "diameter", "diametral-clearance", "taper", "rim-and-face", "reverse-indicator")


def number_read(text: str) -> Decimal | None:
    """A reading as a device or a person writes it, with the places that were read; None where it is no plain number or
    has more places than a measurement keeps."""
    stripped = text.strip()
    if len(stripped) > _LONGEST or not _WRITTEN.fullmatch(stripped):
        return None
    number = Decimal(stripped)
    fine = number.as_tuple().exponent
    return number if isinstance(fine, int) and fine >= _FINEST and number.adjusted() <= _LARGEST else None


def in_order(raw: Any, places: Sequence[str], count: int, place: str = "") -> tuple[Decimal, ...]:
    """Readings of one group in the order they are asked for: a list, one number, or a mapping by name of the place.

    Raises `ReadingsUnusable` where there are not ``count`` of them, one is not asked for, or one is no number.
    """
    if isinstance(raw, Mapping):
        if not places:
            raise ReadingsUnusable("These readings have no names; send them as a list.", place)
        for name in raw:
            if name not in places:
                raise ReadingsUnusable(f"{str(name)[:40]!r} is not read here; {', '.join(places)} are.", place)
        for name in places:
            if name not in raw:
                raise ReadingsUnusable(f"The reading at {name} is missing.", f"{place}/{name}")
        return tuple(_number(raw[name], f"{place}/{name}") for name in places)
    rows = list(raw) if isinstance(raw, (list, tuple)) else [raw]
    if len(rows) != count:
        order = f" in the order {', '.join(places)}" if places else ""
        asked = f"{count} readings are" if count != 1 else "One reading is"
        raise ReadingsUnusable(f"{asked} asked for{order}; {len(rows)} came.", place)
    return tuple(_number(one, f"{place}/{index}") for index, one in enumerate(rows))


def written(text: str) -> list[Decimal] | dict[str, list[Decimal]]:
    """Readings as a cell of a table holds them: ``0|0.02|0.01``, or ``bore=90.52|90.53; shaft=90.01|90.01`` by group.

    A decimal comma is taken as such. Raises `ReadingsUnusable`.
    """
    groups = {}
    for part in text.split(";"):
        name, found, rows = part.rpartition("=")
        if bool(found) != ("=" in text) or name.strip() in groups:
            raise ReadingsUnusable(f"{part.strip()[:40]!r} cannot be read; write name=1.2|1.3; other=1.4.")
        groups[name.strip()] = [_decimal(one) for one in rows.split("|")]
    return groups.get("", groups)


def written_values(text: str) -> dict[str, str]:
    """Values by name as a cell of a table holds them: ``bore_temperature_c=20; sag_mm=-0.04``."""
    pairs = [part.partition("=") for part in text.split(";") if part.strip()]
    return {name.strip(): value.strip().replace(",", ".") for name, _, value in pairs}


def _decimal(text: str) -> Decimal:
    try:
        number = Decimal(text.strip().replace(",", "."))
    except InvalidOperation as error:
        raise ReadingsUnusable(f"{text.strip()[:40]!r} is no number.") from error
    return _number(number, "")


def _number(value: Any, place: str) -> Decimal:
    if not isinstance(value, Decimal) or not value.is_finite():
        raise ReadingsUnusable("A reading is not a number.", place)
    return value
